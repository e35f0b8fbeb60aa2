"""Lines of numbers and of chip words, and the checksum that any line may carry."""

from __future__ import annotations

import pytest

from rigmon.errors import ConfigError
from rigmon.records import ChecksumRule, Fault, LineForm, Reading, Unit
from rigmon.sources import BadChecksum, BadLine, Decoded, Decoder, checksum

NOW = 1_785_000_000.0
COLUMNS = ("ms", "bath", "-", "mix")


def columns(line: bytes, names: tuple[str, ...] = COLUMNS) -> Decoded:
    """A line of numbers, decoded."""
    return Decoder(LineForm.COLUMNS, names).line(line, NOW)


def frames(line: bytes, names: tuple[str, ...] = ("bath", "mix")) -> Decoded:
    """A line of words, decoded."""
    return Decoder(LineForm.FRAMES, names).line(line, NOW)


@pytest.mark.parametrize(
    "line",
    [
        b"2500,-14.25,9,3.5\r\n",
        b"2500, -14.25, 9, 3.5",
        b"2500;-14.25;9;3.5\n",
        b"2500;-14,25;9;3,5",
        b"2500\t-14.25\t9\t3.5",
        b"  2500 -14.25   9 3.5 ",
        b"2500,-14.25,nonsense,3.5",
    ],
)
def test_separators_and_decimal_commas(line: bytes) -> None:
    """Comma, semicolon, tab or spaces; a decimal comma where the separator leaves it free."""
    assert columns(line) == Decoded(
        (Reading(NOW, "bath", -14.25, board_s=2.5), Reading(NOW, "mix", 3.5, board_s=2.5))
    )


@pytest.mark.parametrize(
    "line", [b"2500,nan,9,3.5", b"2500,,9,3.5", b"2500\t\t9\t3.5", b",NaN,,3.5"]
)
def test_missing_field_is_a_missing_reading(line: bytes) -> None:
    """`nan` or nothing between separators leaves the other readings."""
    assert [(r.probe, r.value) for r in columns(line).readings] == [("mix", 3.5)]


def test_last_field_may_be_empty() -> None:
    """A tab at the end of a line parts fields, and is not trimmed."""
    assert [r.probe for r in columns(b"2500\t-14.25\t9\t\r\n").readings] == ["bath"]


def test_column_names_carry_unit_and_cold_junction() -> None:
    """`_mv`, `_cj` and `_w` say what a number is; `s` is the board's time in seconds."""
    line = columns(b"12.5,-0.55,23.5,140", ("s", "bath_mv", "bath_cj", "mixer_w"))
    assert line.readings == (
        Reading(NOW, "bath", -0.55, Unit.MILLIVOLT, cj_c=23.5, board_s=12.5),
        Reading(NOW, "mixer", 140.0, Unit.WATT, board_s=12.5),
    )


@pytest.mark.parametrize(
    "line",
    [
        b"2500,-14.25,9",
        b"2500,-14.25,9,3.5,1",
        b"2500,-14.25,9,3.52500,-14.25,9,3.5",
        b"2500,-14.25,9,warm",
        b"2500,inf,9,3.5",
        b"2500,1_0,9,3.5",
        b"2500,1e999,9,3.5",
        b"-14.25",
        b"\xff\xfe,1,2,3",
        b"2500,\x00,9,3.5",
    ],
)
def test_line_of_other_columns_or_no_numbers_is_bad(line: bytes) -> None:
    """Neither half a line nor two lines in one are guessed at."""
    with pytest.raises(BadLine):
        columns(line)


@pytest.mark.parametrize("names", [(), ("ms",), ("-", "bath_cj")])
def test_columns_without_a_probe_are_refused(names: tuple[str, ...]) -> None:
    """A configuration in which no number is a reading cannot be meant."""
    with pytest.raises(ConfigError, match="columns names no probe"):
        Decoder(LineForm.COLUMNS, names)


