"""Somebody else's table becomes a run: units, times and marks as the mapping says."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.config.mapping import ForeignTable, load_mapping
from rigmon.errors import RunFileError
from rigmon.records import Mark, MarkWord, Place, ProbeSetup, Reading, RigSetup, Unit
from rigmon.store import RunFile
from rigmon.store.foreign import parse_foreign, read_foreign

SHEET = """Logger 4711;;;
Datum;Zeit;Kanal 1;Kanal 2;Ereignis
04.07.2026;14:00:00;-12,5;71,6 °F;start
04.07.2026;14:00:01;-12,6;--;
04.07.2026;14:00:02;;71,4;Scrape
04.07.2026;14:00:03;−12,8;NaN;Pause
"""
MAP = """
delimiter = ";"
decimal = ","
skip_rows = 1
missing = ["--"]
[time]
columns = ["Datum", "Zeit"]
format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/Berlin"
[[probe]]
column = "kanal 1"
probe = "bath"
unit = "C"
[[probe]]
column = 4
probe = "mix"
unit = "F"
[marks]
column = "Ereignis"
words = { Start = "pour mix_g=900", pause = "" }
[[mark]]
at_s = -120
mark = "ice-in ice_g=2600 salt_g=650"
"""
PLAIN = """
[time]
column = "t"
format = "{}"
[[probe]]
column = "bath"
probe = "bath"
unit = "C"
"""

Map = Callable[[str], ForeignTable]


@pytest.fixture
def mapped(tmp_path: Path) -> Map:
    """A mapping from its text."""

    def make(text: str) -> ForeignTable:
        path = tmp_path / "map.toml"
        path.write_text(text)
        return load_mapping(path)

    return make


def read(text: str, mapping: ForeignTable, setup: RigSetup | None = None) -> RunFile:
    """A table read."""
    return parse_foreign(text.encode(mapping.encoding), "t.csv", mapping, setup or RigSetup())


def times(run: RunFile) -> list[float]:
    """Run times of a run's items."""
    return [item.t for item in run.items]


def test_a_loggers_sheet_is_read(mapped: Map) -> None:
    """Rows on top, decimal commas, °F, words for no value, a marks column and a fixed mark."""
    run = read(SHEET, mapped(MAP))
    assert (
        run.started_unix == datetime.datetime(2026, 7, 4, 11, 58, tzinfo=datetime.UTC).timestamp()
    )
    assert run.items == (
        Mark(0.0, MarkWord.ICE_IN, detail={"ice_g": 2600.0, "salt_g": 650.0}),
        Reading(120.0, "bath", -12.5),
        Reading(120.0, "mix", 22.0),
        Mark(120.0, MarkWord.POUR, detail={"mix_g": 900.0}),
        Reading(121.0, "bath", -12.6),
        Reading(122.0, "mix", 21.888889),
        Mark(122.0, MarkWord.SCRAPE),
        Reading(123.0, "bath", -12.8),
    )
    assert run.columns == (("Kanal 1", "bath"), ("Kanal 2", "mix"))


def test_kelvin_watts_and_configured_probes_are_read(mapped: Map) -> None:
    """Ice melts at 273.15 K; a place means the configured probe that sits there."""
    text = PLAIN.format("s") + '[[probe]]\ncolumn = "w"\nprobe = "mixer"\nunit = "W"\n'
    setup = RigSetup(probes=(ProbeSetup("tc1", Place.BATH), ProbeSetup("motor", Place.MIXER)))
    run = read("t\tbath\tw\n0\t273.15\t40\n", mapped(text.replace('"C"', '"K"', 1)), setup)
    assert run.items == (Reading(0.0, "tc1", 0.0), Reading(0.0, "motor", 40.0, Unit.WATT))
    assert run.started_unix is None


