"""What must hold of a bath of ice, water and salt whatever is in it."""

from __future__ import annotations

from dataclasses import astuple
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics import bath
from rigmon.physics.bath import Equilibrium, enthalpy_j, equilibrium, temperature_c
from rigmon.physics.salts import Salt, salt
from rigmon.records import IceKind, SaltKind, SaltName

NACL = salt(SaltName.SODIUM_CHLORIDE)
salts = st.sampled_from(SaltName).map(salt)
# Anhydrous calcium chloride rests as another salt than the one weighed.
steady_salts = salts.filter(lambda each: each.rests_as is each.name)
grams = st.floats(0.0, 5000.0)
some_grams = st.floats(1.0, 5000.0)
salt_grams = st.just(0.0) | some_grams


def _frozen_j(of: Salt, water_g: float, salt_g: float) -> float:
    """All of it frozen and dry at -60 °C, colder than any bath."""
    return enthalpy_j(of, water_g, 0.0, 0.0, salt_g, -60.0)


def _heat_j(of: Salt, at: Equilibrium) -> float:
    return enthalpy_j(of, at.ice_g, at.water_g, at.dissolved_g, at.undissolved_g, at.t_c)


@given(salts, grams, some_grams, st.floats(0.0, 0.3), grams, st.floats(-40.0, 20.0), grams)
def test_temperature_undoes_enthalpy(
    of: Salt, ice_g: float, water_g: float, ratio: float, lying_g: float, t_c: float, metal: float
) -> None:
    """The heat of a bath and of metal in it finds its temperature again to 1e-9 K."""
    masses = (ice_g, water_g, ratio * water_g, lying_g)
    heat = enthalpy_j(of, *masses, t_c) + metal * t_c
    assert temperature_c(of, *masses, heat, metal) == pytest.approx(t_c, abs=1e-9)


def test_arrays_of_baths_go_as_one_by_one() -> None:
    """A thousand baths at once, bone dry ones among them, go as each alone."""
    rng = np.random.default_rng(4)
    ice, water, lying = rng.uniform(1.0, 3000.0, (3, 200))
    water[:20] = 0.0
    dissolved = 0.2 * water
    t = rng.uniform(-21.0, 5.0, 200)
    heat = enthalpy_j(NACL, ice, water, dissolved, lying, t)
    assert temperature_c(NACL, ice, water, dissolved, lying, heat) == pytest.approx(t, abs=1e-9)
    one = [float(x[7]) for x in (ice, water, dissolved, lying, t)]
    assert heat[7] == pytest.approx(enthalpy_j(NACL, *one), rel=1e-13)


def test_enthalpy_is_quadratic_in_temperature() -> None:
    """At fixed masses the third difference over equal steps is nil."""
    t = np.linspace(-20.0, 10.0, 8)
    one = np.ones(8)
    heat = enthalpy_j(NACL, 900.0 * one, 500.0 * one, 110.0 * one, 80.0 * one, t)
    assert np.abs(np.diff(heat, 3)).max() < 1e-9 * np.abs(heat).max()


@given(steady_salts, some_grams, grams, salt_grams, st.floats(0.0, 700.0))
def test_rest_keeps_mass_and_energy(
    of: Salt, ice_g: float, water_g: float, salt_g: float, j_g: float
) -> None:
    """Water, salt and energy are the same before and after, to 1e-9, and no mass is negative."""
    heat = _frozen_j(of, ice_g + water_g, salt_g) + j_g * (ice_g + water_g + salt_g)
    at = equilibrium(of, ice_g, water_g, salt_g, heat)
    dissolved_g = at.dissolved_g / of.anhydrous_share
    total = ice_g + water_g + salt_g
    assert min(astuple(at)[1:]) >= -1e-9 * total
    assert dissolved_g + at.undissolved_g == pytest.approx(salt_g, abs=1e-9 * total)
    assert sum(astuple(at)[1:]) == pytest.approx(total, rel=1e-9)
    assert _heat_j(of, at) == pytest.approx(heat, rel=1e-9, abs=1e-9 * 333.0 * total)