def test_words_give_probe_and_cold_junction() -> None:
    """A word carries the chip's reading and its own temperature."""
    line = frames(b"0xFFC41900 00e41a80")
    assert line == Decoded(
        (Reading(NOW, "bath", -3.75, cj_c=25.0), Reading(NOW, "mix", 14.25, cj_c=26.5))
    )


def test_words_may_come_with_the_boards_time() -> None:
    """Wherever its column stands."""
    line = frames(b"FFC41900,2500", ("bath", "ms"))
    assert line.readings == (Reading(NOW, "bath", -3.75, cj_c=25.0, board_s=2.5),)


@pytest.mark.parametrize(
    ("bit", "fault"), [(1, Fault.OPEN), (2, Fault.SHORT_GND), (4, Fault.SHORT_VCC)]
)
def test_fault_bits_are_faults_with_a_cold_junction(bit: int, fault: Fault) -> None:
    """The chip's own temperature stays good while the circuit is broken."""
    line = frames(f"{1 << 16 | 0x1900 | bit:08X},00E41A80".encode())
    assert line.readings[0] == Reading(NOW, "bath", None, cj_c=25.0, fault=fault)
    assert line.readings[1].value == 14.25


@pytest.mark.parametrize(
    "word", ["00000000", "FFFFFFFF", "FFC61900", "FFC41908", "FFC51900", "FFC41901"]
)
def test_word_that_no_chip_sends_costs_its_channel(word: str) -> None:
    """One loose chip does not silence the other; when none is left the line is bad."""
    line = frames(f"{word},00E41A80".encode())
    assert [r.probe for r in line.readings] == ["mix"]
    assert line.faults[0].startswith("bath: a word")
    with pytest.raises(BadLine, match="bath: a word"):
        frames(f"{word} {word}".encode())


@pytest.mark.parametrize("line", [b"FFC41900", b"FFC4190,00E41A80", b"FFC41900,-14.25", b"x y"])
def test_field_that_is_no_word_makes_the_line_bad(line: bytes) -> None:
    """Words have 8 hex digits."""
    with pytest.raises(BadLine):
        frames(line)


BODIES = {
    LineForm.SENML: b'[{"n":"bath","u":"Cel","v":-14.25}]',
    LineForm.COLUMNS: b"-14.25",
    LineForm.FRAMES: b"FFC41900",
}


@pytest.mark.parametrize("form", list(LineForm))
@pytest.mark.parametrize("rule", list(ChecksumRule))
def test_checksum_is_checked_whenever_it_is_there(form: LineForm, rule: ChecksumRule) -> None:
    """A right one passes in upper and lower case, a wrong one never does."""
    body = BODIES[form]
    decoder = Decoder(form, ("bath",), rule)
    right = checksum(body)
    for text in (f"*{right:02X}", f"*{right:02x}", f"*{right:02X}\r\n"):
        assert decoder.line(body + text.encode(), NOW).readings[0].probe == "bath"
    with pytest.raises(BadChecksum, match="wrong"):
        decoder.line(body + f"*{right ^ 1:02X}".encode(), NOW)


@pytest.mark.parametrize("form", list(LineForm))
@pytest.mark.parametrize("ending", [b"", b"*", b"*4", b"*4G", b"*123"])
def test_required_checksum_may_not_be_missing(form: LineForm, ending: bytes) -> None:
    """Without the two digits where they belong the line is dropped."""
    decoder = Decoder(form, ("bath",), ChecksumRule.REQUIRED)
    with pytest.raises(BadChecksum, match="missing"):
        decoder.line(BODIES[form] + ending, NOW)


def test_longest_line_is_read_and_a_longer_one_is_not() -> None:
    """1,024 bytes, the line end not counted."""
    names = tuple(f"p{n}" for n in range(256))
    decoder = Decoder(LineForm.COLUMNS, names)
    line = b",".join([b"1.5"] * 255 + [b"1.50"])
    assert len(line) == 1024
    assert len(decoder.line(line + b"\r\n", NOW).readings) == 256
    with pytest.raises(BadLine, match="longer than 1024 bytes"):
        decoder.line(line + b"0", NOW)
