"""Specific heat and density of mixes and dairy against the ASHRAE Handbook and worked values."""

from __future__ import annotations

import pytest

from rigmon.physics.choi_okos import Component, density_g_ml, specific_heat_j_gk
from rigmon.physics.mix import components, freezing_curve
from rigmon.records import Composition

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)

# ASHRAE Handbook, Refrigeration, "Thermal Properties of Foods", table 3 (2006, ch. 9): water,
# protein, fat, carbohydrate with fibre, ash [%] and specific heat above freezing [kJ/(kg K)].
ASHRAE = {
    "ice cream, vanilla": (61.0, 3.5, 11.0, 23.6, 0.9, 3.22),
    "cream, table": (73.75, 2.7, 19.31, 3.66, 0.58, 3.59),
    "milk, whole": (87.69, 3.28, 3.66, 4.65, 0.72, 3.89),
    "milk, evaporated": (74.04, 6.81, 7.56, 10.04, 1.55, 3.56),
    "egg, whole": (75.33, 12.49, 10.02, 1.22, 0.94, 3.63),
}


def _shares(
    water: float, protein: float, fat: float, carbohydrate: float, ash: float
) -> dict[Component, float]:
    return {
        "water": water,
        "protein": protein,
        "fat": fat,
        "carbohydrate": carbohydrate,
        "ash": ash,
    }


@pytest.mark.parametrize("food", ASHRAE)
def test_specific_heat_of_foods_agrees_with_ashrae(food: str) -> None:
    """The tabled specific heat above freezing is met to 0.5 %."""
    *parts, cp = ASHRAE[food]
    assert specific_heat_j_gk(_shares(*parts), 20.0) == pytest.approx(cp, rel=5e-3)


@pytest.mark.parametrize(("t_c", "cp"), [(0.0, 3.2371), (5.0, 3.2402), (20.0, 3.2498)])
def test_mix_specific_heat_meets_the_worked_values(t_c: float, cp: float) -> None:
    """Choi & Okos 1986 worked by hand for the typical mix, water's constant 4.1762."""
    assert specific_heat_j_gk(components(TYPICAL), t_c) == pytest.approx(cp, rel=1e-4)


@pytest.mark.parametrize(("t_c", "g_ml"), [(0.0, 1.0896), (5.0, 1.0889), (20.0, 1.0862)])
def test_mix_density_meets_the_worked_values(t_c: float, g_ml: float) -> None:
    """Choi & Okos 1986 worked by hand for the typical mix without air."""
    assert density_g_ml(components(TYPICAL), t_c) == pytest.approx(g_ml, rel=1e-4)


def test_curve_carries_the_same_specific_heat() -> None:
    """Above freezing the slope of the enthalpy is the Choi-Okos specific heat."""
    curve = freezing_curve(TYPICAL)
    slope = curve.enthalpy_j_g(5.5) - curve.enthalpy_j_g(4.5)
    assert slope == pytest.approx(3.2402, rel=1e-3)
    assert curve.unfrozen_specific_heat_j_gk == pytest.approx(3.2371, rel=1e-2)
