"""The header row of a run file: which column says what."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from rigmon.errors import RunFileError
from rigmon.records import RigSetup
from rigmon.store.columns import Column, is_ignored, known_headings, probe_column
from rigmon.store.table import Row, shown

_FIXED = ("time_s", "time", "mark", "by", "detail")


@dataclass(frozen=True, slots=True)
class Header:
    """Where everything stands in a row.

    Args:
        names: all headings.
        time: index of the time.
        time_of_day: True for times of day, False for seconds from the start.
        probes: the probes' columns with their indices.
        mark: index of the marks, None where there are none; so the next two.
        by: index of who set the mark or took the reading.
        detail: index of the marks' details.
    """

    names: tuple[str, ...]
    time: int
    time_of_day: bool
    probes: tuple[tuple[int, Column], ...]
    mark: int | None
    by: int | None
    detail: int | None

    def notes(self, file: str) -> tuple[str, ...]:
        """What the maker may want to know of the columns, one sentence each."""
        return tuple(
            f"{file}: column {column.heading!r} names no configured probe; its readings are those "
            f"of a probe {column.probe!r} that sits nowhere known"
            for _, column in self.probes
            if column.foreign
        )


def read_header(row: Row, file: str, setup: RigSetup) -> Header:
    """The header that a row is.

    Args:
        row: the first row of the table.
        file: name of the file, for messages.
        setup: the rig as configured.

    Raises:
        RunFileError: it is no header, lacks a column, or has one too many.
    """
    place = f"{file}:{row.line}"
    if row.fault:
        raise RunFileError(f"{place} {row.fault}")
    fixed: dict[str, int] = {}
    probes: dict[int, Column] = {}
    unknown: list[str] = []
    for index, heading in enumerate(row.cells):
        if not heading:
            continue
        if heading.lower() in _FIXED:
            if heading.lower() in fixed:
                raise RunFileError(f"{place} has two columns {heading!r}; keep one")
            fixed[heading.lower()] = index
        elif column := probe_column(heading, setup):
            twin = next((other for other in probes.values() if _same(other, column)), None)
            if twin:
                raise RunFileError(
                    f"{place} columns {twin.heading!r} and {heading!r} both belong to probe "
                    f"{column.probe!r}; keep one"
                )
            probes[index] = column
        elif not is_ignored(heading):
            unknown.append(heading)
    if not fixed and not probes:
        raise RunFileError(
            f"{place} is no header (it begins with {shown(row.cells[0])}); "
            f"the first row must name columns: time_s,bath_c,mix_c"
        )
    if unknown:
        raise RunFileError(_unknown(place, unknown[0], setup))
    times = [column for column in ("time_s", "time") if column in fixed]
    if len(times) != 1:
        raise RunFileError(
            f"{place} has both time_s and time; keep one"
            if times
            else f"{place} has no time column; add time_s (seconds) or time (ISO 8601)"
        )
    if not any(column.heading.lower().endswith("_c") for column in probes.values()):
        raise RunFileError(
            f"{place} has no probe column; name one by what the probe sits in, such as bath_c"
        )
    return Header(
        names=row.cells,
        time=fixed[times[0]],
        time_of_day=times == ["time"],
        probes=tuple(probes.items()),
        mark=fixed.get("mark"),
        by=fixed.get("by"),
        detail=fixed.get("detail"),
    )


def _same(one: Column, other: Column) -> bool:
    return one.probe == other.probe and one.unit is other.unit


def _nearest(word: str, known: Sequence[str]) -> str:
    return difflib.get_close_matches(word, known, n=1, cutoff=0.0)[0]


def _unknown(place: str, heading: str, setup: RigSetup) -> str:
    near = _nearest(heading.lower(), (*known_headings(setup), *_FIXED))
    return (
        f"{place} unknown column {shown(heading)}; the nearest known one is {near!r}. "
        f"Columns that begin with x_ are passed over"
    )
