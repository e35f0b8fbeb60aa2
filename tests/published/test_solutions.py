"""Freezing points of solutions of one solute, as a mix of nothing else, against the CRC Handbook.

CRC Handbook of Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties of Aqueous
Solutions": mass % of the solute and freezing point depression [K].
"""

from __future__ import annotations

import pytest

from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition

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


def _depression_k(composition: Composition) -> float:
    return -freezing_curve(composition).initial_c


@pytest.mark.parametrize(("pct", "crc_k"), SUCROSE)
def test_sucrose_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Sucrose to 40 % is met to 0.05 K."""
    assert _depression_k(Composition(100.0 - pct, sucrose=pct)) == pytest.approx(crc_k, abs=0.051)


def test_sucrose_at_42_percent_stands_between_two_sources() -> None:
    """CRC has 4.93 K, the table used for mixes 4.80 K; no smooth curve meets both to 0.05 K."""
    assert 4.80 < _depression_k(Composition(58.0, sucrose=42.0)) < 4.93


@pytest.mark.parametrize(("pct", "crc_k"), GLUCOSE)
def test_glucose_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Glucose to 30 % is met to 0.07 K."""
    assert _depression_k(Composition(100.0 - pct, dextrose=pct)) == pytest.approx(crc_k, abs=0.07)


@pytest.mark.parametrize(("pct", "crc_k"), FRUCTOSE)
def test_fructose_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Fructose to 28 % is met to 0.13 K."""
    assert _depression_k(Composition(100.0 - pct, fructose=pct)) == pytest.approx(crc_k, abs=0.13)


@pytest.mark.parametrize(("pct", "crc_k"), LACTOSE)
def test_lactose_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Lactose to 8 %, near what water holds, is met to 0.02 K."""
    assert _depression_k(Composition(100.0 - pct, lactose=pct)) == pytest.approx(crc_k, abs=0.02)


@pytest.mark.parametrize(("pct", "crc_k"), ETHANOL)
def test_ethanol_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Ethanol is met to 0.07 K up to 32 %, to 0.3 K at 40 %."""
    allowed = 0.07 if pct <= 32 else 0.3
    assert _depression_k(Composition(100.0 - pct, alcohol=pct)) == pytest.approx(crc_k, abs=allowed)


@pytest.mark.parametrize(("pct", "crc_k"), SODIUM_CHLORIDE)
def test_salt_freezes_where_the_crc_handbook_says(pct: float, crc_k: float) -> None:
    """Sodium chloride to 20 % is met to 0.01 K."""
    assert _depression_k(Composition(100.0 - pct, salt=pct)) == pytest.approx(crc_k, abs=0.01)
