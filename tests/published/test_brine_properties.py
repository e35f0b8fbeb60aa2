"""Density, heats and ice against published figures and an independent library."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics import brine

if TYPE_CHECKING:
    from tests.published.conftest import Held

COOLPROP = "CoolProp (Melinder 2010)"

STATES = [
    (0.0, 5.0), (5.0, 0.0), (5.0, 20.0), (10.0, -5.0), (10.0, 10.0), (15.0, -10.0), (15.0, 20.0),
    (20.0, -15.0), (20.0, 0.0), (20.0, 20.0), (23.0, -20.0), (23.0, 0.0),
]  # fmt: skip

# IAPWS R10-06 (2009), ice Ih: temperature [°C], specific heat [J/(g K)], enthalpy [J/g] against
# liquid water at 0 °C; with IAPWS-95 for water: heat of fusion [J/g].
ICE = [
    (0.0, 2.0967, -333.36, 333.42),
    (-5.0, 2.0599, -343.75, 322.67),
    (-10.0, 2.0231, -353.96, 311.60),
    (-15.0, 1.9864, -363.98, 300.15),
    (-20.0, 1.9498, -373.82, 288.20),
    (-25.0, 1.9133, -383.48, 275.54),
]

# CRC Handbook, 102nd ed., density of sodium chloride solutions at 20 °C [g/ml].
CRC_DENSITY = [(5.0, 1.0340), (10.0, 1.0707), (15.0, 1.1085), (20.0, 1.1478), (23.0, 1.1721)]


def _coolprop(what: str, salt_pct: float, t_c: float) -> float:
    value = PropsSI(what, "T", t_c + 273.15, "P", 101325, f"INCOMP::MNA[{salt_pct / 100.0}]")
    return float(value) / 1000.0


@pytest.mark.parametrize(("salt_pct", "t_c"), STATES)
def test_brine_density_agrees_with_coolprop(held: Held, salt_pct: float, t_c: float) -> None:
    """CoolProp's density (Melinder 2010) is met to 0.07 %."""
    expected = _coolprop("D", salt_pct, t_c)
    held(
        "NaCl brine, density, 0 to 23 % salt, −20 to 20 °C",
        brine.density_g_ml(salt_pct, t_c),
        expected,
        within=7e-4 * expected,
        unit="g/ml",
        source=COOLPROP,
    )


@pytest.mark.parametrize(("salt_pct", "t_c"), STATES)
def test_brine_specific_heat_agrees_with_coolprop(held: Held, salt_pct: float, t_c: float) -> None:
    """CoolProp's specific heat (Melinder 2010) is met to 0.5 %."""
    expected = _coolprop("C", salt_pct, t_c)
    held(
        "NaCl brine, specific heat, 0 to 23 % salt, −20 to 20 °C",
        brine.specific_heat_j_gk(salt_pct, t_c),
        expected,
        within=5e-3 * expected,
        unit="J/(g K)",
        source=COOLPROP,
    )


@pytest.mark.parametrize(("salt_pct", "g_ml"), CRC_DENSITY)
def test_brine_density_agrees_with_the_crc_handbook(
    held: Held, salt_pct: float, g_ml: float
) -> None:
    """The CRC Handbook's densities at 20 °C are met to 0.1 %."""
    held(
        "NaCl brine, density, 5 to 23 % salt, 20 °C",
        brine.density_g_ml(salt_pct, 20.0),
        g_ml,
        within=1e-3 * g_ml,
        unit="g/ml",
        source="CRC Handbook, 102nd ed.",
    )


@pytest.mark.parametrize(("t_c", "cp", "enthalpy", "fusion"), ICE)
def test_ice_agrees_with_iapws(
    held: Held, t_c: float, cp: float, enthalpy: float, fusion: float
) -> None:
    """Specific heat to 0.1 %, enthalpy and heat of fusion to 0.2 J/g of the IAPWS figures."""
    held(
        "Ice, specific heat, 0 to −25 °C",
        brine.ice_specific_heat_j_gk(t_c),
        cp,
        within=1e-3 * cp,
        unit="J/(g K)",
        source="IAPWS R10-06",
    )
    held(
        "Ice, enthalpy against water at 0 °C, 0 to −25 °C",
        brine.ice_enthalpy_j_g(t_c),
        enthalpy,
        within=0.2,
        unit="J/g",
        source="IAPWS R10-06",
    )
    held(
        "Ice, heat of fusion, 0 to −25 °C",
        brine.heat_of_fusion_j_g(t_c),
        fusion,
        within=0.2,
        unit="J/g",
        source="IAPWS R10-06 and IAPWS-95",
    )


def test_heat_of_fusion_is_that_of_the_handbooks(held: Held) -> None:
    """333.6 J/g at 0 °C; 74.5 and 69.0 cal/g (4.1868 J) at -10 and -20 °C, from memory."""
    held(
        "Ice, heat of fusion, 0 °C",
        brine.heat_of_fusion_j_g(0.0),
        333.6,
        within=0.2,
        unit="J/g",
        source="CRC Handbook, 102nd ed.",
    )
    for t_c, cal_g in ((-10.0, 74.5), (-20.0, 69.0)):
        held(
            "Ice, heat of fusion, −10 and −20 °C",
            brine.heat_of_fusion_j_g(t_c),
            cal_g * 4.1868,
            within=1.0,
            unit="J/g",
            source="Smithsonian Meteorological Tables, from memory",
        )


def test_specific_heat_of_ice_is_that_of_an_engineers_table(held: Held) -> None:
    """1.958 J/(g K), printed for "20" °C and meant for -20 °C, is met to 1 %."""
    held(
        "Ice, specific heat, −20 °C",
        brine.ice_specific_heat_j_gk(-20.0),
        1.958,
        within=0.02,
        unit="J/(g K)",
        source="Geankoplis, 4th ed., appendix A.4-1",
    )


def test_density_of_ice_agrees_with_iapws(held: Held) -> None:
    """Ice at 0 °C weighs 0.91672 g/ml."""
    held(
        "Ice, density, 0 °C",
        brine.ICE_DENSITY_G_ML,
        0.91672,
        within=1e-4,
        unit="g/ml",
        source="IAPWS R10-06",
    )


@pytest.mark.parametrize(
    ("salt_pct", "t_c", "j_g"),
    [
        (25.0, 25.0, 32.7),
        (20.0, 25.0, 37.1),
        (10.0, 25.0, 54.7),
        (10.0, 0.0, 90.0),
        (15.0, -10.0, 83.7),
        (20.0, -15.0, 67.7),
        (23.0, -20.0, 61.2),
    ],
)
def test_heat_of_solution_agrees_with_computed_enthalpies(
    held: Held, salt_pct: float, t_c: float, j_g: float
) -> None:
    """Enthalpies of NaCl solutions computed with SeaFreeze 1.1.3 are met within 6 J/g of salt."""
    held(
        "NaCl, heat of solution, 10 to 25 % salt, −20 to 25 °C",
        brine.heat_of_solution_j_g(salt_pct, t_c),
        j_g,
        within=6.0,
        unit="J/g",
        source="computed with SeaFreeze 1.1.3",
    )
