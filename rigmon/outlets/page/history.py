"""The trend of one rig's whole run: a row a second for four hours, what is older one in ten.

Every row has a number that only grows, over runs and over restarts of the program, so that who
was away can say what was heard last, and misses nothing.
"""

from __future__ import annotations

import math
import time
from array import array
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from rigmon.records import Place, State

RECENT_S = 4 * 3600.0
"""A row a second is kept for this long [s]."""
OLDER_STEP_S = 10.0
"""Of older rows one in this many seconds is kept [s]."""
MOST_OLDER = 60_480
"""The oldest give way beyond so many: a week."""
_THIN_ROWS = 600
_PLACES = {
    Place.BATH: "bath",
    Place.MIX: "mix",
    Place.CORE: "core",
    Place.ROOM: "room",
    Place.FREEZER: "freezer",
}
FIGURES: Mapping[str, int] = {
    "bath": 2,
    "bath_fit": 2,
    "mix": 2,
    "mix_fit": 2,
    "frozen": 1,
    "core": 2,
    "room": 2,
    "freezer": 2,
}
"""Columns beside the time, and their decimals: temperatures [°C], the frozen share [%]."""
COLUMNS = ("at", *FIGURES)


def row_of(state: State) -> dict[str, float | None]:
    """A state as a row: what was measured, several probes of a place taken together, and the fit.

    >>> from rigmon.records import Estimate, ProbeSeen, Quality, Stage
    >>> probes = {"a": ProbeSeen(Place.BATH, -16.0, 4.0), "b": ProbeSeen(Place.BATH, -17.0, 4.0)}
    >>> state = State(4.0, Stage.BEAT, 1, Estimate(4.0, bath_c=-16.6), {}, probes)
    >>> {name: value for name, value in row_of(state).items() if value is not None}
    {'at': 4.0, 'bath': -16.5, 'bath_fit': -16.6}
    """
    row: dict[str, float | None] = dict.fromkeys(COLUMNS)
    values: dict[str, list[float]] = {}
    for probe in state.probes.values():
        if probe.place in _PLACES and probe.value_c is not None:
            values.setdefault(_PLACES[probe.place], []).append(probe.value_c)
    for name, several in values.items():
        row[name] = round(sum(several) / len(several), FIGURES[name])
    estimate = state.estimate
    for name, value in (
        ("bath_fit", estimate.bath_c),
        ("mix_fit", estimate.mix_c),
        ("frozen", estimate.frozen_pct),
    ):
        row[name] = None if value is None else round(value, FIGURES[name])
    row["at"] = state.at
    return row


class Counter:
    """Numbers for rows, which begin above those of a program that ran before."""

    def __init__(self) -> None:
        # No run of a rig says as many as a thousand states a second for long.
        self.newest = int(time.time() * 1000.0)

    def next(self) -> int:
        """A number greater than all before it."""
        self.newest += 1
        return self.newest


@dataclass(slots=True)
class _Rows:
    """Rows in columns, so that a day of them takes a few megabytes; NaN stands for nothing."""

    seq: array[int] = field(default_factory=lambda: array("q"))
    columns: dict[str, array[float]] = field(
        default_factory=lambda: {name: array("d" if name == "at" else "f") for name in COLUMNS}
    )

    def append(self, seq: int, row: Mapping[str, float | None]) -> None:
        self.seq.append(seq)
        for name, column in self.columns.items():
            value = row[name]
            column.append(math.nan if value is None else value)

    def move(self, index: int, to: _Rows) -> None:
        to.seq.append(self.seq[index])
        for name, column in self.columns.items():
            to.columns[name].append(column[index])

    def drop(self, count: int) -> None:
        del self.seq[:count]
        for column in self.columns.values():
            del column[:count]

    def read(self, index: int) -> dict[str, float | None]:
        return {name: _read(name, column[index]) for name, column in self.columns.items()}


class History:
    """All rows of one run.

    Args:
        counter: numbers the rows.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter
        self._older, self._recent = _Rows(), _Rows()
        self._kept_span = -math.inf

    def __len__(self) -> int:
        return len(self._older.seq) + len(self._recent.seq)

    @property
    def newest_seq(self) -> int:
        """Number of the newest row; 0 before the first."""
        return self._recent.seq[-1] if self._recent.seq else 0

    def clear(self) -> None:
        """Another run begins."""
        self._older, self._recent = _Rows(), _Rows()
        self._kept_span = -math.inf

    def add(self, row: Mapping[str, float | None]) -> int:
        """Take a row in; returns its number."""
        at = row["at"] or 0.0
        seq = self._counter.next()
        self._recent.append(seq, row)
        times = self._recent.columns["at"]
        if len(times) > _THIN_ROWS and at - times[_THIN_ROWS] > RECENT_S:
            self._thin()
        return seq

    def _thin(self) -> None:
        times = self._recent.columns["at"]
        for index in range(_THIN_ROWS):
            span = times[index] // OLDER_STEP_S
            if span > self._kept_span:
                self._kept_span = span
                self._recent.move(index, self._older)
        self._recent.drop(_THIN_ROWS)
        spare = len(self._older.seq) - MOST_OLDER
        if spare > 0:
            self._older.drop(spare)

    def since(self, seq: int, most: int) -> tuple[int, list[dict[str, float | None]]]:
        """At most so many rows with numbers above `seq`, and the number of the last of them."""
        found: list[dict[str, float | None]] = []
        for rows in (self._older, self._recent):
            first = bisect_right(rows.seq, seq)
            for index in range(first, min(first + most - len(found), len(rows.seq))):
                found.append(rows.read(index))
                seq = rows.seq[index]
        return seq, found

    def columns(self) -> Columns:
        """A copy of all rows, which can be read while others are added."""
        return Columns(
            self.newest_seq,
            {
                name: self._older.columns[name] + self._recent.columns[name]
                for name in self._recent.columns
            },
        )


@dataclass(frozen=True, slots=True)
class Columns:
    """All rows of a run, column by column.

    Args:
        seq: number of the newest row.
        values: by name.
    """

    seq: int
    values: Mapping[str, array[float]]

    def as_dict(self) -> dict[str, Any]:
        """As plain data; None where there is nothing."""
        return {name: list(_all(name, column)) for name, column in self.values.items()}


def _all(name: str, column: array[float]) -> Iterator[float | None]:
    digits = FIGURES.get(name, 3)
    return (None if value != value else round(value, digits) for value in column)  # noqa: PLR0124 - NaN alone is unlike itself


def _read(name: str, value: float) -> float | None:
    return None if math.isnan(value) else round(value, FIGURES.get(name, 3))
