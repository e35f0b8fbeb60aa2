"""Somebody else's table read as a run, by a mapping that says which column is what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from rigmon.config.mapping import (
    TIME_WORDS,
    UNIX_WORDS,
    ForeignTable,
    ForeignTime,
    ForeignUnit,
)
from rigmon.config.mapping import (
    Column as Which,
)
from rigmon.errors import RunFileError
from rigmon.records import Mark, Reading, RigSetup, parse_word
from rigmon.store.columns import MIXER_COLUMN, Column, probe_column
from rigmon.store.runfile import RunFile, listed_faults, read_bytes
from rigmon.store.steps import Step
from rigmon.store.table import Row, number, rows, shown
from rigmon.units import KELVIN_AT_0_C, celsius

_LONGEST_GAP_S = 7 * 86_400.0
_LONGEST_FAULT = 300
_DEGREES = re.compile(r"\s*°?\s*([CFK])$")
_NO_VALUE = frozenset({"", "nan"})
_HALF_A_DAY_S = 43_200.0
_BACK_S = 60.0
"""A row that is farther back than this is of the second pass [s] (own choice)."""


def read_foreign(
    path: Path, mapping: ForeignTable, setup: RigSetup, *, skip_bad: bool = False
) -> RunFile:
    """Somebody else's table, read as a run that begins with its first row or earlier mark.

    Args:
        path: the table.
        mapping: how it is to be read.
        setup: the rig as configured; its probes are known by their names and places.
        skip_bad: True leaves out rows that cannot be read and reports them in `skipped`.

    Raises:
        RunFileError: the file, a column, or a row cannot be read.
    """
    return parse_foreign(read_bytes(path), str(path), mapping, setup, skip_bad=skip_bad)


def parse_foreign(
    data: bytes, name: str, mapping: ForeignTable, setup: RigSetup, *, skip_bad: bool = False
) -> RunFile:
    """The bytes of somebody else's table; arguments and errors as for `read_foreign`."""
    table = rows(_text(data, name, mapping), mapping.delimiter or "", mapping.skip_rows)
    headings: Row | None = None
    if mapping.headings and (headings := next(table, None)) is None:
        raise RunFileError(f"{name} holds no row of headings below its first {mapping.skip_rows}")
    columns = _Columns(name, mapping, setup, headings)
    times = _Times(mapping.time)
    items: list[Step] = []
    faults: list[str] = []
    for row in table:
        found, wrong = columns.items(row, times)
        faults += [f"{name}:{row.line} {fault}"[:_LONGEST_FAULT] for fault in wrong]
        items += [] if wrong else found
    if faults and not (skip_bad and items):
        raise RunFileError(listed_faults(faults))
    if not items:
        raise RunFileError(f"{name} holds no readings and no marks below its headings")
    first = min(item.t for item in items)
    # A table of somebody else's is no record of what came when, and may begin with the newest.
    items = sorted(
        [*(replace(mark, t=first + mark.t) for mark in mapping.fixed), *items],
        key=lambda item: item.t,
    )
    zero = items[0].t
    moved = tuple(replace(item, t=round(item.t - zero, 3)) for item in items)
    if mapping.time.start is not None:
        start: float | None = mapping.time.start.timestamp() + zero - first
    else:
        start = None if times.zero is None else times.zero + zero
    return RunFile(moved, columns.probes, tuple(faults), columns.notes, start)


def _text(data: bytes, name: str, mapping: ForeignTable) -> str:
    try:
        return data.decode(mapping.encoding)
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        raise RunFileError(
            f"{name}:{line} is not {mapping.encoding} text (byte 0x{data[fault.start]:02x}); give "
            f'its encoding in {mapping.name}, as in encoding = "cp1252"'
        ) from None


