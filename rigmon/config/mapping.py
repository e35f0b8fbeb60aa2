"""How somebody else's table is to be read: which column is what, in which units and times."""

from __future__ import annotations

import codecs
import datetime
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Literal, get_args
from zoneinfo import ZoneInfo

from pydantic import Field, PlainValidator

from rigmon.config.faults import Fault, TomlFile, fitted
from rigmon.config.fields import one_of, shown, text, whole
from rigmon.config.models import Finite, Flag, Table, Text
from rigmon.config.raw import Raw, table_of, tables_of
from rigmon.config.reading import read_toml
from rigmon.records import Mark, parse_mark

ForeignUnit = Literal["C", "F", "K", "W"]
Column = str | int
"""A column by its heading, or by its number from 1."""

TIME_WORDS: Mapping[str, float] = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
"""Times counted from any moment, in these units [s]."""
UNIX_WORDS: Mapping[str, float] = {"unix": 1.0, "unix-ms": 0.001}
"""Times counted from the first of January 1970, UTC [s]."""
DELIMITERS: Mapping[str, str] = {",": ",", ";": ";", "tab": "\t", "space": " ", "|": "|"}
_OFFSET = re.compile(r"([+-])([01]\d):?([0-5]\d)")
_DATE = re.compile(r"%[dDjxcFeU]")
_DIRECTIVE = re.compile(r"%(.?)")
_KNOWN = frozenset("aAbBcdfHIjmMpSUwWxXyYzZ%GuV")


@dataclass(frozen=True, slots=True)
class ForeignTime:
    """Where a row says its time.

    Args:
        columns: one column, or date and time in two.
        format: a word of `TIME_WORDS` or `UNIX_WORDS`, `iso`, or a format with `%`.
        zone: time zone of times that do not say theirs.
        day: first day of times that have no date.
        start: when the run started, for times that are counted from there.
    """

    columns: tuple[Column, ...]
    format: str
    zone: datetime.tzinfo | None
    day: datetime.date | None
    start: datetime.datetime | None


@dataclass(frozen=True, slots=True)
class ForeignProbe:
    """A column with the values of one probe.

    Args:
        column: which.
        probe: what it sits in, or the name of a configured probe.
        unit: of its values.
        place: file, line and key, for messages.
    """

    column: Column
    probe: str
    unit: ForeignUnit
    place: str


@dataclass(frozen=True, slots=True)
class ForeignMarks:
    """A column with what the maker did.

    Args:
        column: which.
        words: marks by the words that stand there, in small letters; None for one to pass over.
        place: file, line and key, for messages.
    """

    column: Column
    words: Mapping[str, Mark | None]
    place: str


@dataclass(frozen=True, slots=True)
class ForeignTable:
    """How a table is to be read.

    Args:
        name: the file that says so.
        delimiter: between the cells; None to see it from the headings.
        decimal_comma: True for a comma, False for a point, None for either.
        encoding: of the file.
        skip_rows: rows on top to pass over.
        headings: whether a row of headings comes first.
        missing: cells that mean no value, in small letters.
        time: where the time stands.
        probes: the probes.
        marks: the column of marks, None if there is none.
        fixed: marks that the table does not tell, at s after its first row.
    """

    name: str
    delimiter: str | None
    decimal_comma: bool | None
    encoding: str
    skip_rows: int
    headings: bool
    missing: frozenset[str]
    time: ForeignTime
    probes: tuple[ForeignProbe, ...]
    marks: ForeignMarks | None
    fixed: tuple[Mark, ...]


def _column(value: object) -> Column:
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 10_000:
        return value
    if isinstance(value, str) and value.strip():
        return value.strip()
    raise ValueError(f"found {shown(value)}, allowed is a heading, or a column's number from 1")


