"""The brine's liquidus against handbooks, an independent library, and road-salt practice."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics.brine import EUTECTIC_C, EUTECTIC_PCT, freezing_c, melt_g, strength_pct

# CRC Handbook of Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties of Aqueous
# Solutions", sodium chloride: mass % and freezing point [°C].
CRC = (
    (1, -0.59), (2, -1.19), (3, -1.79), (4, -2.41), (5, -3.05), (6, -3.70), (7, -4.38),
    (8, -5.08), (9, -5.81), (10, -6.56), (11, -7.35), (12, -8.18), (13, -9.04), (14, -9.94),
    (15, -10.89), (16, -11.89), (17, -12.94), (18, -14.04), (19, -15.22), (20, -16.46),
    (21, -17.78), (22, -19.18), (23, -20.67),
)  # fmt: skip

# Lange's Handbook of Chemistry, 15th ed. (1999), table 5.13, p. 5.86, NaCl brines: mass % and
# freezing point [°C]. Lange runs up to 0.08 °C warmer than the CRC Handbook between 2 and 9 %.
LANGE = (
    (1, -0.58), (2, -1.13), (3, -1.72), (4, -2.35), (5, -2.97), (6, -3.63), (7, -4.32),
    (8, -5.03), (9, -5.77), (15, -10.88), (16, -11.90), (17, -12.93), (18, -14.03), (19, -15.21),
    (20, -16.46), (21, -17.78), (22, -19.19), (23, -20.69), (23.3, -21.13),
)  # fmt: skip

# Salt Institute handbook figures as quoted for road crews: temperature [°C] and kg of ice that one
# kg of salt melts before the brine no longer melts any.
ROAD_SALT = (
    (-1.1, 46.3), (-6.7, 8.6), (-9.4, 6.3), (-12.2, 4.9), (-15.0, 4.1), (-17.8, 3.7),
    (-21.1, 3.2),
)  # fmt: skip


@pytest.mark.parametrize(("salt_pct", "crc_c"), CRC)
def test_liquidus_is_within_0_01_c_of_the_crc_handbook(salt_pct: float, crc_c: float) -> None:
    """Every CRC row is met to its own last digit."""
    assert freezing_c(salt_pct) == pytest.approx(crc_c, abs=0.01)


@pytest.mark.parametrize(("salt_pct", "lange_c"), LANGE)
def test_liquidus_is_within_0_09_c_of_lange(salt_pct: float, lange_c: float) -> None:
    """Lange's rows are met within what they part from the CRC Handbook, 0.08 °C, and rounding."""
    assert freezing_c(salt_pct) == pytest.approx(lange_c, abs=0.09)


@pytest.mark.parametrize("salt_pct", [2.0, 5.0, 10.0, 15.0, 20.0, 22.0, 23.0])
def test_liquidus_agrees_with_coolprop(salt_pct: float) -> None:
    """CoolProp's sodium chloride brine (Melinder 2010) agrees to 0.02 °C, to 0.16 °C past 20 %."""
    kelvin = PropsSI("T_freeze", "P", 101325, "Q", 0, f"INCOMP::MNA[{salt_pct / 100.0}]")
    allowed = 0.02 if salt_pct <= 20.0 else 0.16
    assert freezing_c(salt_pct) == pytest.approx(kelvin - 273.15, abs=allowed)


def test_eutectic_is_where_oakes_measured_it() -> None:
    """Oakes, Bodnar & Simonson 1990 (Geochim. Cosmochim. Acta 54, 603): -21.2 °C at 23.2 %."""
    assert abs(EUTECTIC_C + 21.2) < 0.1
    assert abs(EUTECTIC_PCT - 23.2) < 0.11


@pytest.mark.parametrize(("t_c", "ice_kg"), ROAD_SALT)
def test_ice_melted_by_a_kilogram_of_salt_is_that_of_road_practice(
    t_c: float, ice_kg: float
) -> None:
    """The strength that each road-salt figure implies is the liquidus within 0.8 % salt."""
    assert strength_pct(t_c) == pytest.approx(100.0 / (1.0 + ice_kg), abs=0.8)
    if t_c < -5.0:
        assert melt_g(1.0, t_c) == pytest.approx(ice_kg, rel=0.06)


def test_fluid_inclusion_equations_lie_within_the_known_spread() -> None:
    """Hall, Sterner & Bodnar 1988 (Econ. Geol. 83, 197) stays within 0.25 °C from 0 to 23.3 %."""
    w = np.linspace(0.0, 23.3, 100)
    hall = -(0.581855 * w + 3.48896e-3 * w**2 + 4.314e-4 * w**3)
    assert np.abs(freezing_c(w) - hall).max() < 0.25
