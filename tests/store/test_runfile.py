"""Run files that people make are read, and what is wrong with them is said in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigmon.errors import RunFileError
from rigmon.records import By, Fault, Mark, MarkWord, Reading, RigSetup, Unit
from rigmon.store import ClockRow, RunFile, parse_run, read_run

HEADER = "time_s,bath_c,mix_c,mixer_w,mark,by,detail\n"


def parsed(text: str, *, skip_bad: bool = False) -> RunFile:
    """A run file of a rig without configured probes."""
    return parse_run(text.encode(), "run.csv", RigSetup(), skip_bad=skip_bad)


def refusal(text: str) -> str:
    """What is said of a run file that is refused."""
    with pytest.raises(RunFileError) as caught:
        parsed(text)
    return str(caught.value)


def test_a_row_gives_its_readings_from_left_to_right_and_then_its_mark() -> None:
    """A monitor is fed in the order in which a row is read."""
    run = parsed("mark,time_s,mix_c,bath_c,detail\npour,12.5,21.5,-15.25,mix_g=900\n")
    assert run.items == (
        Reading(12.5, "mix", 21.5),
        Reading(12.5, "bath", -15.25),
        Mark(12.5, MarkWord.POUR, By.MAKER, {"mix_g": 900.0}),
    )
    assert run.columns == (("mix_c", "mix"), ("bath_c", "bath"))


def test_cells_may_be_missing_or_name_a_fault() -> None:
    """An empty cell and `nan` are no reading; a fault word is a reading with that fault."""
    run = parsed(f"{HEADER}0,,nan\n1,open,short-gnd,85\n")
    assert run.items == (
        ClockRow(0.0),
        Reading(1.0, "bath", None, fault=Fault.OPEN),
        Reading(1.0, "mix", None, fault=Fault.SHORT_GND),
        Reading(1.0, "mixer", 85.0, Unit.WATT),
    )


def test_a_row_by_hand_has_readings_by_hand() -> None:
    """What a person read off another thermometer is not taken for a probe's."""
    run = parsed(
        f"{HEADER}5,-14.5,,,,hand\n6,,,,reading,hand,bath_c=-14.5\n7,-15,,,pour,detected\n"
    )
    assert run.items == (
        Reading(5.0, "bath", -14.5, by="hand"),
        Mark(6.0, MarkWord.READING, By.HAND, {"bath_c": -14.5}),
        Reading(7.0, "bath", -15.0),
        Mark(7.0, MarkWord.POUR, By.DETECTED),
    )


def test_times_are_kept_as_they_are_even_backwards() -> None:
    """A run may begin at any time, and a late row is a late reading."""
    run = parsed("time_s,bath_c\n-3.25,1\n100,2\n99.5,3\n")
    assert [item.t for item in run.items] == [-3.25, 100.0, 99.5]


def test_times_of_day_count_from_the_first_row() -> None:
    """Run time is the distance from the first row to 1 ms, through any change of offset."""
    run = parsed(
        "time,bath_c\n2026-10-25T02:59:59.9996+02:00,1\n2026-10-25T02:00:01+01:00,2\n"
        "2026-10-25 01:00:03Z,3\n"
    )
    assert [item.t for item in run.items] == [0.0, 1.0, 3.0]
    assert run.started_unix == pytest.approx(1_792_889_999.9996, abs=1e-3)


def test_a_spreadsheet_with_decimal_commas_is_read() -> None:
    """Semicolons, decimal commas, a byte order mark and CR LF say the same as the plain form."""
    plain = parsed("time_s,bath_c,mark,detail\n0.5,-14.25,recharge,\"ice_g=900 note='a, b'\"\n")
    sheet = parsed(
        "\ufefftime_s;bath_c;mark;detail\r\n0,5;-14,25;recharge;ice_g=900 note='a, b'\r\n;;;\r\n"
    )
    assert sheet.items == plain.items


def test_headings_may_be_written_in_capitals_and_some_columns_are_passed_over() -> None:
    """A spreadsheet's capital letter changes nothing; x_ columns are the maker's own."""
    run = parsed("Time_s,Bath_C,x_smell,\n0,-14,good,\n")
    assert run.items == (Reading(0.0, "bath", -14.0),)