def _format(value: object) -> str:
    words = ", ".join(("iso", *TIME_WORDS, *UNIX_WORDS))
    said = text()(value)
    if "%" not in said and said not in words.split(", "):
        raise ValueError(
            f'found {shown(said)}, allowed are {words}, or a format as in "%d.%m.%Y %H:%M:%S"'
        )
    unknown = [letter for letter in _DIRECTIVE.findall(said) if letter not in _KNOWN]
    if unknown:
        raise ValueError(
            f"found %{unknown[0]}, allowed are %d %m %Y %y %b for the day, %H %I %p %M %S %f for "
            "the time, %z for the offset"
        )
    return said


def _zone(value: object) -> datetime.tzinfo:
    said = text()(value)
    if offset := _OFFSET.fullmatch(said):
        ahead = datetime.timedelta(hours=int(offset[2]), minutes=int(offset[3]))
        return datetime.timezone(ahead if offset[1] == "+" else -ahead)
    if said == "UTC":
        return datetime.UTC
    try:
        return ZoneInfo(said)
    except (OSError, ValueError, KeyError):
        # A name may be unknown, one of a directory, or no path at all.
        raise ValueError(
            f'found {shown(said)}, allowed is a time zone as in "Europe/Berlin", an offset as in '
            '"+01:00", or "UTC"'
        ) from None


def _encoding(value: object) -> str:
    said = text()(value)
    try:
        return codecs.lookup(said).name
    except LookupError:
        raise ValueError(
            f'found {shown(said)}, allowed is an encoding as in "utf-8", "utf-16" or "cp1252"'
        ) from None


def _day(value: object) -> datetime.date:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    raise ValueError(
        f"found {shown(value)}, allowed is a day as in 2026-07-04, without quotation marks"
    )


def _start(value: object) -> datetime.datetime:
    if isinstance(value, datetime.datetime):
        return value
    raise ValueError(
        f"found {shown(value)}, allowed is a time as in 2026-07-04T14:00:00+02:00, without "
        "quotation marks"
    )


def _mark(value: object) -> Mark | None:
    said = text(most=500, least=0)(value)
    return parse_mark(said, 0.0) if said.strip() else None


def _fixed_mark(value: object) -> Mark:
    found = _mark(value)
    if found is None:
        raise ValueError('found "", allowed is a mark as in "ice-in ice_g=2600 salt_g=650"')
    return found


_Column = Annotated[Column, PlainValidator(_column)]


class _Time(Table):
    column: _Column | None = None
    columns: tuple[_Column, ...] | None = None
    format: Annotated[str, PlainValidator(_format)] = Field(
        description='format, how a time is written, as in format = "%d.%m.%Y %H:%M:%S"'
    )
    zone: Annotated[datetime.tzinfo, PlainValidator(_zone)] | None = None
    day: Annotated[datetime.date, PlainValidator(_day)] | None = None
    start: Annotated[datetime.datetime, PlainValidator(_start)] | None = None


class _Probe(Table):
    column: _Column = Field(description="the column's heading, or its number from 1")
    probe: Text = Field(description='what the probe sits in, as in probe = "bath"')
    unit: Annotated[ForeignUnit, PlainValidator(one_of(*get_args(ForeignUnit)))] = Field(
        description='the unit of its values: unit = "C", "F", "K", or "W" for the mixer'
    )


class _Marks(Table):
    column: _Column = Field(description="the column's heading, or its number from 1")
    words: dict[str, Annotated[Mark | None, PlainValidator(_mark)]] = Field(default_factory=dict)


class _Fixed(Table):
    at_s: Finite = Field(description="at_s, when it was, in s after the first row")
    mark: Annotated[Mark, PlainValidator(_fixed_mark)] = Field(
        description='mark, as in mark = "ice-in ice_g=2600 salt_g=650"'
    )