@pytest.mark.parametrize(
    ("form", "cells", "expected", "start"),
    [
        ("ms", ("812000", "813500"), [0.0, 1.5], None),
        ("min", ("0,5", "1,0"), [0.0, 30.0], None),
        ("h", ("1", "1,01"), [0.0, 36.0], None),
        ("unix", ("1783173600", "1783173601.25"), [0.0, 1.25], 1_783_173_600.0),
        ("unix-ms", ("1783173600000", "1783173600250"), [0.0, 0.25], 1_783_173_600.0),
        ("iso", ("2026-07-04T16:00:00+02:00", "2026-07-04 14:00:01Z"), [0.0, 1.0], 1_783_173_600.0),
        ("%d/%m/%y %I:%M %p %z", ("04/07/26 02:00 PM +0000", "04/07/26 02:01 PM +0000"),
         [0.0, 60.0], 1_783_173_600.0),
    ],
)  # fmt: skip
def test_every_way_to_write_a_time(
    mapped: Map, form: str, cells: tuple[str, str], expected: list[float], start: float | None
) -> None:
    """Counted from anywhere, since 1970, or as date and time."""
    text = "t;bath\n" + "".join(f"{cell};-15\n" for cell in cells)
    run = read(text, mapped(PLAIN.format(form)))
    assert (times(run), run.started_unix) == (expected, start)


def test_counted_times_may_be_given_a_start(mapped: Map) -> None:
    """That is when the first row was; a fixed mark before it moves the start of the run."""
    text = PLAIN.format('s"\nstart = 2026-07-04T16:00:00\nzone = "+02:00')
    mark = '[[mark]]\nat_s = -60\nmark = "ice-in"\n'
    run = read("t;bath\n500;-15\n501;-15\n", mapped(text + mark))
    assert (times(run), run.started_unix) == ([0.0, 60.0, 61.0], 1_783_173_600.0 - 60.0)


def test_times_without_a_day_pass_midnight(mapped: Map) -> None:
    """The second day follows the first."""
    text = PLAIN.format('%H:%M:%S"\nzone = "UTC"\nday = 2026-07-04\n#')
    run = read("t;bath\n23:59:59;-15\n00:00:01;-15\n00:00:02;-15\n", mapped(text))
    assert times(run) == [0.0, 2.0, 3.0]


def test_the_hour_that_comes_twice_is_gone_through_twice(mapped: Map) -> None:
    """When the clocks are put back, the second 02:59 is an hour after the first."""
    text = PLAIN.format('%Y-%m-%d %H:%M"\nzone = "Europe/Berlin')
    rows = "t;bath\n" + "".join(
        f"2026-10-25 {clock};-15\n" for clock in ("02:40", "02:59", "02:00", "02:30", "03:00")
    )
    run = read(rows, mapped(text))
    assert times(run) == [60.0 * minute for minute in (0, 19, 20, 50, 80)]


def test_a_table_that_begins_with_the_newest_is_turned_round(mapped: Map) -> None:
    """Rows of one moment keep their order."""
    text = PLAIN.format("unix")
    run = read("t;bath\n1783173602;-3\n1783173601;-2\n1783173600;-1\n", mapped(text))
    assert (times(run), run.started_unix) == ([0.0, 1.0, 2.0], 1_783_173_600.0)


def test_a_table_without_headings_or_with_blanks_between(mapped: Map) -> None:
    """Columns by number; any number of blanks; numbers in quotation marks."""
    text = (
        'delimiter = "space"\nheadings = false\n' + PLAIN.format("s").replace('"t"', "1")
    ).replace('column = "bath"', "column = 3")
    run = read('0   x  -15.5\n1  x   "-15.25"\n\n', mapped(text))
    assert [item.value for item in run.items if isinstance(item, Reading)] == [-15.5, -15.25]


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ("x;-15", "t.csv:2 t: found 'x', a number is needed"),
        (";-15", "t.csv:2 t: is empty, every row needs a time"),
        ("0;warm", "t.csv:2 bath: found 'warm', a number is needed; name words that mean no value"),
        ("0;59 °F", "t.csv:2 bath: found '59 °F', but its unit is said to be C"),
        ('0;"-15', "t.csv:2 a quotation mark is opened in this row and not closed"),
        (
            "0;-15\n700000;-15",
            "t.csv:3 t: found '700000', more than a week from the rows before it",
        ),
        ("", "t.csv holds no readings and no marks below its headings"),
    ],
)
def test_a_row_that_cannot_be_read_is_told_by_its_line(
    mapped: Map, rows: str, sentence: str
) -> None:
    """Where it is, what was found, and what to do."""
    with pytest.raises(RunFileError) as refused:
        read(f"t;bath\n{rows}\n", mapped(PLAIN.format("s")))
    assert str(refused.value).startswith(sentence)


