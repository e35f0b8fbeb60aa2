"""One set of vectors: both firmwares must pass it, and the program must read what they write."""

from __future__ import annotations

from typing import Any

import pytest

from rigmon.records import Fault, LineForm, Reading
from rigmon.run.alarms import SOUNDS
from rigmon.sources import BadLine, Decoder, checksum
from rigmon.sources.frames import decode_word
from tests.firmware.conftest import VECTORS, vectors

NOW_S = 1_785_000_000.25
MADE_BY = ["in_python", "in_micropython", "in_cpp"]
PROBES = ("bath", "mix")
COLUMNS = {
    "columns": ("ms", "bath", "bath_cj", "mix", "mix_cj"),
    "frames": ("ms", *PROBES),
    "senml": (),
}
LINES = [case for case in vectors("lines") if case[0].split()[0] in COLUMNS and case[1] != "0 -"]


@pytest.mark.parametrize("name", VECTORS)
@pytest.mark.parametrize("made_by", MADE_BY)
def test_every_command_is_answered_as_the_vectors_say(
    request: pytest.FixtureRequest, made_by: str, name: str
) -> None:
    """Python, a real MicroPython and C++ must give every answer to the last byte."""
    answer = request.getfixturevalue(made_by)
    cases = vectors(name)
    assert cases
    given = answer("".join(f"{command}\n" for command, _ in cases)).removesuffix("\n").split("\n")
    assert [(command, got) for (command, _), got in zip(cases, given, strict=True)] == cases


@pytest.mark.parametrize(("command", "answer"), vectors("words"))
def test_the_program_reads_each_word_as_the_firmware_does(command: str, answer: str) -> None:
    """Temperature or fault and the chip's temperature, or no word that a chip sends."""
    word = int(command.split()[1], 16)
    if answer == "nothing":
        with pytest.raises(BadLine):
            decode_word(word)
        return
    value, chip_c = answer.split()
    fault = Fault(value) if value in set(Fault) else None
    assert decode_word(word) == (None if fault else float(value), float(chip_c), fault)


@pytest.mark.parametrize(
    ("command", "answer"), [case for case in vectors("lines") if case[0].startswith("checksum ")]
)
def test_the_program_has_the_same_checksum(command: str, answer: str) -> None:
    """XOR of all bytes, as two hex digits."""
    assert f"{checksum(command.removeprefix('checksum ').encode()):02X}" == answer


def measured(command: str, taken: int) -> list[Reading]:
    """What the left-hand side of a line's vector says was measured."""
    form, *words = command.split()
    board_s = None
    if form == "senml":
        now_ms, words = int(words[2]), words[5:]
    else:
        board_s, now_ms, words = int(words[0]) % 2**32 / 1000.0, 0, ["@0", *words[1:]]
    readings: list[Reading] = []
    t, probes, sample, count = NOW_S, iter(PROBES), 0, sum(word[0] == "@" for word in words)
    for word in words:
        if word[0] == "@":
            sample += 1
            t, probes = NOW_S - (now_ms - int(word[1:])) / 1000.0, iter(PROBES)
            continue
        probe = next(probes)
        if word == "-" or taken < sample < count:
            continue
        value, chip_c, fault = _meaning(form, word)
        readings.append(Reading(t, probe, value, cj_c=chip_c, fault=fault, board_s=board_s))
    return readings


def _meaning(form: str, word: str) -> tuple[float | None, float | None, Fault | None]:
    if form == "frames":
        return decode_word(int(word, 16))
    if word in set(Fault):
        return None, None, Fault(word)
    value, _, chip = word.partition("/")
    return int(value) / 1e4, int(chip) / 1e4 if chip else None, None


@pytest.mark.parametrize(("command", "answer"), LINES)
def test_the_program_reads_each_line_as_what_was_measured(command: str, answer: str) -> None:
    """Probe, temperature, cold junction, fault and time, in the form that the line is in."""
    form = command.split(maxsplit=1)[0]
    taken, text = 0, answer
    if form == "senml":
        count, text = answer.split(" ", 1)
        taken = int(count)
    read = Decoder(LineForm(form), COLUMNS[form]).line(text.encode(), NOW_S)
    wanted = measured(command, taken)
    assert not read.faults
    assert [(r.probe, r.value, r.cj_c, r.fault) for r in read.readings] == [
        (r.probe, r.value, r.cj_c, r.fault) for r in wanted
    ]
    assert [r.t for r in read.readings] == pytest.approx([r.t for r in wanted], abs=0.03)
    if form != "senml":
        assert [r.board_s for r in read.readings] == [r.board_s for r in wanted]


def test_the_buzzer_sounds_as_the_program_rings(rigboard: Any) -> None:
    """Beeps, their lengths and their returns are those of the bell, level by level."""
    patterns = rigboard.PATTERNS
    assert {str(priority) for priority in SOUNDS} == set(patterns)
    for priority, sound in SOUNDS.items():
        bell = sound.on_ms, sound.off_ms, sound.bursts, 1000.0 * sound.again_s
        assert patterns[priority][:4] == bell