@given(steady_salts, some_grams, grams, salt_grams, st.floats(0.0, 700.0))
def test_rest_is_where_the_phases_allow_it(
    of: Salt, ice_g: float, water_g: float, salt_g: float, j_g: float
) -> None:
    """Ice only with brine on its liquidus, dry salt only with brine that holds no more of it."""
    total = ice_g + water_g + salt_g
    heat = _frozen_j(of, ice_g + water_g, salt_g) + j_g * total
    at = equilibrium(of, ice_g, water_g, salt_g, heat)
    liquid_g = at.water_g + at.dissolved_g
    if liquid_g < 1e-6 * total:
        assert at.t_c <= (of.eutectic_c if salt_g > 0.0 else 0.0) + 1e-9
        return
    pct = 100.0 * at.dissolved_g / liquid_g
    if at.ice_g > 1e-9 * total:
        assert at.t_c == pytest.approx(of.freezing_c(pct), abs=1e-6)
    else:
        assert at.t_c >= of.freezing_c(pct) - 1e-6
    if at.undissolved_g > 1e-9 * total:
        assert pct == pytest.approx(of.saturation_pct(at.t_c), abs=1e-6)
    else:
        assert pct <= of.saturation_pct(at.t_c) + 1e-6


@given(salts, some_grams, st.floats(0.0, 0.9), st.lists(st.floats(-450.0, 120.0), min_size=2))
def test_more_heat_never_cools_nor_freezes(
    of: Salt, ice_g: float, ratio: float, heats_j_g: list[float]
) -> None:
    """As heat comes in the bath warms or stays, and ice goes or stays."""
    along = [equilibrium(of, ice_g, 0.0, ratio * ice_g, ice_g * h) for h in sorted(heats_j_g)]
    for before, after in pairwise(along):
        assert after.t_c >= before.t_c - 1e-9
        assert after.ice_g <= before.ice_g + 1e-9 * ice_g


@given(salts, some_grams, st.floats(0.0, 1.0))
def test_without_salt_ice_and_water_rest_at_zero(of: Salt, ice_g: float, melted: float) -> None:
    """Melting ice without salt stays at 0 °C and melts in proportion to heat."""
    all_frozen = enthalpy_j(of, ice_g, 0.0, 0.0, 0.0, 0.0)
    at = equilibrium(of, ice_g, 0.0, 0.0, all_frozen * (1.0 - melted))
    assert at.t_c == pytest.approx(0.0, abs=1e-9)
    assert at.water_g == pytest.approx(melted * ice_g, abs=1e-9 * ice_g)


@pytest.mark.parametrize("name", list(SaltName))
def test_excess_salt_rests_at_the_eutectic_until_the_ice_is_gone(name: SaltName) -> None:
    """With as much salt as ice, or half more water than it binds, ice melts at the eutectic."""
    of = salt(name)
    charge, _ = bath.settled(of, 1500.0, 1000.0, 0.0)
    frozen, last = charge.heat_j(charge.at_eutectic(0.0)), charge.heat_j(charge.last_ice())
    for share in (0.01, 0.5, 0.9):
        at = charge.at_rest(frozen + share * min(last - frozen, 50e3))
        assert at.t_c == of.eutectic_c
        assert at.ice_g > 0.0
        assert at.undissolved_g > 0.0


def test_anhydrous_calcium_chloride_rests_as_hexahydrate() -> None:
    """Cold and undissolved it binds six waters and gives off heat; what binds too much is told."""
    of = salt(SaltName.CALCIUM_CHLORIDE)
    hydrate = salt(SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE)
    at = equilibrium(of, 1500.0, 0.0, 500.0, -950e3)
    hydrate_g = 500.0 / hydrate.anhydrous_share
    assert at.ice_g == pytest.approx(1500.0 - (hydrate_g - 500.0))
    assert at.undissolved_g == pytest.approx(hydrate_g)
    with pytest.raises(ValueError, match="bind 974 g of water"):
        equilibrium(of, 900.0, 0.0, 1000.0, 0.0)