class _Mapping(Table):
    delimiter: Annotated[str, PlainValidator(one_of(*DELIMITERS))] | None = None
    decimal: Annotated[str, PlainValidator(one_of(".", ","))] | None = None
    encoding: Annotated[str, PlainValidator(_encoding)] = "utf-8-sig"
    skip_rows: Annotated[int, PlainValidator(whole(0, 10_000))] = 0
    headings: Flag = True
    missing: tuple[Annotated[str, PlainValidator(text(least=0))], ...] = ()
    time: _Time = Field(description="a table [time] with column and format")
    probe: tuple[_Probe, ...] = Field(description="a table [[probe]] for each column of a probe")
    marks: _Marks | None = None
    mark: tuple[_Fixed, ...] = ()


def load_mapping(path: Path) -> ForeignTable:
    """Reads a mapping file.

    Raises:
        ConfigError: it cannot be read, or says something that cannot be; lists every fault.
    """
    file = read_toml(path)
    model, faults = fitted(_Mapping, file.table)
    between = [*_between(file.table)]
    if faults or between or model is None:
        file.refuse(faults, between)
    return _table(model, file)


def _between(raw: Raw) -> Iterator[Fault]:
    time = table_of(raw, "time")
    if time:
        yield from _between_times(time)
    if raw.get("probe") == []:
        yield Fault(("probe",), "an empty list, add a table [[probe]] for each column of a probe")
    for index, probe in tables_of(raw, "probe"):
        if (probe.get("unit") == "W") != (probe.get("probe") == "mixer"):
            yield Fault(
                ("probe", index, "unit"),
                f"found {shown(probe.get('unit'))} for {shown(probe.get('probe'))}; the mixer "
                'counts in "W", and nothing else does',
            )


def _between_times(time: Raw) -> Iterator[Fault]:
    at = ("time",)
    columns = time.get("columns")
    if ("column" in time) == ("columns" in time):
        yield Fault(at, 'give either column, or date and time as columns = ["Date", "Time"]')
    elif isinstance(columns, list) and len(columns) not in {1, 2}:
        yield Fault((*at, "columns"), "allowed are one or two: the time, or date and time")
    said = time.get("format")
    if not isinstance(said, str):
        return
    counted = said in TIME_WORDS
    dateless = "%" in said and not _DATE.search(said)
    if "%" in said and "%z" not in said and "zone" not in time:
        yield Fault(at, 'zone is missing: which time is it? Add one as in zone = "Europe/Berlin"')
    if dateless and "day" not in time:
        yield Fault(at, "day is missing, since the format has none: add one as in day = 2026-07-04")
    if "day" in time and not dateless:
        yield Fault((*at, "day"), "the times have a day of their own, take this out")
    if "start" in time and not counted:
        yield Fault((*at, "start"), "the times say by themselves when it was, take this out")
    start = time.get("start")
    if isinstance(start, datetime.datetime) and start.tzinfo is None and "zone" not in time:
        yield Fault((*at, "start"), "its offset is missing, as in 2026-07-04T14:00:00+02:00")


def _table(model: _Mapping, file: TomlFile) -> ForeignTable:
    time, marks = model.time, model.marks
    start = time.start
    if start is not None and start.tzinfo is None:
        start = start.replace(tzinfo=time.zone)
    columns = (time.column,) if time.column is not None else time.columns or ()
    delimiter = model.delimiter
    return ForeignTable(
        name=file.name,
        delimiter=None if delimiter is None else DELIMITERS[delimiter],
        decimal_comma=None if model.decimal is None else model.decimal == ",",
        encoding=model.encoding,
        skip_rows=model.skip_rows,
        headings=model.headings,
        missing=frozenset(word.strip().casefold() for word in model.missing),
        time=ForeignTime(columns, time.format, time.zone, time.day, start),
        probes=tuple(
            ForeignProbe(
                probe.column, probe.probe, probe.unit, file.place(("probe", index, "column"))
            )
            for index, probe in enumerate(model.probe)
        ),
        marks=None
        if marks is None
        else ForeignMarks(
            marks.column,
            {word.strip().casefold(): mark for word, mark in marks.words.items()},
            file.place(("marks", "column")),
        ),
        fixed=tuple(replace(fixed.mark, t=fixed.at_s) for fixed in model.mark),
    )