def test_a_date_that_is_none_and_a_word_that_is_no_mark_are_told(mapped: Map) -> None:
    """With the form that is wanted, and where to name the word."""
    bad = SHEET.replace("04.07.2026;14:00:01", "2026-07-04;14:00:01").replace("Scrape", "Kratzen")
    with pytest.raises(RunFileError) as refused:
        read(bad, mapped(MAP))
    first, second = str(refused.value).splitlines()
    assert first == (
        "t.csv:4 Datum: found '2026-07-04 14:00:01', a time written %d.%m.%Y %H:%M:%S is needed"
    )
    assert second.startswith("t.csv:5 Ereignis: found 'Kratzen', which is no mark and stands not")
    kept = parse_foreign(bad.encode(), "t.csv", mapped(MAP), RigSetup(), skip_bad=True)
    assert (len(kept.skipped), len(kept.items)) == (2, 5)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (('"kanal 1"', '"Kanal 7"'), "probe[0].column: t.csv:2 has no column 'Kanal 7'; it has Da"),
        (('"kanal 1"', '"Kanal"'), "probe[0].column: t.csv:2 has no column 'Kanal'; it has Datum,"),
        (('"mix"', '"bath"'), "probe[1].column: 'bath' has two columns; keep one"),
        (('"mix"', '"x_mix"'), "probe[1].column: 'x_mix' cannot be a probe's name; allowed are"),
        (("skip_rows = 1", "skip_rows = 6"), "t.csv holds no row of headings below its first 6"),
        (
            ("skip_rows", "headings = false\nskip_rows"),
            "is a heading, and the table has none",
        ),
    ],
)
def test_a_column_that_is_not_there_is_told(
    mapped: Map, change: tuple[str, str], sentence: str
) -> None:
    """By the mapping's line and the table's, with what there is."""
    with pytest.raises(RunFileError, match=r"csv|toml") as refused:
        read(SHEET, mapped(MAP.replace(*change)))
    assert sentence in str(refused.value)


def test_a_heading_that_is_there_twice_is_told(mapped: Map) -> None:
    """A number tells them apart."""
    with pytest.raises(RunFileError, match=r"t.csv:1 has several columns 'bath'; give the column"):
        read("t;bath;Bath\n0;1;2\n", mapped(PLAIN.format("s")))


def test_another_encoding_is_told_and_read(mapped: Map, tmp_path: Path) -> None:
    """With the line of the byte that does not fit."""
    path = tmp_path / "t.csv"
    path.write_bytes("t;bath\n0;-15 °C\n".encode("cp1252"))
    with pytest.raises(RunFileError, match=r"t.csv:2 is not utf-8-sig text \(byte 0xb0\); give"):
        read_foreign(path, mapped(PLAIN.format("s")), RigSetup())
    run = read_foreign(path, mapped('encoding = "cp1252"' + PLAIN.format("s")), RigSetup())
    assert run.items == (Reading(0.0, "bath", -15.0),)


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 5000), st.integers(-300, 300)), min_size=1, max_size=8))
def test_what_was_written_in_any_manner_is_read_back(rows: list[tuple[int, int]]) -> None:
    """Tenths of a second and of a degree, decimal commas and semicolons, whatever the order."""
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        path = Path(folder) / "map.toml"
        path.write_text('decimal = ","' + PLAIN.format("s"))
        mapping = load_mapping(path)
    text = "t;bath\n" + "".join(
        f"{t // 10},{t % 10};{c / 10:.1f}\n".replace(".", ",") for t, c in rows
    )
    found = read(text, mapping).items
    first = min(t for t, _ in rows)
    wanted = sorted(((t - first) / 10, c / 10) for t, c in rows)
    values = sorted((item.t, item.value) for item in found if isinstance(item, Reading))
    assert values == [pytest.approx(one) for one in wanted]