def test_both_forms_of_calcium_chloride_make_one_brine() -> None:
    """The hydrate with less water and the heat of hydration less comes to the same rest."""
    dry, hydrate = salt(SaltName.CALCIUM_CHLORIDE), salt(SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE)
    hydrate_g = 600.0 / hydrate.anhydrous_share
    one = equilibrium(dry, 3000.0, 0.0, 600.0, -500e3)
    heat = -500e3 + hydrate_g * hydrate.dissolving_j_g(0.0) - 600.0 * dry.dissolving_j_g(0.0)
    other = equilibrium(hydrate, 3600.0 - hydrate_g, 0.0, hydrate_g, heat)
    assert astuple(one) == pytest.approx(astuple(other), rel=1e-9)


def test_a_kilogram_of_salt_melts_3_29_kg_of_ice() -> None:
    """At 1 : 3.29 the last ice and salt go together at the eutectic; of more salt some is left."""
    for ice_g, salt_left in ((3280.0, True), (3300.0, False)):
        charge, _ = bath.settled(NACL, ice_g, 1000.0, 0.0)
        last = charge.last_ice()
        assert (last.undissolved_g > 0.0) is salt_left
        assert last.t_c == pytest.approx(NACL.eutectic_c, abs=0.1)


def test_nothing_is_no_bath() -> None:
    """No ice, water or salt at all is refused."""
    with pytest.raises(ValueError, match="no bath"):
        equilibrium(NACL, 0.0, 0.0, 0.0, 0.0)


def test_dry_salt_alone_only_warms() -> None:
    """Salt without any water is warmed by its specific heat."""
    at = equilibrium(NACL, 0.0, 0.0, 100.0, 100.0 * NACL.solid_j_gk * 12.0)
    assert astuple(at) == pytest.approx((12.0, 0.0, 0.0, 0.0, 100.0))


def test_ranges_of_the_rates_run_upwards() -> None:
    """Crushed ice melts faster than cubes, finer salt dissolves faster, and usual lies between."""
    for low, usual, high in (
        *(bath.melting_w_k_kg(kind) for kind in IceKind),
        *(bath.dissolving_s(kind) for kind in SaltKind),
    ):
        assert 0.0 < low < usual < high
    assert bath.melting_w_k_kg(IceKind.CRUSHED)[0] > bath.melting_w_k_kg(IceKind.CUBES)[2]
    fine, kosher, rock = (
        bath.dissolving_s(k)[1] for k in (SaltKind.FINE, SaltKind.KOSHER, SaltKind.ROCK)
    )
    assert fine < kosher < rock


def test_melting_goes_with_the_surface_and_stops_at_the_liquidus() -> None:
    """An eighth of the ice melts at a quarter; at the liquidus, or without brine, none does."""
    ice, brine_g, above = np.array([2000.0, 250.0]), 900.0 * np.ones(2), np.ones(2)
    start, kind, liquidus = 2000.0 * np.ones(2), 43.0 * np.ones(2), -12.0 * np.ones(2)
    full, eighth = bath.melting_g_s(kind, start, ice, brine_g, above, liquidus)
    assert eighth == pytest.approx(full / 4.0)
    assert bath.melting_g_s(43.0, 2000.0, 2000.0, 900.0, 0.0, -12.0) == 0.0
    assert bath.melting_g_s(43.0, 2000.0, 2000.0, 900.0, -1.0, -12.0) == pytest.approx(-full)
    assert bath.melting_g_s(43.0, 2000.0, 2000.0, 0.0, 1.0, -12.0) == 0.0
    assert bath.melting_g_s(43.0, 2000.0, 0.0, 900.0, 1.0, -12.0) == 0.0


def test_dissolving_slows_as_the_brine_strengthens() -> None:
    """Fresh water takes salt at its time constant, half-strong brine at half, full brine none."""
    assert bath.dissolving_g_s(200.0, 100.0, 900.0, 0.0, 26.0) == pytest.approx(0.5)
    assert bath.dissolving_g_s(200.0, 100.0, 900.0, 13.0, 26.0) == pytest.approx(0.25)
    assert bath.dissolving_g_s(200.0, 100.0, 900.0, 27.0, 26.0) == 0.0
    assert bath.dissolving_g_s(200.0, 100.0, 0.0, 0.0, 26.0) == 0.0
    some = bath.dissolving_g_s(200.0, 100.0, 15.0, 0.0, 26.0)
    assert 0.0 < some < 0.5