class _Columns:
    """Where everything stands in a row."""

    def __init__(
        self, name: str, mapping: ForeignTable, setup: RigSetup, headings: Row | None
    ) -> None:
        self._name = name
        self._mapping = mapping
        self._headings = headings
        self._time = [
            self._index(column, f"{mapping.name} time.column") for column in mapping.time.columns
        ]
        self._probes: list[tuple[int, Column, ForeignUnit]] = []
        for probe in mapping.probes:
            heading = MIXER_COLUMN if probe.unit == "W" else f"{probe.probe}_c"
            column = probe_column(heading, setup)
            if column is None:
                raise RunFileError(
                    f"{probe.place}: {shown(probe.probe)} cannot be a probe's name; allowed are "
                    "bath, mix, core, room, freezer, wall, mixer, or a configured probe"
                )
            twin = [one for _, one, _ in self._probes if one.probe == column.probe]
            if twin:
                raise RunFileError(f"{probe.place}: {column.probe!r} has two columns; keep one")
            self._probes.append((self._index(probe.column, probe.place), column, probe.unit))
        marks = mapping.marks
        self._mark = None if marks is None else self._index(marks.column, marks.place)

    @property
    def probes(self) -> tuple[tuple[str, str], ...]:
        """The probes' columns, each as heading and name of the probe."""
        return tuple((self._heading(index), column.probe) for index, column, _ in self._probes)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the maker may want to know of the columns."""
        return tuple(
            f"{self._name}: {column.probe!r} is no configured probe; it sits nowhere known"
            for _, column, _ in self._probes
            if column.foreign
        )

    def items(self, row: Row, times: _Times) -> tuple[list[Step], list[str]]:
        """What a row holds, and what is wrong with it."""
        if row.fault:
            return [], [row.fault]
        width = max(self._time + [index for index, _, _ in self._probes])
        cells = row.cells + ("",) * (width + 1 - len(row.cells))
        comma = row.comma if self._mapping.decimal_comma is None else self._mapping.decimal_comma
        faults: list[str] = []
        found: list[Step] = []
        t = 0.0
        try:
            t = times.seconds(" ".join(cells[index] for index in self._time), comma=comma)
        except ValueError as fault:
            faults.append(f"{self._heading(self._time[0])}: {fault}")
        for index, column, unit in self._probes:
            try:
                value = self._value(cells[index], unit, comma=comma)
            except ValueError as fault:
                faults.append(f"{self._heading(index)}: {fault}")
            else:
                found += [] if value is None else [Reading(t, column.probe, value, column.unit)]
        try:
            mark = self._marked(cells)
        except ValueError as fault:
            faults.append(str(fault))
        else:
            found += [] if mark is None else [replace(mark, t=t)]
        return found, faults

    def _value(self, cell: str, unit: ForeignUnit, *, comma: bool) -> float | None:
        word = cell.casefold()
        if word in _NO_VALUE or word in self._mapping.missing:
            return None
        degrees = _DEGREES.search(cell)
        if degrees and degrees[1] != unit:
            raise ValueError(f"found {shown(cell)}, but its unit is said to be {unit}")
        try:
            value = number(cell[: degrees.start()] if degrees else cell, comma=comma)
        except ValueError:
            raise ValueError(
                f"found {shown(cell)}, a number is needed; name words that mean no value in "
                f'{self._mapping.name}, as in missing = ["--"]'
            ) from None
        match unit:
            case "F":
                return round(celsius(value), 6)
            case "K":
                return round(value - KELVIN_AT_0_C, 6)
        return value

    def _marked(self, cells: Sequence[str]) -> Mark | None:
        marks = self._mapping.marks
        if marks is None or self._mark is None or self._mark >= len(cells):
            return None
        cell = cells[self._mark]
        if not cell:
            return None
        if cell.casefold() in marks.words:
            return marks.words[cell.casefold()]
        try:
            return Mark(0.0, parse_word(cell.lower()))
        except ValueError:
            raise ValueError(
                f"{self._heading(self._mark)}: found {shown(cell)}, which is no mark and stands "
                f'not in [marks.words] of {self._mapping.name}; add it there ("" passes it over)'
            ) from None

    def _index(self, which: Which, place: str) -> int:
        if isinstance(which, int):
            return which - 1
        if self._headings is None:
            raise RunFileError(
                f"{place}: {shown(which)} is a heading, and the table has none; give the column's "
                "number from 1"
            )
        line = self._headings.line
        known = [cell.casefold() for cell in self._headings.cells]
        places = [index for index, cell in enumerate(known) if cell == which.casefold()]
        if len(places) > 1:
            raise RunFileError(
                f"{place}: {self._name}:{line} has several columns {shown(which)}; give the "
                "column's number from 1"
            )
        if not places:
            there = ", ".join(cell for cell in self._headings.cells if cell)
            raise RunFileError(
                f"{place}: {self._name}:{line} has no column {shown(which)}; it has {there[:200]}"
            )
        return places[0]

    def _heading(self, index: int) -> str:
        cells = self._headings.cells if self._headings is not None else ()
        return cells[index] if index < len(cells) and cells[index] else f"column {index + 1}"


class _Times:
    """Times as a table writes them, in seconds from its own zero."""

    def __init__(self, time: ForeignTime) -> None:
        self._time = time
        self._latest: float | None = None
        self._day = time.day
        self.zero: float | None = None

    def seconds(self, cell: str, *, comma: bool) -> float:
        """A time [s].

        Raises:
            ValueError: it is none, or cannot follow those before it.
        """
        if not cell.strip():
            raise ValueError("is empty, every row needs a time")
        form = self._time.format
        if form in TIME_WORDS:
            t = number(cell, comma=comma) * TIME_WORDS[form]
        else:
            unix = (
                number(cell, comma=comma) * UNIX_WORDS[form]
                if form in UNIX_WORDS
                else self._moment(cell)
            )
            self.zero = unix if self.zero is None else self.zero
            t = unix - self.zero
        if self._latest is not None and abs(t - self._latest) > _LONGEST_GAP_S:
            raise ValueError(f"found {shown(cell)}, more than a week from the rows before it")
        self._latest = t if self._latest is None else max(self._latest, t)
        return t

    def _moment(self, cell: str) -> float:
        form, zone = self._time.format, self._time.zone
        try:
            moment = (
                datetime.fromisoformat(cell) if form == "iso" else datetime.strptime(cell, form)
            )
        except ValueError:
            raise ValueError(f"found {shown(cell)}, a time written {form} is needed") from None
        if self._day is not None:
            moment = datetime.combine(self._day, moment.time(), moment.tzinfo)
        if moment.tzinfo is None and zone is None:
            raise ValueError(f"found {shown(cell)}, and no zone is given for times without one")
        unix = self._nearest(moment if moment.tzinfo else moment.replace(tzinfo=zone))
        if self._day is not None and unix < self._before() - _HALF_A_DAY_S:
            self._day += timedelta(days=1)
            return self._moment(cell)
        return unix

    def _nearest(self, moment: datetime) -> float:
        """Of an hour that the clocks go through twice, the pass that follows the row before."""
        unix = moment.timestamp()
        if unix < self._before() - _BACK_S:
            return max(unix, moment.replace(fold=1).timestamp())
        return unix

    def _before(self) -> float:
        if self.zero is None or self._latest is None:
            return float("-inf")
        return self.zero + self._latest
