"""Run files written: a logged run as a table that reads back to the very same steps."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path

from rigmon.errors import RunFileError
from rigmon.records import By, Item, Mark, Reading, RigSetup, Unit, format_detail
from rigmon.store.columns import Column, column_of, probe_columns
from rigmon.store.steps import Step, clocked
from rigmon.store.table import quoted

AsCelsius = Callable[[Reading], float | None]
"""The temperature that a reading stands for [°C], linearised, before gain and offset."""


def write_run(
    path: str | Path,
    setup: RigSetup,
    fed: Iterable[tuple[float, Item]],
    ended_at: float | None,
    *,
    as_celsius: AsCelsius,
    overwrite: bool = False,
    comments: Iterable[str] = (),
) -> tuple[str, ...]:
    """Write a run as it was fed, so that replaying the file moves a monitor just as live.

    Args:
        path: the file; it appears whole or not at all.
        setup: the rig as configured; its probes give the columns their names.
        fed: every item in the order fed, each behind the monitor's clock just before it [s].
        ended_at: run time at which the run ended [s], None if it was broken off.
        as_celsius: what stands in the file for a reading that is not in watts.
        overwrite: True replaces a file that is there.
        comments: lines to put on top.

    Times are written to 1 ms. Gives one sentence for each kind of thing a table cannot hold.

    Raises:
        RunFileError: the file is there already, or cannot be written.
    """
    target = Path(path)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    lost: Counter[str] = Counter()
    lines = _table(list(clocked(fed, ended_at)), setup, as_celsius, lost)
    heads = [f"# {line}\n" for comment in comments for line in comment.splitlines()]
    try:
        if target.exists() and not overwrite:
            raise RunFileError(
                f"{path} is there already; give another name, or allow overwriting it"
            )
        with part.open("w", encoding="utf-8", errors="replace", newline="") as file:
            file.writelines(heads)
            file.writelines(f"{line}\n" for line in lines)
        part.replace(target)
    except OSError as fault:
        raise RunFileError(f"{path} cannot be written: {fault.strerror}") from None
    finally:
        with suppress(OSError):
            part.unlink()
    return tuple(f"{what} ({count} times)" for what, count in lost.items())


def _table(
    steps: list[Step], setup: RigSetup, as_celsius: AsCelsius, lost: Counter[str]
) -> Iterator[str]:
    series = dict.fromkeys(
        (step.probe, step.unit is Unit.WATT) for step in steps if isinstance(step, Reading)
    )
    found = {
        (probe, watt): column_of(probe, Unit.WATT if watt else Unit.CELSIUS, setup)
        for probe, watt in series
    }
    columns: list[Column] = []
    for column in (*found.values(), *probe_columns(setup)):
        if column is not None and column not in columns:
            columns.append(column)
    if not any(column.unit is Unit.CELSIUS for column in columns):
        columns.append(Column("bath_c", "bath"))
    place = {key: columns.index(column) for key, column in found.items() if column is not None}
    yield ",".join(quoted(name) for name in _headings(columns))
    for row in _rows(steps, place, as_celsius, lost):
        yield ",".join(quoted(cell) for cell in row.cells(len(columns)))


def _headings(columns: list[Column]) -> list[str]:
    return ["time_s", *(column.heading for column in columns), "mark", "by", "detail"]


@dataclass(slots=True)
class _Row:
    """A row being filled."""

    time: str
    by: str = ""
    values: dict[int, str] = field(default_factory=dict)
    mark: str = ""
    detail: str = ""

    def takes(self, time: str, by: str, place: int) -> bool:
        """Whether a reading may stand in this row without changing its turn or its author."""
        return self.time == time and self.by == by and place > max(self.values, default=-1)

    def cells(self, width: int) -> list[str]:
        values = [self.values.get(place, "") for place in range(width)]
        return [self.time, *values, self.mark, self.by, self.detail]


def _rows(
    steps: list[Step],
    place: dict[tuple[str, bool], int],
    as_celsius: AsCelsius,
    lost: Counter[str],
) -> Iterator[_Row]:
    row: _Row | None = None
    for step in steps:
        time = _time(step.t)
        if isinstance(step, Reading) and (step.probe, step.unit is Unit.WATT) in place:
            index = place[step.probe, step.unit is Unit.WATT]
            by = By.HAND.value if step.by == "hand" else ""
            if row is None or not row.takes(time, by, index):
                if row:
                    yield row
                row = _Row(time, by)
            row.values[index] = _value(step, as_celsius, lost)
            continue
        shares = row and row.time == time and (row.by == "") == (_author(step) != By.HAND)
        if row and not (shares and isinstance(step, Mark)):
            yield row
            row = None
        row = row or _Row(time)
        if isinstance(step, Mark):
            row.mark, row.by = step.word.value, step.by.value
            row.detail = format_detail(step.detail)
        elif isinstance(step, Reading):
            lost[f"readings of {step.probe!r} in {step.unit.value} have no column"] += 1
        yield row
        row = None
    if row:
        yield row


def _author(step: Step) -> str:
    return step.by if isinstance(step, Mark) else ""


def _time(t: float) -> str:
    return f"{t:.3f}".rstrip("0").rstrip(".")


def _value(reading: Reading, as_celsius: AsCelsius, lost: Counter[str]) -> str:
    if reading.fault:
        return reading.fault.value
    value = reading.value if reading.unit is Unit.WATT else as_celsius(reading)
    if value is None or not isfinite(value):
        lost[f"readings of {reading.probe!r} stand for no temperature"] += 1
        return "nan"
    return repr(float(value))
