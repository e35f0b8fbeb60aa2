"""What must hold of every mix's freezing curve."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.physics.mix import FreezingCurve, bath_limit_c, depression_k, freezing_curve
from rigmon.records import Composition

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
COLDEST_C = -40.0


@st.composite
def mixes(draw: st.DrawFn) -> Composition:
    """Mixes from thin sugar water to nearly syrup, with alcohol and salt."""
    parts = {
        name: draw(st.floats(3.0 if name == "sucrose" else 0.0, most))
        for name, most in {
            "msnf": 15.0,
            "sucrose": 25.0,
            "dextrose": 10.0,
            "fructose": 5.0,
            "glucose_syrup": 8.0,
            "lactose": 3.0,
            "alcohol": 6.0,
            "salt": 1.0,
            "other_solids": 5.0,
            "fat": 15.0,
        }.items()
    }
    return Composition(
        **parts,
        glucose_syrup_de=draw(st.floats(20.0, 100.0)),
        water=100.0 - sum(parts.values()),
    )


def _temperatures(curve: FreezingCurve) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.linspace(max(curve.table_c[-1], COLDEST_C), 30.0, 700)


@settings(max_examples=60, deadline=None)
@given(mixes())
def test_frozen_share_falls_as_the_mix_warms(composition: Composition) -> None:
    """Warmer is never more frozen; above the freezing point nothing is."""
    curve = freezing_curve(composition)
    t = _temperatures(curve)
    frozen = curve.frozen_pct(t)
    assert np.all(np.diff(frozen) <= 0.0)
    assert np.all(frozen[t >= curve.initial_c] == 0.0)
    assert np.all((frozen >= 0.0) & (frozen < 100.0))


@settings(max_examples=60, deadline=None)
@given(mixes())
def test_temperature_undoes_frozen_share(composition: Composition) -> None:
    """To the frozen share and back returns the temperature to 1e-9 K within the table."""
    curve = freezing_curve(composition)
    t = _temperatures(curve)
    t = t[t < curve.initial_c]
    assert curve.temperature_c(curve.frozen_pct(t)) == pytest.approx(t, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(mixes())
def test_enthalpy_rises_and_can_be_undone(composition: Composition) -> None:
    """Enthalpy rises with temperature, and gives back temperature and frozen share to 1e-9."""
    curve = freezing_curve(composition)
    t = _temperatures(curve)
    h = curve.enthalpy_j_g(t)
    assert np.all(np.diff(h) > 0.0)
    back_c, frozen = curve.from_enthalpy(h)
    assert back_c == pytest.approx(t, abs=1e-9)
    assert frozen == pytest.approx(curve.frozen_pct(t), abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(mixes())
def test_table_keeps_to_the_curve(composition: Composition) -> None:
    """Between its points the table is within 0.005 K of the formula down to -40 °C."""
    curve = freezing_curve(composition)
    unfrozen = np.linspace(1.0, 0.02, 4321)
    exact = -depression_k(composition, unfrozen)
    kept = exact > COLDEST_C
    got = curve.temperature_c(100.0 * (1.0 - unfrozen[kept]))
    assert np.abs(got - exact[kept]).max(initial=0.0) < 0.005


@settings(max_examples=30, deadline=None)
@given(mixes(), st.floats(0.1, 2.0))
def test_more_sugar_in_the_water_freezes_later(composition: Composition, more: float) -> None:
    """Sucrose in place of water lowers the freezing point."""
    sweeter = Composition(
        water=composition.water - more,
        fat=composition.fat,
        sucrose=composition.sucrose + more,
        other_solids=100.0 - composition.water - composition.fat - composition.sucrose,
    )
    plainer = Composition(
        water=composition.water,
        fat=composition.fat,
        sucrose=composition.sucrose,
        other_solids=100.0 - composition.water - composition.fat - composition.sucrose,
    )
    assert freezing_curve(sweeter).initial_c < freezing_curve(plainer).initial_c


def test_slope_is_the_derivative_of_the_curve() -> None:
    """The slope is negative, and what a small step along the curve shows, to 1 %."""
    curve = freezing_curve(TYPICAL)
    f = np.linspace(1.0, 85.0, 60)
    step = (curve.temperature_c(f + 0.2) - curve.temperature_c(f - 0.2)) / 0.4
    assert np.all(step < 0.0)
    assert curve.slope_k_per_pct(f) == pytest.approx(step, rel=0.01)


def test_one_point_of_freezing_takes_the_latent_heat() -> None:
    """Near the freezing point enthalpy per frozen point is the latent heat and little more."""
    curve = freezing_curve(TYPICAL)
    t = curve.temperature_c(1.0)
    sensible = curve.unfrozen_specific_heat_j_gk * (curve.initial_c - t)
    taken = curve.enthalpy_j_g(curve.initial_c) - curve.enthalpy_j_g(t)
    assert taken == pytest.approx(curve.latent_j_per_pct + sensible, rel=1e-3)


def test_enthalpy_is_zero_for_the_unfrozen_mix_at_zero() -> None:
    """The reference state is the unfrozen mix at 0 °C, and no step stands there."""
    curve = freezing_curve(TYPICAL)
    assert curve.enthalpy_j_g(0.0) == pytest.approx(0.0, abs=1e-9)
    assert curve.enthalpy_j_g(1e-3) - curve.enthalpy_j_g(-1e-3) < 0.01


def test_water_alone_freezes_at_zero() -> None:
    """Pure water keeps 0 °C until it is ice, and its ice takes the heat of fusion."""
    water = freezing_curve(Composition(water=100.0))
    assert water.initial_c == pytest.approx(0.0, abs=1e-5)
    assert water.temperature_c(90.0) == pytest.approx(0.0, abs=1e-5)
    assert water.latent_j_per_pct == pytest.approx(3.335, rel=1e-3)
    t_c, frozen = water.from_enthalpy(-166.7)
    assert t_c == pytest.approx(0.0, abs=1e-5)
    assert frozen == pytest.approx(50.0, abs=0.1)


def test_a_mix_of_mostly_alcohol_still_has_a_curve() -> None:
    """What no freezer stiffens is unfrozen at any kitchen temperature, not an error."""
    curve = freezing_curve(Composition(water=40.0, sucrose=20.0, alcohol=40.0))
    assert curve.frozen_pct(-25.0) == 0.0
    assert np.isfinite(curve.enthalpy_j_g(np.linspace(-30.0, 30.0, 50))).all()


def test_floats_come_back_as_floats() -> None:
    """A float in is a plain float out, and an array in an array of its shape."""
    curve = freezing_curve(TYPICAL)
    t_c, frozen = curve.from_enthalpy(-80.0)
    for value in (t_c, frozen, curve.frozen_pct(-5.0), curve.initial_c, curve.latent_j_per_pct):
        assert type(value) is float
    assert curve.frozen_pct(np.full((3, 2), -5.0)).shape == (3, 2)


def test_bath_limit_is_4_k_below_45_percent_frozen() -> None:
    """The limit moves with the mix: a sweeter mix needs a colder bath."""
    curve = freezing_curve(TYPICAL)
    assert bath_limit_c(curve) == pytest.approx(curve.temperature_c(45.0) - 4.0)
    sweeter = freezing_curve(Composition(water=56.7, fat=12.5, msnf=10.5, sucrose=20.3))
    assert bath_limit_c(sweeter) < bath_limit_c(curve)


@pytest.mark.parametrize(
    ("composition", "said"),
    [
        (Composition(water=50.0, sucrose=20.0), "add up to 70 %"),
        (Composition(water=110.0, sucrose=-10.0), "water is 110 %"),
        (Composition(water=80.0, sucrose=25.0, fat=-5.0), "fat is -5 %"),
        (Composition(water=0.0, sucrose=100.0), "nothing to freeze"),
        (Composition(water=90.0, glucose_syrup=10.0, glucose_syrup_de=150.0), "de is 150"),
        (Composition(water=float("nan"), sucrose=20.0), "water is nan %"),
    ],
)
def test_a_mix_that_cannot_be_is_refused_in_a_sentence(composition: Composition, said: str) -> None:
    """What is wrong with a composition is named with the number that was found."""
    with pytest.raises(ValueError, match=said):
        freezing_curve(composition)
