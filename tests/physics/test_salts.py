"""What must hold of every salt and its brine whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics import brine
from rigmon.physics.salts import Salt, salt
from rigmon.records import SaltName

each_salt = pytest.mark.parametrize("name", list(SaltName))
salts = st.sampled_from(SaltName).map(salt)
shares = st.floats(0.0, 1.0)


def _heat_of_solution_j_g(of: Salt, pct: float, t_c: float) -> float:
    """Per g as weighed, by the balance of brine against water and dry salt at `t_c`."""
    as_weighed = pct / 100.0 / of.anhydrous_share
    apart_j = (1.0 - as_weighed) * of.brine_j_g(0.0, t_c) + as_weighed * of.solid_j_gk * t_c
    return (of.brine_j_g(pct, t_c) - apart_j) / as_weighed


@each_salt
def test_every_name_has_its_salt(name: SaltName) -> None:
    """Each name finds a salt of that name."""
    assert salt(name).name is name


@given(salts, shares)
def test_strength_undoes_freezing_point(of: Salt, share: float) -> None:
    """Going to the temperature and back returns the strength to 1e-9 %."""
    pct = share * of.eutectic_pct
    assert of.strength_pct(of.freezing_c(pct)) == pytest.approx(pct, abs=1e-9)


@each_salt
def test_freezing_point_falls_ever_faster(name: SaltName) -> None:
    """More salt freezes colder, and past 2 % each further percent by more than the one before."""
    pct = np.linspace(0.0, salt(name).eutectic_pct, 500)
    slope = np.gradient(salt(name).freezing_c(pct), pct)
    assert np.all(slope < 0.0)
    assert np.all(np.diff(slope[pct > 2.0]) < 0.0)


@each_salt
def test_freezing_point_and_strength_stop_at_water_and_eutectic(name: SaltName) -> None:
    """No brine rests with ice above 0 °C, nor colder or stronger than the eutectic."""
    of = salt(name)
    assert of.freezing_c(0.0) == 0.0
    assert of.strength_pct(3.0) == 0.0
    assert of.freezing_c(of.eutectic_pct + 5.0) == of.eutectic_c
    assert of.strength_pct(of.eutectic_c - 5.0) == pytest.approx(of.eutectic_pct, abs=1e-9)


@each_salt
def test_saturation_rises_from_the_eutectic(name: SaltName) -> None:
    """At the eutectic liquidus and saturation meet exactly; warmer brine holds more."""
    of = salt(name)
    t = np.linspace(of.eutectic_c, 30.0, 400)
    held = of.saturation_pct(t)
    assert held[0] == of.eutectic_pct
    assert np.all(np.diff(held) > 0.0)
    assert of.saturation_pct(of.eutectic_c - 9.0) == of.eutectic_pct
    assert of.saturation_pct(60.0) == held[-1]


@each_salt
def test_arrays_give_what_floats_give(name: SaltName) -> None:
    """An array goes through each formula as its floats do, and floats come back as floats."""
    of = salt(name)
    pct = np.linspace(0.0, of.eutectic_pct, 7)
    t = np.linspace(of.eutectic_c, 20.0, 7)
    for both in (of.freezing_c, of.dissolving_j_g, of.strength_pct, of.saturation_pct):
        given_x = pct if both in (of.freezing_c, of.dissolving_j_g) else t
        one_by_one = [both(x) for x in given_x.tolist()]
        assert both(given_x).tolist() == pytest.approx(one_by_one, rel=1e-13)
        assert {type(y) for y in one_by_one} == {float}
    for pair in (of.density_g_ml, of.brine_j_g):
        one_by_one = [pair(w, x) for w, x in zip(pct.tolist(), t.tolist(), strict=True)]
        assert pair(pct, t).tolist() == pytest.approx(one_by_one, rel=1e-13)
        assert {type(y) for y in one_by_one} == {float}


@each_salt
def test_brine_without_salt_is_the_same_water_for_all(name: SaltName) -> None:
    """At 0 % every salt's brine has the specific heat of the others', within 1 % of 4.2."""
    c0, c1 = salt(name).specific_heat_terms(0.0)
    common = brine.specific_heat_j_gk(0.0, 10.0)
    assert c0 + 10.0 * c1 == common
    assert common == pytest.approx(4.2, rel=0.01)


@given(salts, shares, st.floats(-20.0, 20.0))
def test_enthalpy_of_brine_rises_with_its_specific_heat(of: Salt, share: float, t_c: float) -> None:
    """A degree warmer costs the specific heat in between."""
    pct = share * of.eutectic_pct
    c0, c1 = of.specific_heat_terms(pct)
    rise = of.brine_j_g(pct, t_c + 0.5) - of.brine_j_g(pct, t_c - 0.5)
    assert rise == pytest.approx(c0 + c1 * t_c, rel=1e-9)


@given(salts, st.floats(0.01, 1.0))
def test_dissolving_at_zero_takes_up_its_heat(of: Salt, share: float) -> None:
    """At 0 °C brine holds the heat of dissolving of the salt as weighed in it and no other."""
    pct = share * of.eutectic_pct
    heat = _heat_of_solution_j_g(of, pct, 0.0)
    assert heat == pytest.approx(of.dissolving_j_g(pct), rel=1e-9)


def test_anhydrous_calcium_chloride_heats_and_its_hexahydrate_cools() -> None:
    """The same salt and strength: dry it heats a lot, as hydrate it cools, however weighed."""
    dry, hydrate = (
        salt(SaltName.CALCIUM_CHLORIDE),
        salt(SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE),
    )
    for pct in (1.0, 15.0, 30.0):
        assert dry.dissolving_j_g(pct) < -600.0
        assert hydrate.dissolving_j_g(pct) > 90.0
        # Both ways to one brine part by the heat of hydration alone, whatever its strength.
        between = dry.brine_j_g(pct, -5.0) - hydrate.brine_j_g(pct, -5.0)
        at_1_pct = dry.brine_j_g(1.0, 0.0) - hydrate.brine_j_g(1.0, 0.0)
        assert between == pytest.approx(pct * at_1_pct, rel=1e-9)


def test_hydrates_bring_six_waters() -> None:
    """The rest of a hydrate's mass is six molecules of water for one of salt."""
    for name, molar_g in (
        (SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE, 110.98),
        (SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE, 95.21),
    ):
        share = salt(name).anhydrous_share
        assert molar_g * (1.0 / share - 1.0) / 18.015 == pytest.approx(6.0, abs=0.01)


@pytest.mark.parametrize("pct", [5.0, 15.0, 23.0])
def test_heat_of_solution_agrees_with_the_specific_heats(pct: float) -> None:
    """The fit of salt's heat of solution over temperature and Kirchhoff's law agree to 7 J/g."""
    of = salt(SaltName.SODIUM_CHLORIDE)
    for t_c in (-15.0, 20.0):
        if t_c > of.freezing_c(pct):
            by_heats = _heat_of_solution_j_g(of, pct, t_c)
            assert brine.heat_of_solution_j_g(pct, t_c) == pytest.approx(by_heats, abs=7.0)
