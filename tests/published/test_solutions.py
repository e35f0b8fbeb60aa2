"""Freezing points of solutions of one solute, as a mix of nothing else, against the CRC Handbook.

CRC Handbook of Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties of Aqueous
Solutions": mass % of the solute and freezing point depression [K].
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

CRC = "CRC Handbook, 102nd ed."
SUCROSE = (
    (2, 0.11), (5, 0.29), (8, 0.49), (10, 0.63), (12, 0.77), (15, 1.01), (18, 1.27), (20, 1.47),
    (22, 1.67), (24, 1.89), (26, 2.12), (28, 2.37), (30, 2.64), (32, 2.94), (34, 3.27), (36, 3.63),
    (38, 4.02), (40, 4.45),
)  # fmt: skip
GLUCOSE = ((2, 0.21), (5, 0.55), (10, 1.17), (15, 1.88), (20, 2.70), (24, 3.48), (30, 4.79))
FRUCTOSE = ((2, 0.21), (5, 0.54), (10, 1.16), (15, 1.86), (20, 2.64), (24, 3.43), (28, 4.20))
LACTOSE = ((1, 0.06), (2, 0.11), (4, 0.23), (5, 0.29), (6, 0.35), (8, 0.50))
ETHANOL = (
    (1, 0.40), (2, 0.81), (3, 1.23), (5, 2.09), (8, 3.47), (10, 4.47), (15, 7.36), (20, 10.92),
    (26, 16.41), (32, 22.44), (36, 25.98), (40, 29.26),
)  # fmt: skip
SODIUM_CHLORIDE = ((0.5, 0.30), (1, 0.59), (2, 1.19), (5, 3.05), (10, 6.56), (20, 16.46))

# The table that mixes are worked with (Goff & Hartel, Ice Cream, 7th ed., after Leighton 1927 and
# Pickering 1891): g of sucrose per 100 g of water and depression [K], from memory. It runs up to
# 0.07 K above the CRC Handbook near 27 g and 0.12 K below it near 72 g.
PICKERING = (
    (9, 0.53), (18, 1.10), (27, 1.67), (36, 2.21), (45, 2.78), (54, 3.42), (63, 4.10), (72, 4.77),
    (81, 5.53), (90, 6.23), (99, 7.04), (108, 7.80), (117, 8.62), (126, 9.45), (135, 10.22),
    (144, 10.97), (153, 11.63), (162, 12.40),
)  # fmt: skip
PICKERING_SOURCE = "table used for mixes (Pickering; Goff & Hartel), from memory"


def _freezing_c(composition: Composition) -> float:
    return freezing_curve(composition).initial_c


@pytest.mark.parametrize(("pct", "crc_k"), SUCROSE)
def test_sucrose_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Sucrose to 40 % is met to 0.05 K."""
    ours = _freezing_c(Composition(100.0 - pct, sucrose=pct))
    held("Sucrose, freezing point, 2 to 40 %", ours, -crc_k, within=0.051, unit="°C", source=CRC)


def test_sucrose_at_42_percent_stands_between_two_sources(held: Held) -> None:
    """CRC has 4.93 K, the table used for mixes 4.80 K; no smooth curve meets both to 0.05 K."""
    ours = _freezing_c(Composition(58.0, sucrose=42.0))
    apart = 4.93 - 4.80
    what = "Sucrose, freezing point, 42 %"
    held(what, ours, -4.93, within=apart, unit="°C", source=CRC)
    held(what, ours, -4.80, within=apart, unit="°C", source=PICKERING_SOURCE)


@pytest.mark.parametrize(("g_per_100_g", "table_k"), PICKERING)
def test_sucrose_follows_the_table_used_for_mixes(
    held: Held, g_per_100_g: float, table_k: float
) -> None:
    """From 9 to 162 g per 100 g of water that table is met within what sources part, 0.13 K."""
    sucrose = 100.0 * g_per_100_g / (100.0 + g_per_100_g)
    held(
        "Sucrose, freezing point, 8 to 62 %",
        _freezing_c(Composition(100.0 - sucrose, sucrose=sucrose)),
        -table_k,
        within=0.14,
        unit="°C",
        source=PICKERING_SOURCE,
    )


@pytest.mark.parametrize(("pct", "crc_k"), GLUCOSE)
def test_glucose_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Glucose to 30 % is met to 0.07 K."""
    ours = _freezing_c(Composition(100.0 - pct, dextrose=pct))
    held("Glucose, freezing point, 2 to 30 %", ours, -crc_k, within=0.07, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "crc_k"), FRUCTOSE)
def test_fructose_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Fructose to 28 % is met to 0.13 K."""
    ours = _freezing_c(Composition(100.0 - pct, fructose=pct))
    held("Fructose, freezing point, 2 to 28 %", ours, -crc_k, within=0.13, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "crc_k"), LACTOSE)
def test_lactose_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Lactose to 8 %, near what water holds, is met to 0.02 K."""
    ours = _freezing_c(Composition(100.0 - pct, lactose=pct))
    held("Lactose, freezing point, 1 to 8 %", ours, -crc_k, within=0.02, unit="°C", source=CRC)


@pytest.mark.parametrize(("pct", "crc_k"), ETHANOL)
def test_ethanol_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Ethanol is met to 0.07 K up to 32 %, to 0.3 K at 40 %."""
    strong = pct > 32
    held(
        f"Alcohol, freezing point, {'36 and 40' if strong else '1 to 32'} %",
        _freezing_c(Composition(100.0 - pct, alcohol=pct)),
        -crc_k,
        within=0.3 if strong else 0.07,
        unit="°C",
        source=CRC,
    )


@pytest.mark.parametrize(("pct", "crc_k"), SODIUM_CHLORIDE)
def test_salt_freezes_where_the_crc_handbook_says(held: Held, pct: float, crc_k: float) -> None:
    """Sodium chloride to 20 % is met to 0.01 K."""
    ours = _freezing_c(Composition(100.0 - pct, salt=pct))
    held(
        "Salt in a mix, freezing point, 0.5 to 20 %",
        ours,
        -crc_k,
        within=0.01,
        unit="°C",
        source=CRC,
    )
