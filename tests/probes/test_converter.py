"""From readings in every form to temperatures."""

from __future__ import annotations

from math import nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.probes.converter import (
    converted,
    corrected_c,
    linearised,
    straight_line_c,
    undo_straight_line_c,
)
from rigmon.probes.thermocouple import emf_mv
from rigmon.records import Converter, Fault, Place, ProbeSetup, Reading, Unit


def probe(
    converter: Converter, kind: str = "T", offset_k: float = 0.0, gain: float = 1.0
) -> ProbeSetup:
    """A bath probe behind a board that converts so."""
    return ProbeSetup("bath", Place.BATH, kind, converter, offset_k, gain)


@given(st.sampled_from("TKJEN"), st.floats(-60.0, 110.0), st.floats(-10.0, 60.0))
@settings(deadline=None)
def test_undoing_a_straight_line_gives_the_truth_back(
    kind: str, true_c: float, cj_c: float
) -> None:
    """What a straight-line chip makes of any kitchen temperature must be undone within 1e-6 K."""
    reported_c = straight_line_c(true_c, cj_c, kind)
    assert undo_straight_line_c(reported_c, cj_c, kind) == pytest.approx(true_c, abs=1e-6)


@given(st.sampled_from("TKJEN"), st.floats(-40.0, 60.0))
@settings(deadline=None)
def test_a_straight_line_is_right_at_the_board_itself(kind: str, cj_c: float) -> None:
    """At the board's own temperature there is no emf, so the chip must report the truth."""
    assert straight_line_c(cj_c, cj_c, kind) == pytest.approx(cj_c, abs=1e-12)


def test_a_linearising_board_is_taken_at_its_word() -> None:
    """Degrees from a board that linearises by itself must pass unchanged."""
    reading = Reading(0.0, "bath", -14.25, cj_c=25.0)
    assert linearised(reading, probe(Converter.LINEARISED)).c == -14.25


@pytest.mark.parametrize("converter", list(Converter))
def test_an_emf_is_inverted_with_its_cold_junction(converter: Converter) -> None:
    """Millivolts must become the temperature whose emf against the cold junction they are."""
    mv = emf_mv(-15.0, "T") - emf_mv(23.5, "T")
    reading = Reading(0.0, "bath", mv, Unit.MILLIVOLT, cj_c=23.5)
    assert linearised(reading, probe(converter)).c == pytest.approx(-15.0, abs=1e-6)


def test_a_straight_line_chip_is_undone() -> None:
    """A K chip that reports −19.0 °C beside a board at 25 °C must stand for −21 °C."""
    reading = Reading(0.0, "bath", -18.996, cj_c=25.0)
    found = linearised(reading, probe(Converter.STRAIGHT_LINE, kind="K"))
    assert found.c == pytest.approx(-21.0, abs=0.001)


@pytest.mark.parametrize(
    ("reading", "converter"),
    [
        (Reading(0.0, "bath", -0.5, Unit.MILLIVOLT), Converter.EMF),
        (Reading(0.0, "bath", -19.0), Converter.STRAIGHT_LINE),
    ],
)
def test_without_a_cold_junction_nothing_is_guessed(reading: Reading, converter: Converter) -> None:
    """An emf or a straight line without a cold junction must give no value and say what to send."""
    found = linearised(reading, probe(converter))
    assert found.c is None
    assert "bath/cj" in found.problem


@pytest.mark.parametrize(
    ("reading", "setup", "named"),
    [
        (Reading(0.0, "bath", -14.0), probe(Converter.EMF), "converter"),
        (Reading(0.0, "bath", 35.0, Unit.WATT), probe(Converter.LINEARISED), "watts"),
        (
            Reading(0.0, "bath", -0.5, Unit.MILLIVOLT, cj_c=25.0),
            probe(Converter.EMF, kind="other"),
            "type",
        ),
        (
            Reading(0.0, "bath", 2000.0, cj_c=25.0),
            probe(Converter.STRAIGHT_LINE, kind="K"),
            "2000 °C",
        ),
        (Reading(0.0, "bath", 90.0, Unit.MILLIVOLT, cj_c=25.0), probe(Converter.EMF), "90 mV"),
        (Reading(0.0, "bath", 0.5, Unit.MILLIVOLT, cj_c=900.0), probe(Converter.EMF), "900 °C"),
    ],
)
def test_what_cannot_be_a_temperature_says_why(
    reading: Reading, setup: ProbeSetup, named: str
) -> None:
    """A reading that does not fit its probe must give no value and one sentence that names it."""
    found = linearised(reading, setup)
    assert found.c is None
    assert "'bath'" in found.problem
    assert named in found.problem
    assert found.problem.endswith(".")


@pytest.mark.parametrize(
    "reading",
    [
        Reading(0.0, "bath", None, fault=Fault.OPEN),
        Reading(0.0, "bath", 2.0, fault=Fault.SHORT_GND),
        Reading(0.0, "bath", None),
        Reading(0.0, "bath", nan),
    ],
)
@pytest.mark.parametrize("converter", list(Converter))
def test_a_fault_or_no_number_is_left_to_the_screen(reading: Reading, converter: Converter) -> None:
    """What carries its own fault, or no number, must give no value and no second complaint."""
    found = linearised(reading, probe(converter))
    assert found.c is None
    assert found.problem == ""


def test_gain_is_applied_before_the_offset() -> None:
    """The correction must be gain times temperature plus offset."""
    assert corrected_c(-20.0, probe(Converter.LINEARISED, gain=1.02, offset_k=0.5)) == (
        pytest.approx(-19.9)
    )


def test_a_probes_reading_is_linearised_then_corrected() -> None:
    """The whole way must be the reference function first and the probe's own offset after it."""
    setup = probe(Converter.STRAIGHT_LINE, kind="K", offset_k=0.3)
    found = converted(Reading(0.0, "bath", -18.996, cj_c=25.0), setup)
    assert found.c == pytest.approx(-20.7, abs=0.001)


def test_a_typed_value_is_neither_undone_nor_corrected() -> None:
    """What a person typed must stay as it is, whatever the board of that probe does."""
    setup = probe(Converter.STRAIGHT_LINE, kind="K", gain=1.1, offset_k=3.0)
    assert converted(Reading(0.0, "bath", -14.5, by="hand"), setup).c == -14.5
