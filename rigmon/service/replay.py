"""A run file through the very monitor that watches live."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from rigmon.errors import UsageError
from rigmon.records import RigSetup, Said, State, VirtualLink
from rigmon.run.monitor import Monitor
from rigmon.service.logkeeper import for_the_log
from rigmon.service.memory import teach, with_memory
from rigmon.service.prepare import Rig, header_of, read_config, read_recipe, rigs_of
from rigmon.store.log import RunLog
from rigmon.store.runfile import RunFile
from rigmon.store.steps import ClockRow


def rig_to_replay(
    config_path: Path | None, recipe_path: Path | None, rig_id: str | None, seed: int | None
) -> Rig:
    """The rig that a run file belongs to; without a configuration one of which nothing is known.

    Raises:
        UsageError: the configuration has several rigs and none was named.
        ConfigError: the configuration or the recipe cannot be read.
    """
    if config_path is None:
        rig = Rig(RigSetup(), read_recipe(recipe_path) if recipe_path is not None else None)
    else:
        chosen = rigs_of(read_config(config_path, links=False), recipe_path, rig_id)
        if len(chosen) > 1:
            names = ", ".join(rig.setup.id for rig in chosen)
            raise UsageError(f"{config_path} has several rigs ({names}): say which with --rig.")
        rig = chosen[0]
    return rig if seed is None else replace(rig, seed=seed)


def replay(
    run: RunFile,
    rig: Rig,
    tell: Callable[[Said], None],
    log: RunLog | None = None,
    named: str | None = None,
) -> str | None:
    """Run a file through a monitor as fast as it goes.

    Args:
        run: the run file.
        rig: its rig.
        tell: takes what is said, in order of time.
        log: a log that keeps the run and what it teaches; what the log has learned of the rig goes
            before what the rig comes with. None keeps nothing.
        named: the id that the run is to have there; None for the usual one.

    Returns:
        The run's id in the log, None without one.
    """
    if run.virtual:
        rig = replace(rig, link=VirtualLink())
    if log is not None:
        rig = with_memory(log, rig)
    monitor = Monitor(rig.setup, rig.recipe, rig.prior, rig.seed, rig.speech)
    run_id = _begin(run, rig, log, named) if log is not None else None

    def say(said: list[Said]) -> None:
        for one in said:
            tell(one)
            if log is not None and run_id is not None and not isinstance(one, State):
                log.say(run_id, *for_the_log(one))

    for step in run.items:
        if isinstance(step, ClockRow):
            say(monitor.advance(step.t))
        else:
            if log is not None and run_id is not None:
                log.add(run_id, step, monitor.clock)
            say(monitor.feed(step))
    say(monitor.finish())
    if log is not None and run_id is not None:
        teach(log, rig, run_id, monitor.fit())
        log.end(run_id, monitor.clock)
    return run_id


def _begin(run: RunFile, rig: Rig, log: RunLog, named: str | None) -> str:
    header = header_of(rig, time.time() if run.started_unix is None else run.started_unix)
    header = replace(header, id=named or header.id)
    log.begin(header)
    return header.id
