"""The form of a board's lines is guessed from the lines alone."""

from __future__ import annotations

import pytest

from rigmon.records import ChecksumRule, LineForm
from rigmon.sources.guess import guess, places_named
from rigmon.virtual.board import with_checksum

Lines = list[tuple[float, bytes]]


def came(*texts: str, every_s: float = 1.0) -> Lines:
    """Lines that came one after the other."""
    return [(100.0 + every_s * k, text.encode()) for k, text in enumerate(texts)]


SENML = ['[{"bn":"rig-a/","bu":"Cel","n":"bath","v":-14.25},{"n":"mix","v":3.5}]'] * 6
COLUMNS = [f"{812_000 + 1000 * k},-14.25,3.5{k}" for k in range(6)]
FRAMES = ["FF1C1880,00381880"] * 6


@pytest.mark.parametrize(
    ("texts", "form", "columns"),
    [
        (SENML, LineForm.SENML, ()),
        (COLUMNS, LineForm.COLUMNS, ("ms", "bath", "mix")),
        ([c.replace(",", ";").replace(".", ",") for c in COLUMNS], LineForm.COLUMNS, None),
        (["3.50 -14.25"] * 6, LineForm.COLUMNS, ("mix", "bath")),
        (["21.00 21.25"] * 6, LineForm.COLUMNS, ("bath", "mix")),
        (FRAMES, LineForm.FRAMES, ("bath", "mix")),
        ([f"{k},{line}" for k, line in enumerate(FRAMES)], LineForm.FRAMES, None),
        (["hello", "world", "temperature is warm"] * 3, None, ()),
    ],
)
def test_each_form_is_told_from_the_others(
    texts: list[str], form: LineForm | None, columns: tuple[str, ...] | None
) -> None:
    """The coldest far below zero is the bath, a number that rises with time is the clock."""
    found = guess(came(*texts))
    assert found.form is form
    if columns is not None:
        assert found.columns == columns


def test_half_a_line_and_a_banner_do_not_matter() -> None:
    """A port is opened in the middle of a line, and a board that starts says so."""
    found = guess(came('"v":3.5}]', "ets Jul 29 2019", *SENML))
    assert found.form is LineForm.SENML


def test_a_line_of_names_is_believed() -> None:
    """Whether it comes as a first line or as a comment."""
    named = guess(came("x", "ms,mix,bath", *COLUMNS))
    assert (named.columns, named.named) == (("ms", "mix", "bath"), True)
    said = guess(came(*COLUMNS), [b"# ms, core, room"])
    assert said.columns == ("ms", "core", "room")


def test_checksums_are_seen() -> None:
    """All right: they may be required. A wrong one is counted. None: they are optional."""
    good = [with_checksum(line) for line in COLUMNS]
    assert guess(came(*good)).checksum is ChecksumRule.REQUIRED
    bad = [*good[:4], good[4][:-1] + ("0" if good[4][-1] != "0" else "1"), good[5]]
    found = guess(came(*bad))
    assert found.wrong_checksums == 1
    assert guess(came(*COLUMNS)).checksum is ChecksumRule.OPTIONAL


def test_another_speed_is_no_text() -> None:
    """Bytes at the wrong speed are hardly legible."""
    noise = bytes((7 * k * k + 131) % 256 for k in range(200))
    found = guess([(float(k), noise[20 * k : 20 * k + 20]) for k in range(10)])
    assert found.form is None
    assert found.legible < 0.9


def test_nothing_is_nothing() -> None:
    """No line has no form."""
    assert guess([]).form is None


def test_names_that_say_where_they_sit() -> None:
    """The clock needs no place."""
    assert places_named(("ms", "bath", "mix_2"))
    assert not places_named(("ms", "tc1", "mix"))
    assert not places_named(("ms",))
