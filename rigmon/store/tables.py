"""The log as tables for other tools: which columns there are, and the rows of a run.

One schema for every format. A column never changes its name, its type or its meaning; what comes
later comes as a further column or a further table.
"""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rigmon.records import Condition, DetailValue, Mark, Reading
from rigmon.store.archive import Archive
from rigmon.store.entries import RunRow

SCHEMA_VERSION = 1


class Kind(StrEnum):
    """Type of a column."""

    TEXT = "text"
    NUMBER = "number"
    COUNT = "whole number"
    FLAG = "true or false"
    TIME = "time"


@dataclass(frozen=True, slots=True)
class Field:
    """A column.

    Args:
        name: its name, with the unit at the end.
        kind: its type.
        says: what it means.
        always: False where a row may have none.
    """

    name: str
    kind: Kind
    says: str
    always: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Args:
        name: its name, and that of its folder.
        fields: its columns, in their order.
    """

    name: str
    fields: tuple[Field, ...]


Cell = str | float | int | bool | datetime.datetime | None
Cells = tuple[Cell, ...]
AsTemperature = Callable[[Reading], float | None]
"""The temperature that a reading stands for [°C]: linearised, with the probe's gain and offset."""

_RUN_ID = Field("run_id", Kind.TEXT, "the run")
_VIRTUAL = Field("virtual", Kind.FLAG, "of a virtual rig: invented")
_SEQ = Field("seq", Kind.COUNT, "turn in the run, from 1, readings, marks and conditions together")
_TIME = Field("time", Kind.TIME, "when, UTC")
_TIME_S = Field("time_s", Kind.NUMBER, "when, s from the start of the run")
_OF_AN_ITEM = (_RUN_ID, _VIRTUAL, _SEQ, _TIME, _TIME_S)

RUNS = Table(
    "runs",
    (
        _RUN_ID,
        _VIRTUAL,
        Field("started", Kind.TIME, "start of the run, UTC"),
        Field("ended", Kind.TIME, "its end, UTC; none if it was broken off", always=False),
        Field("duration_s", Kind.NUMBER, "up to its end, else to its last item, s"),
        Field("recipe", Kind.TEXT, "name of the recipe", always=False),
        Field("tags", Kind.TEXT, "the maker's tags, a blank between two", always=False),
        Field("readings", Kind.COUNT, "number of readings"),
        Field("marks", Kind.COUNT, "number of marks"),
        Field("content", Kind.TEXT, "SHA-256 over its items: the same for the same run"),
        Field("version", Kind.TEXT, "version of rigmon that watched it"),
        Field("document", Kind.TEXT, "rig, recipe, prior and seed as TOML"),
    ),
)
READINGS = Table(
    "readings",
    (
        *_OF_AN_ITEM,
        Field("probe", Kind.TEXT, "the probe's name"),
        Field("place", Kind.TEXT, "what it sits in: `bath`, `mix`, ...", always=False),
        Field("temperature_c", Kind.NUMBER, "corrected temperature, °C", always=False),
        Field("value", Kind.NUMBER, "as it came in", always=False),
        Field("unit", Kind.TEXT, "of `value`: `Cel`, `mV`, `W` (RFC 8428)"),
        Field("cj_c", Kind.NUMBER, "cold junction on the board, °C", always=False),
        Field("fault", Kind.TEXT, "`open`, `short-gnd`, `short-vcc`", always=False),
        Field("by", Kind.TEXT, "`probe` or `hand`"),
        Field("sd_k", Kind.NUMBER, "uncertainty as sent, K", always=False),
        Field("board_s", Kind.NUMBER, "the board's own time, s", always=False),
    ),
)
_AMOUNTS = ("ice_g", "salt_g", "water_g", "drained_g", "mix_g")
MARKS = Table(
    "marks",
    (
        *_OF_AN_ITEM,
        Field("mark", Kind.TEXT, "the mark's word"),
        Field("by", Kind.TEXT, "`maker`, `detected` or `hand`"),
        *(
            Field(name, Kind.NUMBER, "grams, where they were told", always=False)
            for name in _AMOUNTS
        ),
        Field("note", Kind.TEXT, "the note", always=False),
        Field("detail", Kind.TEXT, "all details, a JSON object"),
    ),
)
CONDITIONS = Table(
    "conditions",
    (
        *_OF_AN_ITEM,
        Field("code", Kind.TEXT, "what was wrong with program, source or outlet"),
        Field("active", Kind.FLAG, "whether it began or ended"),
        Field("text", Kind.TEXT, "the particulars"),
    ),
)
SAID = Table(
    "said",
    (
        _RUN_ID,
        _VIRTUAL,
        Field("seq", Kind.COUNT, "turn among what was said, from 1"),
        _TIME,
        _TIME_S,
        Field("type", Kind.TEXT, "`forecast`, `alarm`, `notice`, `mark`, `problem`, ..."),
        Field("line", Kind.TEXT, "the JSON line"),
    ),
)
TABLES = (RUNS, READINGS, MARKS, CONDITIONS, SAID)


