"""The board's lines, read back by hand and by the program's own decoder."""

from __future__ import annotations

import json

import pytest

from rigmon.records import ChecksumRule, Fault, LineForm, Reading, Unit
from rigmon.sources.wire import Decoder
from rigmon.virtual.board import Board, BoardSetup

SAMPLE = (
    Reading(40.0, "bath", -14.25),
    Reading(40.0, "mix", 3.5),
    Reading(40.0, "mixer", 131.5, Unit.WATT),
)


def test_a_senml_line_is_one_pack_with_base_name_and_unit() -> None:
    """The pack holds each reading, °C by the base unit and power by its own."""
    (line,) = Board(BoardSetup("rig-a")).lines(40.0, SAMPLE)
    assert line.endswith(b"\n")
    assert json.loads(line) == [
        {"bn": "rig-a/", "bu": "Cel", "n": "bath", "v": -14.25},
        {"n": "mix", "v": 3.5},
        {"n": "mixer", "u": "W", "v": 131.5},
    ]


def test_a_fault_is_a_record_with_a_word_and_no_value() -> None:
    """A broken circuit says what it is."""
    (line,) = Board(BoardSetup()).lines(1.0, [Reading(1.0, "mix", None, fault=Fault.OPEN)])
    (record,) = json.loads(line)
    assert record["vs"] == "open"
    assert "v" not in record


def test_a_batch_carries_the_age_of_each_sample() -> None:
    """Three samples go into one line, the older ones with a negative relative time."""
    board = Board(BoardSetup(batch=3))
    assert board.lines(1.0, [Reading(1.0, "mix", 1.0)]) == []
    assert board.lines(2.0, [Reading(2.0, "mix", 0.5)]) == []
    (line,) = board.lines(3.0, [Reading(3.0, "mix", 0.25)])
    assert [record.get("t", 0.0) for record in json.loads(line)] == [-2.0, -1.0, 0.0]


def test_nothing_to_say_is_no_line() -> None:
    """A sample in which every reading was lost writes nothing."""
    assert Board(BoardSetup()).lines(1.0, []) == []


def test_a_checksum_is_the_xor_of_the_bytes_before_the_star() -> None:
    """Counted by hand over the line."""
    (line,) = Board(BoardSetup(checksum=True)).lines(1.0, SAMPLE)
    body, _, digits = line.strip().rpartition(b"*")
    total = 0
    for byte in body:
        total ^= byte
    assert int(digits, 16) == total


def test_columns_stand_in_the_order_asked_for_and_lost_ones_are_nan() -> None:
    """One number a column, the board's own time in whole milliseconds."""
    board = Board(BoardSetup(form=LineForm.COLUMNS, columns=("ms", "mix", "bath", "mixer_w")))
    assert board.lines(40.0, SAMPLE) == [b"40000,3.5,-14.25,131.5\n"]
    assert board.lines(41.0, SAMPLE[:1]) == [b"41000,nan,-14.25,nan\n"]


def test_a_frame_holds_both_temperatures_where_the_data_sheet_puts_them() -> None:
    """Bits 31 to 18 count 0.25 °C, bits 15 to 4 count 0.0625 °C, both signed."""
    board = Board(BoardSetup(form=LineForm.FRAMES, columns=("ms", "bath"), board_c=25.0, kind="K"))
    (line,) = board.lines(2.0, [Reading(2.0, "bath", -21.0)])
    clock, word_text = line.decode().strip().split(",")
    word = int(word_text, 16)
    counts = word >> 18
    assert clock == "2000"
    assert (counts - (1 << 14)) * 0.25 == pytest.approx(-19.0, abs=0.13)
    assert (word >> 4 & 0xFFF) * 0.0625 == 25.0
    assert word & 0x2000F == 0


@pytest.mark.parametrize(
    ("fault", "bits"),
    [(Fault.OPEN, 0x10001), (Fault.SHORT_GND, 0x10002), (Fault.SHORT_VCC, 0x10004)],
)
def test_a_frame_shows_a_fault_by_its_bits(fault: Fault, bits: int) -> None:
    """Bit 16 and one of the three lowest."""
    board = Board(BoardSetup(form=LineForm.FRAMES, columns=("mix",)))
    (line,) = board.lines(0.0, [Reading(0.0, "mix", None, fault=fault)])
    assert int(line, 16) & 0x1000F == bits


@pytest.mark.parametrize(
    ("form", "columns"),
    [
        (LineForm.SENML, ()),
        (LineForm.COLUMNS, ("ms", "bath", "mix", "mixer_w")),
        (LineForm.FRAMES, ("ms", "bath", "mix")),
    ],
)
def test_the_program_reads_what_the_board_writes(form: LineForm, columns: tuple[str, ...]) -> None:
    """Every form comes back through the decoder, checksum and all, to the chip's last count."""
    board = Board(BoardSetup(form=form, columns=columns, checksum=True))
    decoder = Decoder(form, columns, ChecksumRule.REQUIRED)
    (line,) = board.lines(40.0, SAMPLE)
    read = {r.probe: r.value for r in decoder.line(line, 100.0).readings}
    if form is LineForm.FRAMES:
        assert set(read) == {"bath", "mix"}
        assert read["bath"] == pytest.approx(-4.4, abs=0.5)
    else:
        assert read == {"bath": -14.25, "mix": 3.5, "mixer": 131.5}


def test_the_board_answers_ping_and_keeps_cues() -> None:
    """`ping` gets name and firmware; a cue sounds and is not answered."""
    board = Board(BoardSetup("slip"))
    (answer,) = board.hear(b"ping\n")
    assert answer.startswith(b"rigmon-board slip ")
    assert board.hear(b"cue high plateau-reached\n") == []
    assert board.hear(b"\xff\xfe nonsense\n") == []
    assert board.cues == ["high plateau-reached"]
