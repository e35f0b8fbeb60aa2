"""Run files: a run as a table that any spreadsheet can make, read into steps."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile
from pathlib import Path

from rigmon.errors import RunFileError
from rigmon.records import (
    By,
    Fault,
    Mark,
    Reading,
    RigSetup,
    parse_detail,
    parse_word,
)
from rigmon.store.columns import Column
from rigmon.store.header import Header, read_header
from rigmon.store.steps import ClockRow, Step
from rigmon.store.table import Row, number, rows, shown

_SHOWN_FAULTS = 20
_LONGEST_FAULT = 300
_LONGEST_GAP_S = 7 * 86_400.0
"""No run pauses for a week: a larger step forward is a slip in one time [s]."""
_LARGEST_TIME_S = 1e10
"""Times beyond this count in milliseconds or are garbage [s]."""
_INVENTED = "virtual rig"
_FAULTS = {fault.value: fault for fault in Fault}


@dataclass(frozen=True, slots=True)
class RunFile:
    """A run as its file tells it.

    Args:
        items: readings, marks and bare clock rows, in the order of the file.
        columns: the probes' columns, each as heading and name of the probe.
        skipped: what is wrong with the rows that were left out, one sentence each fault.
        notes: what the maker may want to know of the columns.
        started_unix: wall clock at run time 0 [s], where the file gives times of day.
        virtual: whether a comment on top says that it comes from a virtual rig.
    """

    items: tuple[Step, ...]
    columns: tuple[tuple[str, str], ...]
    skipped: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    started_unix: float | None = None
    virtual: bool = False


def read_run(path: str | Path, setup: RigSetup, *, skip_bad: bool = False) -> RunFile:
    """A run file, read.

    Args:
        path: the file.
        setup: the rig as configured; its probes give the columns their names.
        skip_bad: True leaves out rows that cannot be read and reports them in `skipped`.

    Raises:
        RunFileError: the file, its header, or a row cannot be read.
    """
    return parse_run(read_bytes(path), str(path), setup, skip_bad=skip_bad)


def read_bytes(path: str | Path) -> bytes:
    """The bytes of a table.

    Raises:
        RunFileError: it cannot be read.
    """
    try:
        return Path(path).read_bytes()
    except FileNotFoundError:
        raise RunFileError(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise RunFileError(f"{path} is a directory; a run file (CSV) is needed") from None
    except OSError as fault:
        raise RunFileError(f"{path} cannot be read: {fault.strerror}") from None


def parse_run(data: bytes, name: str, setup: RigSetup, *, skip_bad: bool = False) -> RunFile:
    r"""The bytes of a run file, read; arguments and errors as for `read_run`.

    >>> run = parse_run(b"time_s,bath_c,mark\n0,-15.5,pour\n", "run.csv", RigSetup())
    >>> [type(item).__name__ for item in run.items], run.columns
    (['Reading', 'Mark'], (('bath_c', 'bath'),))
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = fault.object.count(b"\n", 0, fault.start) + 1
        raise RunFileError(
            f"{name}:{line} is not UTF-8 text (byte 0x{fault.object[fault.start]:02x}); "
            f"save it as CSV in UTF-8"
        ) from None
    table = rows(text)
    first = next(table, None)
    if first is None:
        raise RunFileError(f"{name} is empty; the first row must name columns: time_s,bath_c,mix_c")
    header = read_header(first, name, setup)
    reader = _RowReader(header)
    items: list[Step] = []
    faults: list[str] = []
    for row in table:
        steps, found = reader.steps(row)
        if found:
            faults += [f"{name}:{row.line} {fault}"[:_LONGEST_FAULT] for fault in found]
        else:
            items += steps
    if faults and not (skip_bad and items):
        raise RunFileError(listed_faults(faults))
    if not items:
        raise RunFileError(f"{name} has a header and no rows below it")
    start = reader.start.timestamp() if reader.start else None
    columns = tuple((column.heading, column.probe) for _, column in header.probes)
    head = takewhile(lambda line: line.startswith("#"), io.StringIO(text))
    virtual = any(_INVENTED in line for line in head)
    return RunFile(tuple(items), columns, tuple(faults), header.notes(name), start, virtual)


