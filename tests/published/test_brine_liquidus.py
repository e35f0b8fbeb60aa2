"""The brine's liquidus against handbooks, an independent library, and road-salt practice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics.brine import EUTECTIC_C, EUTECTIC_PCT, freezing_c, melt_g, strength_pct

if TYPE_CHECKING:
    from tests.published.conftest import Held

LIQUIDUS = "NaCl brine, freezing point, 1 to 23 % salt"

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
def test_liquidus_is_that_of_the_crc_handbook(held: Held, salt_pct: float, crc_c: float) -> None:
    """Every CRC row is met to its own last digit."""
    held(
        LIQUIDUS,
        freezing_c(salt_pct),
        crc_c,
        within=0.01,
        unit="°C",
        source="CRC Handbook, 102nd ed.",
    )


@pytest.mark.parametrize(("salt_pct", "lange_c"), LANGE)
def test_liquidus_is_that_of_lange(held: Held, salt_pct: float, lange_c: float) -> None:
    """Lange's rows are met within what they part from the CRC Handbook, 0.08 °C, and rounding."""
    held(
        LIQUIDUS,
        freezing_c(salt_pct),
        lange_c,
        within=0.09,
        unit="°C",
        source="Lange's Handbook, 15th ed., table 5.13",
    )


@pytest.mark.parametrize("salt_pct", [2.0, 5.0, 10.0, 15.0, 20.0, 22.0, 23.0])
def test_liquidus_agrees_with_coolprop(held: Held, salt_pct: float) -> None:
    """CoolProp's sodium chloride brine (Melinder 2010) agrees to 0.02 °C, to 0.16 °C past 20 %."""
    kelvin = PropsSI("T_freeze", "P", 101325, "Q", 0, f"INCOMP::MNA[{salt_pct / 100.0}]")
    strong = salt_pct > 20.0
    held(
        f"NaCl brine, freezing point, {'22 and 23' if strong else '2 to 20'} % salt",
        freezing_c(salt_pct),
        kelvin - 273.15,
        within=0.16 if strong else 0.02,
        unit="°C",
        source="CoolProp (Melinder 2010)",
    )


def test_eutectic_is_where_oakes_measured_it(held: Held) -> None:
    """Oakes, Bodnar & Simonson 1990 (Geochim. Cosmochim. Acta 54, 603): -21.2 °C at 23.2 %."""
    oakes = "Oakes, Bodnar & Simonson 1990"
    held("NaCl brine, eutectic", EUTECTIC_C, -21.2, within=0.1, unit="°C", source=oakes)
    held(
        "NaCl brine, salt at the eutectic", EUTECTIC_PCT, 23.2, within=0.11, unit="%", source=oakes
    )


@pytest.mark.parametrize(("t_c", "ice_kg"), ROAD_SALT)
def test_ice_melted_by_a_kilogram_of_salt_is_that_of_road_practice(
    held: Held, t_c: float, ice_kg: float
) -> None:
    """The strength that each road-salt figure implies is the liquidus within 0.8 % salt.

    Near 0 °C that much salt is a wide span of ice, so that the ice itself is held below -5 °C.
    """
    source = "Salt Institute handbook, as quoted for road crews"
    held(
        "Salt in the brine once a kg has melted what it can, −1 to −21 °C",
        strength_pct(t_c),
        100.0 / (1.0 + ice_kg),
        within=0.8,
        unit="%",
        source=source,
    )
    if t_c < -5.0:
        held(
            "Ice melted by a kg of salt, −7 to −21 °C",
            melt_g(1.0, t_c),
            ice_kg,
            within=0.06 * ice_kg,
            unit="kg",
            source=source,
        )


def test_fluid_inclusion_equations_lie_within_the_known_spread(held: Held) -> None:
    """Hall, Sterner & Bodnar 1988 (Econ. Geol. 83, 197) stays within 0.25 °C from 0 to 23.3 %."""
    for w in np.linspace(0.0, 23.3, 100).tolist():
        held(
            "NaCl brine, freezing point, 0 to 23.3 % salt: spread of the sources",
            freezing_c(w),
            -(0.581855 * w + 3.48896e-3 * w**2 + 4.314e-4 * w**3),
            within=0.25,
            unit="°C",
            source="Hall, Sterner & Bodnar 1988, equation for fluid inclusions",
        )
