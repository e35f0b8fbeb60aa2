"""A logged run out as a run file, with the configuration that replays it."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

from rigmon.errors import UsageError
from rigmon.probes.converter import linearised
from rigmon.records import Converter, Reading, RigSetup
from rigmon.service.prepare import document_of, logged_rig
from rigmon.store.log import RunLog
from rigmon.store.runfile_out import write_run


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
    rig = logged_rig(header)
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