def listed_faults(faults: Sequence[str]) -> str:
    """The first faults of a table, one a line, and how many more there are."""
    rest = len(faults) - _SHOWN_FAULTS
    more = [f"and {rest} more"] if rest > 0 else []
    return "\n".join([*faults[:_SHOWN_FAULTS], *more])


class _RowReader:
    """Turns one row after the other into steps."""

    def __init__(self, header: Header) -> None:
        self._header = header
        self._latest: float | None = None
        self.start: datetime | None = None

    def steps(self, row: Row) -> tuple[list[Step], list[str]]:
        """The steps of a row and what is wrong with it; with a fault the steps do not count."""
        if row.fault:
            return [], [row.fault]
        header, width = self._header, len(self._header.names)
        cells = row.cells + ("",) * (width - len(row.cells))
        faults = [
            f"found {shown(cell)} in a column without a name"
            for index, cell in enumerate(cells)
            if cell and (index >= width or not header.names[index])
        ]
        t = 0.0
        try:
            t = self._time(cells[header.time], row.comma)
        except ValueError as fault:
            faults.append(f"{header.names[header.time]}: {fault}")
        by: By | None = None
        try:
            by = _by(_cell(cells, header.by))
        except ValueError as fault:
            faults.append(f"by: {fault}")
        steps: list[Step] = []
        for index, column in header.probes:
            try:
                reading = _reading(cells[index], t, column, by, row.comma)
            except ValueError as fault:
                faults.append(f"{column.heading}: {fault}")
            else:
                steps += [reading] if reading else []
        try:
            steps += _marks(_cell(cells, header.mark), _cell(cells, header.detail), t, by)
        except ValueError as fault:
            faults.append(str(fault))
        if not faults:
            self._latest = t if self._latest is None else max(self._latest, t)
        return steps or [ClockRow(t)], faults

    def _time(self, cell: str, comma: bool) -> float:
        if not cell:
            raise ValueError("is empty, every row needs a time")
        t = self._seconds(cell) if self._header.time_of_day else number(cell, comma=comma)
        if abs(t) > _LARGEST_TIME_S:
            raise ValueError(f"found {shown(cell)}, seconds from the start of the run are needed")
        if self._latest is not None and t - self._latest > _LONGEST_GAP_S:
            raise ValueError(f"found {shown(cell)}, more than a week after the rows before it")
        return t

    def _seconds(self, cell: str) -> float:
        try:
            moment = datetime.fromisoformat(cell)
        except ValueError:
            raise ValueError(
                f"found {shown(cell)}, a time such as 2026-11-24T15:04:05+01:00 is needed"
            ) from None
        if moment.tzinfo is None:
            raise ValueError(f"found {shown(cell)}, an offset such as +01:00 or Z is missing")
        self.start = self.start or moment
        return round((moment - self.start).total_seconds(), 3)


def _cell(cells: tuple[str, ...], index: int | None) -> str:
    return "" if index is None else cells[index]


def _by(cell: str) -> By | None:
    if not cell:
        return None
    known = tuple(by.value for by in By)
    if cell.lower() not in known:
        raise ValueError(f"found {shown(cell)}, allowed are {', '.join(known)}")
    return By(cell.lower())


def _reading(cell: str, t: float, column: Column, by: By | None, comma: bool) -> Reading | None:
    word = cell.lower()
    if word in ("", "nan"):
        return None
    fault = _FAULTS.get(word)
    if fault is None and word[0].isalpha():
        raise ValueError(f"found {shown(cell)}, a number, nan or {', '.join(_FAULTS)} is needed")
    value = None if fault else number(cell, comma=comma)
    who = "hand" if by is By.HAND else "probe"
    return Reading(t, column.probe, value, column.unit, fault=fault, by=who)


def _marks(word: str, detail: str, t: float, by: By | None) -> list[Mark]:
    if not word:
        if detail:
            raise ValueError(f"detail: found {shown(detail)} in a row without a mark")
        return []
    try:
        mark = parse_word(word.lower())
    except ValueError as fault:
        raise ValueError(f"mark: {fault}") from None
    try:
        return [Mark(t, mark, by or By.MAKER, parse_detail(detail, mark))]
    except ValueError as fault:
        raise ValueError(f"detail: {fault}") from None
