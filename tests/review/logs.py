"""Logs to look back on."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from pathlib import Path

from rigmon.config import Units, run_document
from rigmon.estimate.cloud import PRIOR
from rigmon.records import Item, Recipe, RigSetup, Said
from rigmon.service.prepare import Rig, read_config, read_recipe, rigs_of
from rigmon.service.replay import replay
from rigmon.store import RunHeader, RunLog, parse_run
from rigmon.virtual.scenario import data_folder

STARTED = 1_783_173_600.0
"""An afternoon in July 2026 [s, Unix]."""


def slip(recipe: str) -> Rig:
    """The Ferry House's rig with one of its recipes."""
    config = read_config(data_folder() / "rigs" / "slip.toml", links=False)
    (rig,) = rigs_of(config, data_folder() / "recipes" / f"{recipe}.toml")
    return rig


def watched(log: RunLog, name: str, recipe: str) -> str:
    """A recorded run watched into a log; returns its id."""
    rig = slip(recipe)
    path = data_folder() / "runs" / f"{name}.csv"

    def unheard(_said: Said) -> None:
        """Nobody listens."""

    run_id = replay(parse_run(path.read_bytes(), path.name, rig.setup), rig, unheard, log)
    assert run_id is not None
    return run_id


def recorded(name: str, setup: RigSetup) -> list[Item]:
    """What a recorded run was fed."""
    path = data_folder() / "runs" / f"{name}.csv"
    run = parse_run(path.read_bytes(), path.name, setup)
    return [item for item in run.items if not hasattr(item, "clock")]  # type: ignore[misc]


def put(
    log: RunLog,
    items: Iterable[Item],
    setup: RigSetup,
    recipe: Recipe | None,
    day: int = 0,
    *,
    ended: bool = True,
    lines: Iterable[tuple[float, str, str]] = (),
) -> str:
    """A run put into a log that nobody watched; returns its id."""
    started = STARTED + 86_400.0 * day
    moment = datetime.datetime.fromtimestamp(started, datetime.UTC)
    document = run_document(setup, recipe, PRIOR, 0, "0", Units(), moment)
    run_id = f"{setup.id}-{moment:%Y%m%dT%H%M%SZ}"
    name = recipe.name if recipe is not None else ""
    log.begin(RunHeader(run_id, setup.id, started, name, document, False, "0"))
    clock = -math.inf
    for item in items:
        log.add(run_id, item, clock)
        clock = max(clock, item.t)
    for at, kind, line in lines:
        log.say(run_id, at, kind, line)
    log.commit()
    if ended:
        log.end(run_id, max(clock, 0.0))
    return run_id


def custard() -> Recipe:
    """A recipe of the demonstration."""
    return read_recipe(data_folder() / "recipes" / "barley-custard.toml")


def copied(log: RunLog, folder: Path) -> Path:
    """A copy of a log."""
    path = folder / "copy.sqlite"
    log.vacuum_into(path)
    return path
