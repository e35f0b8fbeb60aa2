"""Density, heats and ice against published figures and an independent library."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics import brine

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
def test_brine_density_agrees_with_coolprop(salt_pct: float, t_c: float) -> None:
    """CoolProp's density (Melinder 2010) is met to 0.07 %."""
    expected = _coolprop("D", salt_pct, t_c)
    assert brine.density_g_ml(salt_pct, t_c) == pytest.approx(expected, rel=7e-4)


@pytest.mark.parametrize(("salt_pct", "t_c"), STATES)
def test_brine_specific_heat_agrees_with_coolprop(salt_pct: float, t_c: float) -> None:
    """CoolProp's specific heat (Melinder 2010) is met to 0.5 %."""
    expected = _coolprop("C", salt_pct, t_c)
    assert brine.specific_heat_j_gk(salt_pct, t_c) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize(("salt_pct", "g_ml"), CRC_DENSITY)
def test_brine_density_agrees_with_the_crc_handbook(salt_pct: float, g_ml: float) -> None:
    """The CRC Handbook's densities at 20 °C are met to 0.1 %."""
    assert brine.density_g_ml(salt_pct, 20.0) == pytest.approx(g_ml, rel=1e-3)


@pytest.mark.parametrize(("t_c", "cp", "enthalpy", "fusion"), ICE)
def test_ice_agrees_with_iapws(t_c: float, cp: float, enthalpy: float, fusion: float) -> None:
    """Specific heat to 0.1 %, enthalpy and heat of fusion to 0.2 J/g of the IAPWS figures."""
    assert brine.ice_specific_heat_j_gk(t_c) == pytest.approx(cp, rel=1e-3)
    assert brine.ice_enthalpy_j_g(t_c) == pytest.approx(enthalpy, abs=0.2)
    assert brine.heat_of_fusion_j_g(t_c) == pytest.approx(fusion, abs=0.2)


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
    salt_pct: float, t_c: float, j_g: float
) -> None:
    """Enthalpies of NaCl solutions computed with SeaFreeze 1.1.3 are met within 6 J/g of salt."""
    assert brine.heat_of_solution_j_g(salt_pct, t_c) == pytest.approx(j_g, abs=6.0)
