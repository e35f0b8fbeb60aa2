"""What must hold of the heat, the volume and the conduction of a mix as it freezes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.physics import choi_okos
from rigmon.physics.brine import ICE_DENSITY_G_ML
from rigmon.physics.mix import components, freezing_curve
from rigmon.physics.mixheat import (
    after_heat,
    apparent_specific_heat_j_gk,
    conductivity_w_mk,
    density_g_ml,
    heat_to_j_g,
    volume_ml,
)
from rigmon.records import Composition

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
CURVE = freezing_curve(TYPICAL)
SORBET = freezing_curve(Composition(water=74.0, sucrose=26.0))


def test_apparent_specific_heat_adds_up_to_the_heat() -> None:
    """Summed over small steps it gives the enthalpy, through freezing and above it."""
    edges = np.linspace(-35.0, 30.0, 400_001)
    middle = (edges[1:] + edges[:-1]) / 2.0
    heat = float(np.sum(apparent_specific_heat_j_gk(CURVE, middle) * np.diff(edges)))
    taken = CURVE.enthalpy_j_g(30.0) - CURVE.enthalpy_j_g(-35.0)
    assert heat == pytest.approx(taken, rel=1e-4)


def test_apparent_specific_heat_jumps_at_the_freezing_point() -> None:
    """Unfrozen it is the Choi-Okos value, below it many times that, and less as it cools."""
    above = apparent_specific_heat_j_gk(CURVE, 10.0)
    assert above == pytest.approx(choi_okos.specific_heat_j_gk(components(TYPICAL), 10.0), rel=1e-3)
    below = apparent_specific_heat_j_gk(CURVE, np.array([-2.6, -4.0, -8.0, -18.0, -30.0]))
    assert below[0] > 20.0 * above
    assert np.all(np.diff(below) < 0.0)
    assert type(apparent_specific_heat_j_gk(CURVE, -5.0)) is float


def test_apparent_specific_heat_outside_the_table_is_that_at_its_end() -> None:
    """Nothing is looked up beyond the table."""
    ends = apparent_specific_heat_j_gk(CURVE, np.array([-300.0, 300.0]))
    assert ends == pytest.approx(
        apparent_specific_heat_j_gk(CURVE, np.array([-44.99, 99.99])), 0.02
    )


@settings(deadline=None)
@given(from_c=st.floats(-15.0, 60.0), frozen=st.floats(0.0, 85.0))
def test_heat_taken_out_leads_to_the_frozen_share(from_c: float, frozen: float) -> None:
    """From any temperature to any frozen share and back, also where the mix is to be warmed."""
    heat = heat_to_j_g(CURVE, from_c, frozen)
    t_c, found = after_heat(CURVE, from_c, heat)
    assert found == pytest.approx(frozen, abs=1e-6)
    assert t_c == pytest.approx(CURVE.temperature_c(frozen), abs=1e-9)
    at_frozen_c = CURVE.temperature_c(frozen)
    assert (heat > 0.0) == (CURVE.enthalpy_j_g(from_c) > CURVE.enthalpy_j_g(at_frozen_c))


def test_heat_adds_up_over_two_steps() -> None:
    """Chilling first and freezing then takes what both take at once."""
    first = heat_to_j_g(SORBET, 20.0, 0.0)
    then = heat_to_j_g(SORBET, SORBET.initial_c, 50.0)
    assert first + then == pytest.approx(heat_to_j_g(SORBET, 20.0, 50.0))


def test_warmer_and_further_takes_more_heat() -> None:
    """Each degree of prechilling saves heat, each frozen point costs some."""
    from_c, frozen = np.linspace(0.0, 30.0, 31), np.linspace(0.0, 80.0, 81)
    assert np.all(np.diff(heat_to_j_g(CURVE, from_c, np.full_like(from_c, 45.0))) > 0.0)
    assert np.all(np.diff(heat_to_j_g(CURVE, np.full_like(frozen, 4.0), frozen)) > 0.0)


def test_density_of_an_unfrozen_mix_is_that_of_its_components() -> None:
    """Without ice and alcohol this is the Choi-Okos density."""
    shares = components(TYPICAL)
    assert density_g_ml(TYPICAL, 5.0) == pytest.approx(choi_okos.density_g_ml(shares, 5.0))


@pytest.mark.parametrize(("pct", "g_ml"), [(5.0, 0.9894), (10.0, 0.9819)])
def test_spirits_are_lighter_than_water(pct: float, g_ml: float) -> None:
    """Ethanol solutions at 20 °C (CRC Handbook, from memory), water by Choi & Okos 0.25 % light."""
    drink = Composition(water=100.0 - pct, alcohol=pct)
    assert density_g_ml(drink, 20.0) == pytest.approx(g_ml, rel=4e-3)
    assert density_g_ml(drink, 20.0) < density_g_ml(Composition(water=100.0), 20.0)


def test_freezing_makes_a_mix_lighter() -> None:
    """Water grows by a twelfth as it freezes: all of it makes ice of pure water."""
    frozen = np.linspace(0.0, 90.0, 10)
    t = np.full_like(frozen, -5.0)
    assert np.all(np.diff(density_g_ml(TYPICAL, t, frozen)) < 0.0)
    ice = density_g_ml(Composition(water=100.0), 0.0, 100.0)
    assert ice == pytest.approx(ICE_DENSITY_G_ML, rel=1e-3)


def test_air_adds_to_the_volume_by_its_overrun() -> None:
    """1090 g of mix of 1.09 g/ml are a litre, and 1.3 l with 30 % overrun."""
    assert volume_ml(1090.0, 1.09) == pytest.approx(1000.0)
    assert volume_ml(1090.0, 1.09, 30.0) == pytest.approx(1300.0)


def test_conduction_rises_with_ice_and_falls_with_air() -> None:
    """Ice conducts four times as well as water, air hardly at all."""
    frozen = np.linspace(0.0, 85.0, 18)
    t = np.full_like(frozen, -5.0)
    assert np.all(np.diff(conductivity_w_mk(TYPICAL, t, frozen)) > 0.0)
    air = np.linspace(0.0, 100.0, 11)
    t = np.full_like(air, -5.0)
    assert np.all(np.diff(conductivity_w_mk(TYPICAL, t, 50.0, air)) < 0.0)


def test_conduction_ends_at_water_ice_and_air() -> None:
    """Pure water and pure ice conduct as such, and a mix that is nearly all air as air."""
    water = Composition(water=100.0)
    assert conductivity_w_mk(water, 0.0) == pytest.approx(0.571, abs=1e-3)
    assert conductivity_w_mk(water, 0.0, 100.0) == pytest.approx(2.22, abs=5e-3)
    assert conductivity_w_mk(water, 0.0, 0.0, 1e6) == pytest.approx(0.024, rel=0.01)
