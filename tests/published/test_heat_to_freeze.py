"""The heat that has to leave a mix, against the way engineers add it up and what they measured.

No table of measured heats was found in print. What is held: the sum by book constants, and the
order in which a calorimeter put three mixes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.physics.mix import freezing_curve
from rigmon.physics.mixheat import heat_to_j_g
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)

# Water frozen [%] and temperature [°C] of the mix above: Arbuckle, Ice Cream, 4th ed., after
# Keeney; from memory. It begins to freeze at -2.47 °C.
ARBUCKLE = (
    (20, -3.11), (25, -3.31), (35, -3.87), (40, -4.22), (45, -4.65), (50, -5.21), (55, -5.88),
    (60, -6.78), (70, -9.45), (80, -14.92),
)  # fmt: skip
BEGINS_C = -2.47

# ASHRAE Handbook, Refrigeration 2006, ch. 9, table 3: vanilla ice cream above freezing [kJ/(kg K)].
# CRC Handbook, 102nd ed., 0 °C: heat of fusion [J/g], specific heats of water and ice [J/(g K)].
MIX_CP, FUSION, WATER_CP, ICE_CP = 3.22, 333.6, 4.22, 2.10

# D. R. Heldman & T. I. Hedrick, "Refrigeration requirements for ice cream freezing", Michigan
# State University, table 1: milk fat, solids not fat, sucrose, corn syrup solids, stabiliser [%].
# Each was frozen to between -15 and -4 °C and melted in a calorimeter.
HELDMAN_HEDRICK = (
    (10.1, 11.0, 10.0, 10.0, 0.22),
    (10.1, 12.0, 14.0, 3.73, 0.22),
    (10.0, 12.0, 15.0, 0.0, 0.22),
)


@pytest.mark.parametrize(("frozen_pct", "t_c"), ARBUCKLE)
def test_heat_to_freeze_is_the_sum_of_its_parts_by_book_constants(
    held: Held, frozen_pct: float, t_c: float
) -> None:
    """Mix to its freezing point, latent heat, mix and ice on to the end, are met to 5 %.

    The parts are those of Heldman & Hedrick. The sum takes the heat of fusion at 0 °C for ice that
    forms some degrees below, and so runs high by up to 4 % in a hard frozen mix.
    """
    ice = TYPICAL.water / 100.0 * frozen_pct / 100.0
    hardened_cp = MIX_CP - ice * (WATER_CP - ICE_CP)
    sum_j_g = (
        MIX_CP * (4.0 - BEGINS_C) + ice * FUSION + 0.5 * (MIX_CP + hardened_cp) * (BEGINS_C - t_c)
    )
    held(
        "Typical mix, heat from 4 °C to 20 to 80 % frozen",
        heat_to_j_g(freezing_curve(TYPICAL), 4.0, float(frozen_pct)),
        sum_j_g,
        within=0.05 * sum_j_g,
        unit="J/g",
        source="sum by hand after Heldman & Hedrick; Arbuckle's curve, from memory",
    )


@pytest.mark.parametrize("t_c", [-4.0, -6.0, -8.0, -10.0, -12.0, -15.0])
def test_heat_to_freeze_falls_as_corn_syrup_takes_the_place_of_sucrose(t_c: float) -> None:
    """Heldman & Hedrick measured it so with three mixes: the less corn syrup the more heat."""
    heats = []
    for fat, msnf, sucrose, syrup, stabiliser in HELDMAN_HEDRICK:
        water = 100.0 - fat - msnf - sucrose - syrup - stabiliser
        curve = freezing_curve(
            Composition(
                water,
                fat=fat,
                msnf=msnf,
                sucrose=sucrose,
                glucose_syrup=syrup,
                stabiliser=stabiliser,
            )
        )
        heats.append(curve.enthalpy_j_g(5.0) - curve.enthalpy_j_g(t_c))
    assert heats[0] < heats[1] < heats[2]
