"""The lines that the notes for board builders show are lines that the program reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rigmon.records import LineForm, Reading
from rigmon.sources import Decoder

NOTES = Path(__file__).parents[2] / "firmware_notes" / "README.md"
COLUMNS = {"senml": (), "columns": ("ms", "bath", "mix"), "frames": ("bath", "mix")}


def lines_of(form: str) -> list[str]:
    """The example lines of one form."""
    blocks = re.findall(rf"```{form}\n(.*?)```", NOTES.read_text(encoding="utf-8"), re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def read(form: str, line: str) -> tuple[Reading, ...]:
    """What the program reads in a line."""
    decoder = Decoder(LineForm(form), COLUMNS[form])
    decoded = decoder.line(line.encode(), 1_800_000_000.0)
    assert not decoded.faults
    return decoded.readings


@pytest.mark.parametrize("form", COLUMNS)
def test_every_example_line_is_read_without_a_fault(form: str) -> None:
    """Each line of the notes gives at least one reading."""
    lines = lines_of(form)
    assert lines
    assert all(read(form, line) for line in lines)


def test_the_same_sample_means_the_same_in_all_three_forms() -> None:
    """The first line of each form is the same bath and mix."""
    for form in COLUMNS:
        values = {r.probe: r.value for r in read(form, lines_of(form)[0])}
        assert values == {"bath": -14.25, "mix": 3.5}


def test_the_notes_show_a_fault_and_an_old_sample() -> None:
    """The broken circuit is a fault, and the sample half a second old is stamped so."""
    faulty = [r for line in lines_of("senml") for r in read("senml", line) if r.fault]
    assert [r.fault.value for r in faulty if r.fault] == ["open"]
    (old,) = [r for r in read("senml", lines_of("senml")[3]) if r.probe == "mix"]
    assert old.t == 1_800_000_000.0 - 0.5