def test_a_column_that_names_nothing_known_is_noted() -> None:
    """A misspelt place is read as a probe of its own, and the maker hears of it."""
    run = parsed("time_s,bth_c\n0,-14\n")
    assert run.items == (Reading(0.0, "bth", -14.0),)
    assert "'bth_c'" in run.notes[0]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("x,-14", ["run.csv:4 time_s: found 'x', a number is needed"]),
        (",-14", ["run.csv:4 time_s: is empty"]),
        ("1e300,-14", ["run.csv:4 time_s: found '1e300'", "seconds"]),
        ("700000,-14", ["run.csv:4 time_s: found '700000'", "more than a week"]),
        ("1,cold", ["run.csv:4 bath_c: found 'cold'", "open, short-gnd, short-vcc"]),
        ("1,-14.5.2", ["run.csv:4 bath_c: found '-14.5.2', a number is needed"]),
        ("1,inf", ["run.csv:4 bath_c: found 'inf'"]),
        ("1,,,,puor", ["run.csv:4 mark:", "'puor'", "nearest", "'pour'"]),
        ("1,,,,pour,made", ["run.csv:4 by: found 'made'", "maker, detected, hand"]),
        ("1,,,,pour,,mixg=9", ["run.csv:4 detail:", "'mixg'", "nearest", "'mix_g'"]),
        ("1,,,,pour,,mix_g=-9", ["run.csv:4 detail: mix_g: found '-9'", "negative"]),
        ("1,,,,,,mix_g=9", ["run.csv:4 detail: found 'mix_g=9' in a row without a mark"]),
        ("1,2,3,4,,,,8", ["run.csv:4 found '8' in a column without a name"]),
        ('1,"2', ["run.csv:4 a quotation mark is opened in this row and not closed"]),
        ('1,"2"3', ["run.csv:4 a quotation mark stands inside a quoted cell"]),
    ],
)
def test_a_bad_row_is_named_with_what_was_expected(row: str, words: list[str]) -> None:
    """The sentence gives file, line, column, what was found and what is allowed."""
    said = refusal(f"# a comment\n{HEADER}0,-14\n{row}\n5,-14\n")
    assert "\n" not in said
    assert [word for word in words if word not in said] == []


def test_every_fault_is_reported_up_to_twenty() -> None:
    """All faults come at once, so that a file is mended in one go; past twenty they are counted."""
    lines = refusal(HEADER + "".join(f"{t},cold,warm\n" for t in range(30))).splitlines()
    assert lines[0].startswith("run.csv:2 bath_c")
    assert lines[1].startswith("run.csv:2 mix_c")
    assert len(lines) == 21
    assert lines[-1] == "and 40 more"


def test_skipping_bad_rows_keeps_the_rest() -> None:
    """A row with a fault is left out whole and reported; the others are as without it."""
    run = parsed(f"{HEADER}0,-14,4\n1,-14,warm\n2,-13,3\n", skip_bad=True)
    assert [item.t for item in run.items] == [0.0, 0.0, 2.0, 2.0]
    assert run.skipped == (
        "run.csv:3 mix_c: found 'warm', a number, nan or open, short-gnd, short-vcc is needed",
    )


def test_skipping_every_row_is_no_run() -> None:
    """A file without one good row is refused with its faults, even if bad rows are skipped."""
    with pytest.raises(RunFileError, match=r"run\.csv:2 bath_c"):
        parsed(f"{HEADER}0,cold\n", skip_bad=True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "run.csv is empty"),
        ("# only a comment\n\n", "run.csv is empty"),
        ("0,-14.5\n1,-14.6\n", "run.csv:1 is no header (it begins with '0')"),
        ("bath_c,mix_c\n1,2\n", "has no time column; add time_s"),
        ("time_s,mark\n1,pour\n", "has no probe column"),
        ("time_s,mixer_w\n1,80\n", "has no probe column"),
        ("time_s,time,bath_c\n", "both time_s and time"),
        ("time_s,bath_f\n", "unknown column 'bath_f'; the nearest known one is 'bath_c'"),
        ("tme_s,bath_c\n", "unknown column 'tme_s'; the nearest known one is 'time_s'"),
        ("time_s,bath_c,bath_c\n", "'bath_c' and 'bath_c' both belong to probe 'bath'"),
        ("time_s,mark,bath_c,Mark\n", "two columns 'Mark'"),
        ('time_s,"bath_c\n', "quotation mark"),
        ("time_s,bath_c\n", "has a header and no rows"),
    ],
)
def test_a_file_without_a_sound_header_is_refused(text: str, words: str) -> None:
    """Each way in which the header can be wrong has its own sentence."""
    said = refusal(text)
    assert words in said
    assert "\n" not in said


def test_a_file_that_is_not_there_or_no_text_is_refused(tmp_path: Path) -> None:
    """A missing file, a directory, and bytes that are not UTF-8 each have their sentence."""
    latin = tmp_path / "latin.csv"
    latin.write_bytes("time_s,bath_c\n# kühl\n0,1\n".encode("latin-1"))
    for path, words in (
        (tmp_path / "none.csv", "none.csv: there is no such file"),
        (tmp_path, "is a directory"),
        (latin, r"latin.csv:2 is not UTF-8 text \(byte 0xfc\)"),
    ):
        with pytest.raises(RunFileError, match=words):
            read_run(path, RigSetup())
