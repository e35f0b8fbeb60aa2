"""A mapping file says how somebody else's table is read; what is wrong in it is told."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from rigmon.config.mapping import load_mapping
from rigmon.errors import ConfigError
from rigmon.records import Mark, MarkWord

WHOLE = """
delimiter = "tab"
decimal = ","
encoding = "cp1252"
skip_rows = 3
missing = ["--", "Fehler"]
[time]
columns = ["Datum", "Zeit"]
format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/Berlin"
[[probe]]
column = "Kanal 1"
probe = "bath"
unit = "F"
[marks]
column = 5
[marks.words]
Start = "pour mix_g=900"
Pause = ""
[[mark]]
at_s = -120
mark = "ice-in ice_g=2600 salt_g=650"
"""
LEAST = """
[time]
column = 1
format = "s"
[[probe]]
column = 2
probe = "bath"
unit = "C"
"""


def told(tmp_path: Path, text: str) -> str:
    """What is said of a mapping that is refused."""
    path = tmp_path / "map.toml"
    path.write_text(text)
    with pytest.raises(ConfigError) as refused:
        load_mapping(path)
    return str(refused.value).replace(f"{path}:", "")


def test_a_whole_mapping_is_read(tmp_path: Path) -> None:
    """Every key finds its place."""
    path = tmp_path / "map.toml"
    path.write_text(WHOLE)
    found = load_mapping(path)
    assert (found.delimiter, found.decimal_comma, found.encoding) == ("\t", True, "cp1252")
    assert (found.skip_rows, found.headings) == (3, True)
    assert found.missing == {"--", "fehler"}
    assert found.time.columns == ("Datum", "Zeit")
    assert found.time.zone is not None
    summer = datetime.datetime(2026, 7, 4, tzinfo=found.time.zone)
    assert summer.utcoffset() == datetime.timedelta(hours=2)
    assert [(one.column, one.probe, one.unit) for one in found.probes] == [("Kanal 1", "bath", "F")]
    assert found.marks is not None
    assert found.marks.words == {
        "start": Mark(0.0, MarkWord.POUR, detail={"mix_g": 900.0}),
        "pause": None,
    }
    (ice,) = found.fixed
    assert (ice.t, ice.word, ice.detail["ice_g"]) == (-120.0, MarkWord.ICE_IN, 2600.0)


def test_what_is_left_out_is_seen_from_the_table(tmp_path: Path) -> None:
    """A delimiter and a decimal sign need not be told."""
    path = tmp_path / "map.toml"
    path.write_text(LEAST)
    found = load_mapping(path)
    assert (found.delimiter, found.decimal_comma, found.skip_rows) == (None, None, 0)
    assert (found.marks, found.fixed, found.time.zone) == (None, (), None)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "1 time: missing, add a table [time] with column and format"),
        (LEAST.replace("[[probe]]", "[[prob]]"), "5 prob: unknown key, the nearest known one is "),
        (LEAST.replace('"s"', '"sec"'), '4 time.format: found "sec", allowed are iso, ms, s, min,'),
        (LEAST.replace('"s"', '"%H:%N"'), "4 time.format: found %N, allowed are %d %m"),
        (LEAST.replace('"s"', '"%d.%m.%y"'), "2 time: zone is missing: which time is it? Add one"),
        (LEAST.replace('"s"', '"%H:%M:%S"\nzone = "UTC"'), "2 time: day is missing, since the for"),
        (
            LEAST.replace('"s"', '"s"\nday = 2026-07-04'),
            "5 time.day: the times have a day of their",
        ),
        (
            LEAST.replace('"s"', '"unix"\nstart = 2026-07-04T14:00:00Z'),
            "5 time.start: the times say by themselves when it was",
        ),
        (LEAST.replace('"s"', '"s"\nstart = 2026-07-04T14:00:00'), "5 time.start: its offset is m"),
        (LEAST.replace('"s"', '"s"\nstart = "today"'), '5 time.start: found "today", allowed is a'),
        (LEAST.replace('"s"', '"iso"\nzone = "Mars/Olympus"'), '5 time.zone: found "Mars/Olympus"'),
        (LEAST.replace('"s"', '"iso"\nzone = "Europe"'), '5 time.zone: found "Europe", allowed is'),
        (LEAST.replace('"s"', '"iso"\nzone = "/etc/x"'), '5 time.zone: found "/etc/x", allowed is'),
        (
            LEAST.replace("column = 1", ""),
            "2 time: give either column, or date and time as columns",
        ),
        (
            LEAST.replace("column = 1", 'columns = ["a", "b", "c"]'),
            "3 time.columns: allowed are one",
        ),
        (
            LEAST.replace("column = 2", "column = 0"),
            "6 probe[0].column: found 0, allowed is a head",
        ),
        (LEAST.replace('"C"', '"c"'), '8 probe[0].unit: found "c", allowed are C, F, K, W'),
        (LEAST.replace('"C"', '"W"'), '8 probe[0].unit: found "W" for "bath"; the mixer counts in'),
        (
            "probe = []\n" + LEAST.split("[[", maxsplit=1)[0],
            "1 probe: an empty list, add a table [[probe]]",
        ),
        ('encoding = "morse"' + LEAST, '1 encoding: found "morse", allowed is an encoding as in'),
        ('decimal = "."\ndelimiter = "tap"' + LEAST, '2 delimiter: found "tap", allowed are ,, ;,'),
        (
            LEAST + '[[mark]]\nat_s = 0\nmark = "por"',
            "11 mark[0].mark: unknown mark 'por'; the near",
        ),
        (
            LEAST + '[[mark]]\nat_s = 0\nmark = ""',
            '11 mark[0].mark: found "", allowed is a mark as',
        ),
        (
            LEAST + '[marks]\ncolumn = 3\n[marks.words]\nx = "pour mix=1"',
            "12 marks.words.x: unknown",
        ),
    ],
)
def test_a_fault_is_told_by_line_and_key(tmp_path: Path, text: str, sentence: str) -> None:
    """What was found, what is allowed, and what to write."""
    lines = told(tmp_path, text).splitlines()
    assert [line for line in lines if line.startswith(sentence)], lines


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    """In the order of the file."""
    text = LEAST.replace('"s"', '"sec"').replace('"C"', '"c"').replace("column = 2", "column = 0")
    assert [line.split()[0] for line in told(tmp_path, text).splitlines()] == ["4", "6", "8"]
