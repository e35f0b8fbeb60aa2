"""A run from a file, one's own or somebody else's, taken into the log as if it had been watched."""

from __future__ import annotations

import re
import time
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

from rigmon.config.mapping import load_mapping
from rigmon.errors import UsageError
from rigmon.records import Mark, MarkWord, Reading, Unit, VirtualLink
from rigmon.service.prepare import Rig, header_of
from rigmon.service.replay import replay, rig_to_replay
from rigmon.store.entries import RunRow
from rigmon.store.fingerprint import fingerprint_of
from rigmon.store.foreign import read_foreign
from rigmon.store.log import RunLog
from rigmon.store.merge import Holdings
from rigmon.store.runfile import RunFile, read_run
from rigmon.store.steps import ClockRow

_RIG = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


def rig_to_import(config_path: Path | None, recipe_path: Path | None, rig_id: str | None) -> Rig:
    """The rig of a file; without a configuration an unknown one that may be given a name.

    Raises:
        UsageError: a name that no rig can have, or several rigs and none named.
        ConfigError: the configuration or the recipe cannot be read.
    """
    rig = rig_to_replay(config_path, recipe_path, rig_id, None)
    if config_path is not None or rig_id is None:
        return rig
    if not _RIG.fullmatch(rig_id):
        raise UsageError(f"{rig_id!r} cannot be a rig's name; allowed are a-z, 0-9 and -")
    return replace(rig, setup=replace(rig.setup, id=rig_id))


def read(path: Path, mapping: Path | None, rig: Rig, *, skip_bad: bool = False) -> RunFile:
    """A run file, or with a mapping somebody else's table.

    Raises:
        ConfigError: the mapping cannot be read.
        RunFileError: the file cannot be read.
    """
    if mapping is None:
        return read_run(path, rig.setup, skip_bad=skip_bad)
    return read_foreign(path, load_mapping(mapping), rig.setup, skip_bad=skip_bad)


def twin(log: RunLog, run: RunFile) -> RunRow | None:
    """The run in the log that has the content of a file, even a deleted one; None if none has.

    Raises:
        LogError: the log cannot be read.
    """
    items = [step for step in run.items if not isinstance(step, ClockRow)]
    started = run.started_unix if run.virtual else None
    return Holdings(log).same(
        len(items), lambda: fingerprint_of(items), virtual=run.virtual, started=started
    )


def take_in(log: RunLog, run: RunFile, rig: Rig) -> str:
    """Run a file through a monitor into the log; returns the id that it has there.

    Two runs of a rig that began in the same second are told apart by a number behind the id.

    Raises:
        LogError: the log cannot be written.
    """
    started = time.time() if run.started_unix is None else run.started_unix
    rig = replace(rig, link=VirtualLink()) if run.virtual else rig
    run = replace(run, started_unix=started)
    run_id = Holdings(log).free(header_of(rig, started).id)
    replay(run, rig, lambda _: None, log, run_id)
    return run_id


@dataclass(frozen=True, slots=True)
class Series:
    """What a file says of one probe.

    Args:
        probe: its name.
        unit: °C or W.
        number: how many values.
        least: the least of them.
        most: the greatest.
    """

    probe: str
    unit: Unit
    number: int
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Contents:
    """What a file holds.

    Args:
        duration_s: from its first row to its last [s].
        series: its probes.
        marks: words of its marks, in their order.
    """

    duration_s: float
    series: tuple[Series, ...]
    marks: tuple[MarkWord, ...]


def contents(run: RunFile) -> Contents:
    """What a file holds, for a maker to see whether it was understood."""
    values: dict[tuple[str, Unit], list[float]] = defaultdict(list)
    for step in run.items:
        if isinstance(step, Reading) and step.value is not None:
            values[step.probe, step.unit].append(step.value)
    times = [step.t for step in run.items]
    return Contents(
        max(times) - min(times),
        tuple(
            Series(probe, unit, len(found), min(found), max(found))
            for (probe, unit), found in values.items()
        ),
        tuple(step.word for step in run.items if isinstance(step, Mark)),
    )
