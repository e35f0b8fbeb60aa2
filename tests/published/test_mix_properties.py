"""Specific heat, density and latent heat of dairy and mixes against handbooks and worked values."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import pytest

from rigmon.physics import brine, mixheat
from rigmon.physics.choi_okos import Component, density_g_ml, specific_heat_j_gk
from rigmon.physics.mix import components, freezing_curve
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)

# ASHRAE Handbook, Refrigeration, "Thermal Properties of Foods", table 3 (2006, ch. 9): water,
# protein, fat, carbohydrate, fibre in it, ash [%], specific heat above freezing [kJ/(kg K)] and
# latent heat [kJ/kg]. The thermal values of some are from memory. What the table gives below
# freezing, 2.74 for ice cream, has melting in it.
ASHRAE = {
    "ice cream, vanilla": (61.0, 3.5, 11.0, 23.6, 0.0, 0.9, 3.22, 204),
    "ice cream, chocolate": (55.7, 3.8, 11.0, 28.2, 1.2, 1.0, 3.11, 186),
    "ice cream, strawberry": (60.0, 3.2, 8.4, 27.6, 0.3, 0.7, 3.19, 200),
    "cream, half and half": (80.57, 2.96, 11.5, 4.3, 0.0, 0.67, 3.73, 269),
    "cream, table": (73.75, 2.7, 19.31, 3.66, 0.0, 0.58, 3.59, 246),
    "cream, heavy whipping": (57.71, 2.05, 37.0, 2.79, 0.0, 0.45, 3.25, 193),
    "milk, whole": (87.69, 3.28, 3.66, 4.65, 0.0, 0.72, 3.89, 293),
    "milk, skim": (90.8, 3.41, 0.18, 4.85, 0.0, 0.76, 3.95, 303),
    "milk, evaporated": (74.04, 6.81, 7.56, 10.04, 0.0, 1.55, 3.56, 247),
    "milk, sweetened condensed": (27.16, 7.91, 8.7, 54.4, 0.0, 1.83, 2.35, 91),
    "milk, skim, dried": (3.16, 36.16, 0.77, 51.98, 0.0, 7.93, 1.80, 11),
    "butter": (17.94, 0.85, 81.11, 0.06, 0.0, 0.04, 2.40, 60),
    "egg, white": (87.81, 10.52, 0.0, 1.03, 0.0, 0.64, 3.91, 293),
    "egg, whole": (75.33, 12.49, 10.02, 1.22, 0.0, 0.94, 3.63, 252),
    "egg, yolk": (48.81, 16.76, 30.87, 1.78, 0.0, 1.77, 3.05, 163),
}
FROM_MEMORY = {"cream, half and half", "cream, heavy whipping", "milk, skim", "milk, skim, dried"}

# Older engineers' tables, which print no composition but water: food, specific heat [kJ/(kg K)].
EARLE = (("ice cream, vanilla", 3.3), ("milk, whole", 3.9))
GEANKOPLIS = (("ice cream, vanilla", 3.27), ("milk, whole", 3.85), ("milk, skim", 4.00))

# Choi & Okos 1986 worked apart from this program, water's constant 4.1762, no air: temperature
# [°C], specific heat [kJ/(kg K)], density [kg/m3].
WORKED = {
    "mix": ((0, 3.2371, 1089.6), (5, 3.2402, 1088.9), (20, 3.2498, 1086.2), (60, 3.2786, 1072.7)),
    "vanilla": (
        (0, 3.2114, 1101.1), (5, 3.2146, 1100.5), (20, 3.2245, 1097.8), (60, 3.2539, 1084.4),
    ),
    "skim": ((0, 3.9475, 1029.2), (5, 3.9479, 1029.0), (20, 3.9507, 1027.5), (60, 3.9683, 1015.2)),
}  # fmt: skip


# The same, components side by side: temperature [°C], thermal conductivity of the mix [W/(m K)].
WORKED_CONDUCTIVITY = ((0, 0.4475), (5, 0.4541), (20, 0.4727), (60, 0.5112))

# CRC Handbook, 102nd ed., "Concentrative Properties of Aqueous Solutions": mass % of the solute and
# density at 20 °C [g/ml].
SUGARS = {
    "sucrose": ((5, 1.0178), (10, 1.0381), (20, 1.0810), (30, 1.1270), (40, 1.1765)),
    "dextrose": ((5, 1.0175), (10, 1.0375), (20, 1.0797), (30, 1.1246)),
    "fructose": ((5, 1.0181), (10, 1.0385), (20, 1.0816)),
    "lactose": ((2, 1.0061), (5, 1.0184), (8, 1.0308)),
}
ALCOHOL = ((2, 0.9945), (5, 0.9893), (8, 0.9847), (10, 0.9819), (20, 0.9687))


def _shares(
    water: float, protein: float, fat: float, carbohydrate: float, fibre: float, ash: float
) -> dict[Component, float]:
    return {
        "water": water,
        "protein": protein,
        "fat": fat,
        "carbohydrate": carbohydrate - fibre,
        "fibre": fibre,
        "ash": ash,
    }


def _ashrae(food: str) -> str:
    table = "ASHRAE Refrigeration 2006, ch. 9, table 3"
    return f"{table}; from memory" if food in FROM_MEMORY else table


def _of(food: str) -> dict[Component, float]:
    return _shares(*ASHRAE[food][:6])


@pytest.mark.parametrize("food", ASHRAE)
def test_specific_heat_of_foods_agrees_with_ashrae(held: Held, food: str) -> None:
    """The tabled specific heat above freezing is met to 0.5 %."""
    cp = ASHRAE[food][6]
    held(
        "Ice cream, cream, milk, egg: specific heat above freezing",
        specific_heat_j_gk(_of(food), 20.0),
        cp,
        within=5e-3 * cp,
        unit="J/(g K)",
        source=_ashrae(food),
    )


@pytest.mark.parametrize("food", ASHRAE)
def test_latent_heat_of_foods_agrees_with_ashrae(held: Held, food: str) -> None:
    """All of a food's water frozen at 0 °C gives the tabled latent heat, to its last digit."""
    held(
        "Ice cream, cream, milk, egg: latent heat of all the water",
        ASHRAE[food][0] / 100.0 * brine.heat_of_fusion_j_g(0.0),
        ASHRAE[food][7],
        within=1.0,
        unit="J/g",
        source=_ashrae(food),
    )


