"""Probes in one bath: when they stand still, and what is said while they do not."""

from __future__ import annotations

import pytest

from rigmon.probes.fingerprint import Sight
from rigmon.probes.settling import Settling, Stand, chip_text, level_text, spread_text
from rigmon.records import Converter, Fault, Place, ProbeSetup, Reading

BATH = ProbeSetup("bath", Place.BATH)
MIX = ProbeSetup("mix", Place.MIX)


def fed(*courses: tuple[str, float, float], true_c: float | None = 0.0) -> Settling:
    """Two and a half minutes of probes, each with its start [°C] and its drift [K/s]."""
    settling = Settling({"bath": BATH, "mix": MIX}, true_c)
    for t in range(150):
        for name, start_c, drift in courses:
            value = start_c + drift * t + 0.0625 * ((7 * t) % 3 == 0)
            settling.feed(Reading(float(t), name, value))
    return settling


def test_probes_stand_still_move_or_are_elsewhere() -> None:
    """One in the ice, one on its way there, one on the table."""
    settling = fed(("bath", 0.3, 0.0), ("mix", 2.0, -0.01))
    assert settling.watched("bath").stand is Stand.STILL
    mix = settling.watched("mix")
    assert mix.stand is Stand.MOVES
    assert "falls by 0.60 K a minute" in mix.text
    table = fed(("bath", 21.0, 0.0)).watched("bath")
    assert table.stand is Stand.AWAY
    assert "from 0.0 °C" in table.text


def test_a_probe_is_taken_anyway_if_that_is_asked_for() -> None:
    """Whoever knows better may say so."""
    settling = Settling({"bath": BATH}, 0.0, anyway=True)
    for t in range(130):
        settling.feed(Reading(float(t), "bath", 5.0 + 0.0625 * (t % 2)))
    assert settling.watched("bath").stand is Stand.STILL


def test_a_silent_and_a_broken_probe_are_told() -> None:
    """A probe that never sent anything, and one whose circuit is open."""
    settling = fed(("bath", 0.3, 0.0))
    assert settling.watched("mix").stand is Stand.BROKEN
    settling.feed(Reading(200.0, "mix", None, fault=Fault.OPEN))
    assert "open" in settling.watched("mix").text


def test_a_straight_line_chip_without_its_boards_temperature_is_told() -> None:
    """Nothing is guessed: the sentence says what must be sent."""
    probe = ProbeSetup("bath", Place.BATH, converter=Converter.STRAIGHT_LINE)
    settling = Settling({"bath": probe}, 0.0)
    settling.feed(Reading(0.0, "bath", 6.0))
    assert "send 'bath/cj'" in settling.watched("bath").text


def test_probes_of_one_bath_that_part_too_far_are_doubted() -> None:
    """Class 2 allows type T 1 K each (IEC 60584-1)."""
    near = fed(("bath", 0.4, 0.0), ("mix", -0.9, 0.0))
    far = fed(("bath", 1.6, 0.0), ("mix", -0.9, 0.0))
    for settling, doubted in ((near, False), (far, True)):
        steady = {n: settling.watched(n).steady for n in ("bath", "mix")}
        text = spread_text({n: s for n, s in steady.items() if s}, {"bath": BATH, "mix": MIX})
        assert bool(text) is doubted


def test_a_probe_that_is_farther_off_than_wire_may_be_is_doubted() -> None:
    """At 1.6 K the bath is looked at first."""
    settling = fed(("bath", 1.6, 0.0), ("mix", 0.5, 0.0))
    assert "Look at the bath first" in level_text(BATH, settling.watched("bath"), 0.0)
    assert level_text(MIX, settling.watched("mix"), 0.0) == ""


@pytest.mark.parametrize(
    ("converter", "read_c", "told"),
    [
        (Converter.LINEARISED, 6.0, 'set converter = "straight-line"'),
        (Converter.STRAIGHT_LINE, 0.2, "linearises already"),
        (Converter.LINEARISED, 0.2, ""),
        (Converter.STRAIGHT_LINE, 6.0, ""),
    ],
)
def test_a_converter_set_wrong_is_told(converter: Converter, read_c: float, told: str) -> None:
    """In both directions; one set right is not."""
    probe = ProbeSetup("bath", Place.BATH, converter=converter)
    text = chip_text(probe, [Sight(read_c, 0.0, 25.0)])
    assert told in text
    assert bool(text) is bool(told)
