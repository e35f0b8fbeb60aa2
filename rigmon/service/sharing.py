"""All runs of a log out for other tools, in folders that an analytical engine reads as is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rigmon.errors import UsageError
from rigmon.probes.converter import converted
from rigmon.records import Reading, RigSetup, Unit, place_of
from rigmon.service.export import export
from rigmon.service.prepare import logged_rig
from rigmon.service.resume import LONGEST_BREAK_S
from rigmon.store.entries import RunRow, RunState
from rigmon.store.fingerprint import fingerprint
from rigmon.store.log import RunLog
from rigmon.store.tables import RunTables
from rigmon.store.tables_out import Folder, Form


def is_over(row: RunRow, now: float) -> bool:
    """Whether a run can get no more readings.

    Args:
        row: the run.
        now: the wall clock [s].
    """
    if row.state is RunState.BROKEN_OFF:
        return row.last_unix < now - LONGEST_BREAK_S
    return row.state is RunState.ENDED


@dataclass(frozen=True, slots=True)
class Shared:
    """What came of an export.

    Args:
        written: how many runs were written.
        there: how many lay there already.
        waiting: runs that are not over yet.
        remarks: what the maker should know, one sentence each.
    """

    written: int
    there: int
    waiting: tuple[str, ...]
    remarks: tuple[str, ...]


def share(
    log: RunLog,
    rows: Sequence[RunRow],
    folder: Path,
    form: Form,
    now: float,
    tell: Callable[[str], None] = lambda _: None,
) -> Shared:
    """Write runs into a folder; what lies there from an earlier export stays, each run once.

    Args:
        log: the run log.
        rows: the runs.
        folder: the folder.
        form: what to write.
        now: the wall clock [s].
        tell: told each run's id before it is written.

    Raises:
        UsageError: the folder holds something else, or a library is missing.
        RunFileError: it cannot be written; runs that lie in it by then are whole.
        LogError: the log cannot be read.
    """
    place = Folder(folder, form)
    written = there = 0
    waiting, remarks = [], []
    for row in rows:
        name = row.header.id
        if not is_over(row, now):
            waiting.append(name)
            continue
        content = fingerprint(log, name)
        if form == "run-files":
            target = place.place("", row, content)
            if target.with_suffix(".toml").exists():
                there += 1
                continue
            tell(name)
            try:
                logged_rig(row.header)
            except UsageError as fault:
                remarks.append(f"{name} is left out, its rig cannot be read: {_first(fault)}")
                continue
            _, _, lost = export(log, name, target, overwrite=True)
            remarks += [f"{name}: left out: {sentence}" for sentence in lost]
        else:
            known = place.has(row, content)
            tell(name)
            setup, remark = _setup(row)
            remarks += [remark] if remark else []
            tables = RunTables(log, row, content, _places(setup), _temperatures(setup))
            # Tags change; what a run was fed and what was said of it do not.
            place.put(row, content, {"runs": [tables.run()]} if known else tables.rows())
            there += known
            written -= known
        written += 1
    return Shared(written, there, tuple(waiting), tuple(remarks))


def _setup(row: RunRow) -> tuple[RigSetup, str]:
    """The rig of a run, and a sentence where this program cannot tell it."""
    try:
        return logged_rig(row.header).setup, ""
    except UsageError as fault:
        return RigSetup(id=row.header.rig), (
            f"{row.header.id}: its rig cannot be read, so temperatures are as the board sent them: "
            f"{_first(fault)}"
        )


def _first(fault: UsageError) -> str:
    return str(fault).splitlines()[0]


def _places(setup: RigSetup) -> Callable[[str], str | None]:
    configured = {probe.name: probe.sits_in for probe in setup.probes}

    def place(probe: str) -> str | None:
        found = configured.get(probe) or place_of(probe)
        return found.value if found else None

    return place


def _temperatures(setup: RigSetup) -> Callable[[Reading], float | None]:
    probes = {probe.name: probe for probe in setup.probes}

    def temperature_c(reading: Reading) -> float | None:
        probe = probes.get(reading.probe)
        if probe is not None:
            return converted(reading, probe).c
        return reading.value if reading.unit is Unit.CELSIUS and not reading.fault else None

    return temperature_c
