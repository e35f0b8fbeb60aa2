"""Where a bath of ice and common salt ends, against published figures and our own arithmetic.

The two tables marked as own arithmetic were worked out by hand from the CRC Handbook's freezing
points before this program was written: they check its bath, not the world.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigmon.physics.ageing import ageing
from rigmon.physics.bath import settled
from rigmon.physics.salts import salt
from rigmon.records import SaltName

if TYPE_CHECKING:
    from tests.published.conftest import Held

NACL = salt(SaltName.SODIUM_CHLORIDE)
OWN = "own arithmetic from the CRC Handbook's freezing points"

# Ice to salt by mass, and the temperature at which the last ice melts [°C].
LAST_ICE = (
    (3.0, -21.0), (4.0, -16.5), (5.0, -12.6), (6.0, -10.2), (8.0, -7.4), (10.0, -5.9), (12.0, -4.9),
)  # fmt: skip
# Ice to salt by mass; bath [°C] with 20, 40, 50, 60, 80 and 100 % of the ice melted.
MELTED_PCT = (20.0, 40.0, 50.0, 60.0, 80.0, 100.0)
ALONG = (
    (4.0, (-21.1, -21.1, -21.1, -21.1, -21.1, -16.5)),
    (5.0, (-21.1, -21.1, -21.1, -21.1, -16.5, -12.6)),
    (6.0, (-21.1, -21.1, -21.1, -18.8, -13.2, -10.2)),
    (8.0, (-21.1, -21.1, -16.5, -13.2, -9.5, -7.4)),
    (12.0, (-21.1, -13.2, -10.2, -8.3, -6.1, -4.9)),
)


@pytest.mark.parametrize(("ratio", "t_c"), LAST_ICE)
def test_last_ice_melts_where_the_strength_of_the_whole_says(
    held: Held, ratio: float, t_c: float
) -> None:
    """Each ratio's last ice is met to the tenth it was written down with, 0.15 °C at 3 : 1."""
    curve = ageing(NACL, 1000.0 * ratio, 0.0, 0.0, 0.0, 1000.0, 0.0, points=10)
    held(
        "Ice to salt 3 to 12, last ice",
        curve.last_ice_c,
        t_c,
        within=0.15 if ratio < 4.0 else 0.06,
        unit="°C",
        source=OWN,
    )


@pytest.mark.parametrize(("ratio", "temperatures_c"), ALONG)
def test_bath_warms_as_its_ice_melts(
    held: Held, ratio: float, temperatures_c: tuple[float, ...]
) -> None:
    """Along the ageing curve each share of ice melted has its temperature to 0.1 °C."""
    ice_g = 1000.0 * ratio
    curve = ageing(NACL, ice_g, 0.0, 0.0, 0.0, 1000.0, 0.0, points=400)
    left = curve.ice_g[curve.heat_j <= curve.last_ice_j * (1.0 + 1e-12)]
    melted_pct = 100.0 * (1.0 - left / ice_g)
    for pct, t_c in zip(MELTED_PCT, temperatures_c, strict=True):
        held(
            "Ice to salt 4 to 12, bath with 20 to 100 % of the ice melted",
            float(np.interp(pct, melted_pct, curve.t_c[: len(left)])),
            t_c,
            within=0.1,
            unit="°C",
            source=OWN,
        )


@pytest.mark.parametrize(
    ("name", "j_g", "within"),
    [
        (SaltName.SODIUM_CHLORIDE, 233.0, 5.0),
        (SaltName.POTASSIUM_CHLORIDE, 283.0, 20.0),
        (SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE, 165.0, 25.0),
    ],
)
def test_eutectic_takes_the_heat_that_makers_of_cold_stores_count_on(
    held: Held, name: SaltName, j_g: float, within: float
) -> None:
    """Ice and salt to brine at the eutectic: what a gram of brine took up."""
    charge, _ = settled(salt(name), 1000.0, 3000.0, 0.0)
    frozen, brine = charge.at_eutectic(0.0), charge.at_eutectic(charge.most_g)
    heat_j = charge.heat_j(brine) - charge.heat_j(frozen)
    held(
        f"{charge.salt.formula} eutectic, heat of melting",
        heat_j / (brine.water_g + brine.dissolved_g),
        j_g,
        within=within,
        unit="J/g",
        source="tables of phase change materials, from memory",
    )
