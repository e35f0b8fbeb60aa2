"""What must hold of brine and ice whatever the numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics import brine

strengths = st.floats(0.0, brine.EUTECTIC_PCT)


def test_liquidus_falls_ever_faster() -> None:
    """The freezing point falls with strength, and each further percent lowers it by more."""
    w = np.linspace(0.0, brine.EUTECTIC_PCT, 500)
    slope = np.gradient(brine.freezing_c(w), w)
    assert np.all(slope < -0.5)
    assert np.all(np.diff(slope[w > 2.0]) < 0.0)


@given(strengths)
def test_strength_undoes_freezing_point(salt_pct: float) -> None:
    """Going to the temperature and back returns the strength to 1e-9 %."""
    back = brine.strength_pct(brine.freezing_c(salt_pct))
    assert back == pytest.approx(salt_pct, abs=1e-9)


@given(st.lists(strengths, min_size=1, max_size=20))
def test_arrays_give_what_floats_give(salt_pct: list[float]) -> None:
    """An array goes through each formula as its floats do one by one."""
    w = np.array(salt_pct)
    t = brine.freezing_c(w)
    assert t.tolist() == [brine.freezing_c(x) for x in salt_pct]
    assert brine.strength_pct(t) == pytest.approx([brine.strength_pct(x) for x in t.tolist()])


def test_floats_come_back_as_floats() -> None:
    """A float in is a plain float out, so that it prints and serialises as one."""
    assert type(brine.freezing_c(10.0)) is float
    assert type(brine.strength_pct(-10.0)) is float
    assert type(brine.melt_g(1.0, -10.0)) is float
    assert type(brine.specific_heat_j_gk(10.0, -5.0)) is float
    assert type(brine.heat_of_fusion_j_g(-5.0)) is float


@pytest.mark.parametrize(("t_c", "salt_pct"), [(0.0, 0.0), (5.0, 0.0), (-40.0, 23.3)])
def test_strength_stops_at_water_and_at_the_eutectic(t_c: float, salt_pct: float) -> None:
    """Above 0 °C ice rests with no brine; below the eutectic with none stronger than it."""
    assert brine.strength_pct(t_c) == pytest.approx(salt_pct, abs=1e-9)


def test_melt_is_the_water_of_the_brine() -> None:
    """Melt and salt together are brine of the liquidus strength, float and array alike."""
    t = np.array([-1.0, -5.0, -12.0, -21.0])
    salt = np.array([10.0, 100.0, 500.0, 750.0])
    water = brine.melt_g(salt, t)
    assert 100.0 * salt / (salt + water) == pytest.approx(brine.strength_pct(t))
    assert brine.melt_g(500.0, -12.0) == pytest.approx(water[2])


def test_melt_is_without_bound_at_zero() -> None:
    """At 0 °C and above no amount of melt is enough, and nothing warns of it."""
    assert math.isinf(brine.melt_g(100.0, 0.0))
    assert np.isinf(brine.melt_g(np.array([100.0]), np.array([1.0]))).all()


def test_no_salt_melts_nothing_below_zero() -> None:
    """Without salt there is no brine."""
    assert brine.melt_g(0.0, -5.0) == 0.0


def test_ice_enthalpy_is_the_integral_of_its_specific_heat() -> None:
    """The slope of the enthalpy of ice is its specific heat."""
    slope = (brine.ice_enthalpy_j_g(-9.5) - brine.ice_enthalpy_j_g(-10.5)) / 1.0
    assert slope == pytest.approx(brine.ice_specific_heat_j_gk(-10.0))


def test_heat_of_fusion_falls_as_kirchhoff_says() -> None:
    """dL/dT is the specific heat of water less that of ice, within 2 % of 4.2 - 2.1 at 0 °C."""
    per_k = brine.heat_of_fusion_j_g(0.0) - brine.heat_of_fusion_j_g(-1.0)
    assert per_k == pytest.approx(4.22 - brine.ice_specific_heat_j_gk(-0.5), rel=0.02)


def test_bulk_densities_are_in_order_and_below_the_solid() -> None:
    """Each range runs upwards, and no heap weighs more than solid ice or a salt crystal."""
    solid = {"fine": 2.165, "kosher": 2.165, "rock": 2.165, "cubes": 0.917, "crushed": 0.917}
    heaps: tuple[brine.Heap, ...] = ("fine", "kosher", "rock", "cubes", "crushed")
    for heap in heaps:
        least, usual, greatest = brine.bulk_density_g_ml(heap)
        assert 0.0 < least < usual < greatest < solid[heap]
