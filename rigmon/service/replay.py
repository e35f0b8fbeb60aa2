"""A run file through the very monitor that watches live, and a logged run out as a run file."""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from rigmon import __version__
from rigmon.config import parse_config
from rigmon.errors import UsageError
from rigmon.outlets.jsonlines import as_dict, as_line
from rigmon.probes.converter import linearised
from rigmon.records import Converter, Reading, RigSetup, Said, State
from rigmon.run.monitor import Monitor
from rigmon.service.prepare import Rig, document_of, rigs_of
from rigmon.store.entries import RunHeader
from rigmon.store.log import RunLog
from rigmon.store.runfile import RunFile
from rigmon.store.runfile_out import write_run
from rigmon.store.steps import ClockRow


def replay(
    run: RunFile,
    rig: Rig,
    tell: Callable[[Said], None],
    log: RunLog | None = None,
) -> str | None:
    """Run a file through a monitor as fast as it goes.

    Args:
        run: the run file.
        rig: its rig.
        tell: takes what is said, in order of time.
        log: a log that keeps the run; None keeps nothing.

    Returns:
        The run's id in the log, None without one.
    """
    monitor = Monitor(rig.setup, rig.recipe, rig.prior, rig.seed)
    run_id = _begin(run, rig, log) if log is not None else None

    def say(said: list[Said]) -> None:
        for one in said:
            tell(one)
            if log is not None and run_id is not None and not isinstance(one, State):
                log.say(run_id, one.at, str(as_dict(one)["type"]), as_line(one))

    for step in run.items:
        if isinstance(step, ClockRow):
            say(monitor.advance(step.t))
        else:
            if log is not None and run_id is not None:
                log.add(run_id, step, monitor.clock)
            say(monitor.feed(step))
    say(monitor.finish())
    if log is not None and run_id is not None:
        log.end(run_id, monitor.clock)
    return run_id


def _begin(run: RunFile, rig: Rig, log: RunLog) -> str:
    started = time.time() if run.started_unix is None else run.started_unix
    moment = datetime.datetime.fromtimestamp(started, datetime.UTC)
    run_id = f"{rig.setup.id}-{moment:%Y%m%dT%H%M%SZ}"
    log.begin(
        RunHeader(
            id=run_id,
            rig=rig.setup.id,
            started_unix=started,
            recipe=rig.recipe.name if rig.recipe is not None else "",
            document=document_of(rig, rig.setup, moment, __version__),
            virtual=rig.virtual,
            version=__version__,
        )
    )
    return run_id


def as_recorded(setup: RigSetup) -> RigSetup:
    """The rig as its exported readings are: linearised already, offset and gain still to come."""
    probes = tuple(replace(probe, converter=Converter.LINEARISED) for probe in setup.probes)
    return replace(setup, probes=probes)


def export(
    log: RunLog, run: str, path: Path, *, overwrite: bool = False
) -> tuple[str, Path, tuple[str, ...]]:
    """Write a logged run as a run file, and beside it the configuration that replays it.

    Args:
        log: the run log.
        run: a run's id, a part of it, or `last`.
        path: the run file; its configuration takes the same name with `.toml`.
        overwrite: whether files that are there may be replaced.

    Returns:
        The run's id, the path of the configuration, and a sentence for each kind of thing that a
        run file cannot hold.

    Raises:
        UsageError: no such run, or a file is there already.
    """
    header = log.find(run)
    beside = path.with_suffix(".toml")
    if beside == path:
        raise UsageError(f"{path}: a run file is a CSV; give it another ending than .toml")
    if not overwrite:
        for there in (path, beside):
            if there.exists():
                raise UsageError(f"{there} is there already: name another, or give --overwrite")
    config = parse_config(header.document, header.id)
    (rig,) = rigs_of(config, None)
    probes = {probe.name: probe for probe in rig.setup.probes}

    def as_celsius(reading: Reading) -> float | None:
        probe = probes.get(reading.probe)
        return reading.value if probe is None else linearised(reading, probe).c

    row = log.run(header.id)
    moment = datetime.datetime.fromtimestamp(header.started_unix, datetime.UTC)
    comments = [f"rigmon run {header.id}, recipe {header.recipe or 'unknown'}"]
    if header.virtual:
        comments.append("virtual rig: invented, no real kitchen")
    lost = write_run(
        path,
        rig.setup,
        log.items(header.id),
        row.duration_s,
        as_celsius=as_celsius,
        overwrite=overwrite,
        comments=comments,
    )
    text = document_of(rig, as_recorded(rig.setup), moment, header.version)
    beside.write_text(text, encoding="utf-8")
    return header.id, beside, lost
