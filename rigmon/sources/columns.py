"""Lines of numbers, named by the configuration, as readings of a rig's probes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from rigmon.errors import ConfigError
from rigmon.records import Reading, Unit
from rigmon.sources.decoded import BadLine, Decoded


class Use(Enum):
    """What a column is for."""

    VALUE = 0
    COLD_JUNCTION = 1
    CLOCK = 2
    NOTHING = 3


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a line.

    Args:
        use: what it is for.
        probe: the probe it belongs to.
        unit: what its values count in.
        per_s: counts of the board's clock in a second.
    """

    use: Use
    probe: str = ""
    unit: Unit = Unit.CELSIUS
    per_s: float = 1.0


def column_of(name: str) -> Column:
    """The column that a configured name means.

    >>> column_of("bath_mv").probe, column_of("bath_mv").unit.value, column_of("ms").per_s
    ('bath', 'mV', 1000.0)
    """
    if name == "-":
        return Column(Use.NOTHING)
    if name in {"ms", "s"}:
        return Column(Use.CLOCK, per_s=1000.0 if name == "ms" else 1.0)
    for ending, use, unit in (
        ("_mv", Use.VALUE, Unit.MILLIVOLT),
        ("_w", Use.VALUE, Unit.WATT),
        ("_cj", Use.COLD_JUNCTION, Unit.CELSIUS),
    ):
        if name.endswith(ending) and name != ending:
            return Column(use, name.removesuffix(ending), unit)
    return Column(Use.VALUE, name)


def columns_of(names: Sequence[str]) -> tuple[Column, ...]:
    """The columns of a line.

    Raises:
        ConfigError: no column holds a value.
    """
    columns = tuple(column_of(name) for name in names)
    if not any(column.use is Use.VALUE for column in columns):
        raise ConfigError(
            "columns names no probe. Name the numbers of a line in their order, as in "
            'columns = ["ms", "bath", "mix"].'
        )
    return columns


def split(text: str, columns: Sequence[Column]) -> list[str]:
    """The fields of a line, as many as there are columns, with a point in every number.

    Semicolons or tabs part the fields where there are any (a comma is then a decimal comma), else
    commas, else spaces.

    Raises:
        BadLine: there are more or fewer.
    """
    separator = next((mark for mark in ";\t," if mark in text), None)
    if separator in {";", "\t"}:
        text = text.replace(",", ".")
    fields = text.split(separator)
    if len(fields) != len(columns):
        raise BadLine(f"{len(fields)} fields where columns names {len(columns)}")
    return fields


def number(text: str) -> float | None:
    """A field's number; None where it is empty or `nan`.

    Raises:
        BadLine: it is not a finite number.

    >>> number(" -14.25 "), number("nan"), number("")
    (-14.25, None, None)
    """
    text = text.strip()
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.inf
    if math.isinf(value) or "_" in text:
        raise BadLine("a field is not a number")
    return None if math.isnan(value) else value


class ColumnsForm:
    """Decodes lines of numbers."""

    def __init__(self, names: Sequence[str]) -> None:
        self._columns = columns_of(names)

    def decode(self, text: str, now: float) -> Decoded:
        """The readings of one line that arrived at `now` [s, Unix].

        Raises:
            BadLine: the line has other columns, or a field is not a number.
        """
        board_s = None
        junctions: dict[str, float | None] = {}
        values: list[tuple[Column, float]] = []
        for column, field in zip(self._columns, split(text, self._columns), strict=True):
            if column.use is Use.NOTHING:
                continue
            value = number(field)
            if value is None:
                continue
            if column.use is Use.VALUE:
                values.append((column, value))
            elif column.use is Use.CLOCK:
                board_s = value / column.per_s
            else:
                junctions[column.probe] = value
        return Decoded(
            tuple(
                Reading(
                    now,
                    column.probe,
                    value,
                    column.unit,
                    junctions.get(column.probe),
                    board_s=board_s,
                )
                for column, value in values
            )
        )