@pytest.mark.parametrize(
    ("source", "food", "cp"),
    [
        *(("Earle, Unit Operations in Food Processing, app. 7", *row) for row in EARLE),
        *(("Geankoplis, 4th ed., appendix A.4-1", *row) for row in GEANKOPLIS),
    ],
)
def test_specific_heat_agrees_with_older_tables(
    held: Held, source: str, food: str, cp: float
) -> None:
    """Older tables, whose foods are not described, are met to 3 %."""
    held(
        "Ice cream and milk: specific heat above freezing",
        specific_heat_j_gk(_of(food), 5.0),
        cp,
        within=0.03 * cp,
        unit="J/(g K)",
        source=source,
    )


@pytest.mark.parametrize(
    ("food", "t_c", "cp", "kg_m3"),
    [(food, *row) for food, rows in WORKED.items() for row in rows],
)
def test_properties_meet_the_worked_values(
    held: Held, food: str, t_c: float, cp: float, kg_m3: float
) -> None:
    """Choi & Okos 1986 worked apart for a mix, ice cream and skim milk are met to 0.01 %."""
    shares = {
        "mix": components(TYPICAL),
        "vanilla": _shares(0.61, 0.035, 0.11, 0.236, 0.0, 0.009),
        "skim": _shares(0.908, 0.0341, 0.0018, 0.0485, 0.0, 0.0076),
    }[food]
    source = "Choi & Okos 1986, worked apart"
    held(
        "Mix, ice cream, skim milk: specific heat, 0 to 60 °C",
        specific_heat_j_gk(shares, float(t_c)),
        cp,
        within=1e-4 * cp,
        unit="J/(g K)",
        source=source,
    )
    held(
        "Mix, ice cream, skim milk: density without air, 0 to 60 °C",
        density_g_ml(shares, float(t_c)),
        kg_m3 / 1000.0,
        within=1e-7 * kg_m3,
        unit="g/ml",
        source=source,
    )


@pytest.mark.parametrize(("t_c", "w_mk"), WORKED_CONDUCTIVITY)
def test_conductivity_meets_the_worked_values(held: Held, t_c: float, w_mk: float) -> None:
    """Choi & Okos 1986 worked apart for a mix without ice is met to its last digit."""
    held(
        "Mix, thermal conductivity without ice and air, 0 to 60 °C",
        mixheat.conductivity_w_mk(TYPICAL, float(t_c)),
        w_mk,
        within=6e-5,
        unit="W/(m K)",
        source="Choi & Okos 1986, worked apart",
    )


@pytest.mark.parametrize(
    ("sugar", "pct", "g_ml"), [(sugar, *row) for sugar, rows in SUGARS.items() for row in rows]
)
def test_sugar_solutions_weigh_what_the_crc_handbook_says(
    held: Held, sugar: str, pct: float, g_ml: float
) -> None:
    """Choi & Okos 1986 give solutions of single sugars to 0.6 %."""
    composition = dataclasses.replace(Composition(100.0 - pct), **{sugar: float(pct)})
    held(
        "Sucrose, glucose, fructose, lactose solutions: density, 20 °C",
        mixheat.density_g_ml(composition, 20.0),
        g_ml,
        within=6e-3,
        unit="g/ml",
        source="CRC Handbook, 102nd ed.",
    )


@pytest.mark.parametrize(("pct", "g_ml"), ALCOHOL)
def test_alcohol_solutions_weigh_what_the_crc_handbook_says(
    held: Held, pct: float, g_ml: float
) -> None:
    """Alcohol to 20 %, far beyond what still stiffens, is met to 0.7 %."""
    held(
        "Alcohol, density of 2 to 20 %, 20 °C",
        mixheat.density_g_ml(Composition(100.0 - pct, alcohol=float(pct)), 20.0),
        g_ml,
        within=7e-3,
        unit="g/ml",
        source="CRC Handbook, 102nd ed.",
    )


def test_curve_carries_the_same_specific_heat() -> None:
    """Above freezing the slope of the enthalpy is the Choi-Okos specific heat."""
    curve = freezing_curve(TYPICAL)
    slope = curve.enthalpy_j_g(5.5) - curve.enthalpy_j_g(4.5)
    assert slope == pytest.approx(3.2402, rel=1e-3)
    assert curve.unfrozen_specific_heat_j_gk == pytest.approx(3.2371, rel=1e-2)