class RunTables:
    """One run as rows of the tables.

    Args:
        log: the log.
        row: the run.
        content: fingerprint of its items.
        places: what each probe sits in, by name.
        as_temperature: the temperature of a reading.
    """

    def __init__(
        self,
        log: Archive,
        row: RunRow,
        content: str,
        places: Callable[[str], str | None],
        as_temperature: AsTemperature,
    ) -> None:
        self._log = log
        self._row = row
        self._content = content
        self._places = places
        self._as_temperature = as_temperature
        self._head: Cells = (row.header.id, row.header.virtual)

    def rows(self) -> Mapping[str, list[Cells]]:
        """The rows of each table by its name.

        Raises:
            LogError: the run cannot be read.
        """
        found: dict[str, list[Cells]] = {table.name: [] for table in TABLES}
        found[RUNS.name].append(self.run())
        for seq, (_, item) in enumerate(self._log.items(self._row.header.id), start=1):
            turn = (*self._head, seq, *self._times(item.t))
            match item:
                case Reading():
                    found[READINGS.name].append((*turn, *self._reading(item)))
                case Mark():
                    found[MARKS.name].append((*turn, *_mark(item)))
                case Condition():
                    found[CONDITIONS.name].append((*turn, item.code, item.active, item.text))
        said = self._log.said_when(self._row.header.id)
        for seq, (at, kind, line) in enumerate(said, start=1):
            found[SAID.name].append((*self._head, seq, *self._times(at), kind, line))
        return found

    def run(self) -> Cells:
        """The row of the run itself."""
        row, head = self._row, self._row.header
        return (
            *self._head,
            self._moment(0.0),
            None if row.ended_at is None else self._moment(row.ended_at),
            row.duration_s,
            head.recipe or None,
            " ".join(row.tags) or None,
            row.readings,
            row.marks,
            self._content,
            head.version,
            head.document,
        )

    def _reading(self, reading: Reading) -> Cells:
        return (
            reading.probe,
            self._places(reading.probe),
            _number(self._as_temperature(reading)),
            _number(reading.value),
            reading.unit.value,
            _number(reading.cj_c),
            reading.fault.value if reading.fault else None,
            reading.by,
            _number(reading.sd_k),
            _number(reading.board_s),
        )

    def _times(self, t: float) -> tuple[datetime.datetime, float]:
        return self._moment(t), t

    def _moment(self, t: float) -> datetime.datetime:
        # Whole milliseconds, so that every format holds the very same moment.
        unix_ms = round((self._row.header.started_unix + t) * 1000.0)
        return _EPOCH + datetime.timedelta(milliseconds=unix_ms)


_EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)


def day_of(row: RunRow) -> str:
    """The day, UTC, under which a run stands.

    Args:
        row: the run.
    """
    return datetime.datetime.fromtimestamp(row.header.started_unix, datetime.UTC).date().isoformat()


def _mark(mark: Mark) -> Cells:
    amounts = (mark.detail.get(name) for name in _AMOUNTS)
    note = mark.detail.get("note")
    return (
        mark.word.value,
        mark.by.value,
        *(_number(amount) for amount in amounts),
        None if note is None else str(note),
        json.dumps(dict(mark.detail), ensure_ascii=False),
    )


def _number(value: DetailValue | None) -> float | None:
    """A finite number; None for all else, which not every format can hold."""
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None
