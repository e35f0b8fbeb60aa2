"""Freezing points and curves of whole mixes against the worked examples of the trade.

The ASHRAE Handbook (Refrigeration, "Thermal Properties of Foods", table 3) prints -5.6 °C as the
initial freezing point of its three ice creams, -2.2 °C for table cream and -15 °C for sweetened
condensed milk. The first is near a draw temperature, with half of the water ice; the others do not
follow from what the table says that they are made of. None of them is a point to hold a freezing
curve to; milk and evaporated milk are.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import pytest

from rigmon.physics.mix import MONOSACCHARIDE, FreezingCurve, freezing_curve, glucose_syrup_factor
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

TYPICAL = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)

# Water frozen [%] and temperature [°C] of the mix above: Arbuckle, Ice Cream, 4th ed., after
# Keeney (the figures are from memory; the method's own arithmetic gives them to 0.03 °C, but for
# -3.56 in place of -3.50 at 30 %).
ARBUCKLE = (
    (0, -2.47), (5, -2.58), (10, -2.75), (15, -2.90), (20, -3.11), (25, -3.31), (35, -3.87),
    (40, -4.22), (45, -4.65), (50, -5.21), (55, -5.88), (60, -6.78), (70, -9.45), (80, -14.92),
)  # fmt: skip
ARBUCKLE_SOURCE = "Arbuckle, Ice Cream, 4th ed., after Keeney; from memory"

# H. D. Goff, University of Guelph, "Calculation of freezing point depression of a mix": 10 % nonfat
# milk solids, 2 % whey solids (76.5 % lactose), 12 % sucrose, 4 % corn syrup solids of 42 DE, 60 %
# water. The whey's lactose beyond that of milk solids is given as lactose, its salts in full. The
# copy that was read ends before the result, which is worked from its method by hand.
GUELPH = Composition(
    water=60.0,
    msnf=12.0,
    sucrose=12.0,
    lactose=2.0 * (0.765 - 0.545),
    glucose_syrup=4.0,
    fat=11.56,
)

# Quoted in a paper on ice cream with hydrolysed lactose, which was read in part; authors and year
# are from memory.
LOW_LACTOSE = "Abbasi & Saeedabadian 2015 (name from memory)"
NORDIC_SUGAR = "Nordic Sugar, page on freezing-point depression"

# Mixes as they are made: fat, milk solids not fat, sucrose [%]; the rest is water.
USUAL = ((4, 9, 15), (10, 12, 15), (12, 11, 15), (16, 6, 16), (17, 6.5, 16), (8, 12, 16))


@pytest.mark.parametrize(("frozen_pct", "arbuckle_c"), ARBUCKLE)
def test_typical_mix_follows_the_published_curve(
    held: Held, frozen_pct: float, arbuckle_c: float
) -> None:
    """From 0 to 80 % frozen the published temperatures are met to 0.05 °C."""
    held(
        "Typical mix (12.5 fat, 10.5 milk solids, 15 sugar), 0 to 80 % frozen",
        freezing_curve(TYPICAL).temperature_c(float(frozen_pct)),
        arbuckle_c,
        within=0.051,
        unit="°C",
        source=ARBUCKLE_SOURCE,
    )


def test_typical_mix_meets_both_figures_at_30_percent_frozen(held: Held) -> None:
    """At 30 % the printed figure is -3.50 °C and the method's own -3.56 °C; ours is within 0.08."""
    at_30 = freezing_curve(TYPICAL).temperature_c(30.0)
    what = "Typical mix, 30 % frozen"
    held(what, at_30, -3.50, within=0.08, unit="°C", source=ARBUCKLE_SOURCE)
    held(what, at_30, -3.56, within=0.05, unit="°C", source="Leighton's method, worked by hand")


def test_typical_mix_is_nine_tenths_frozen_where_the_books_say(held: Held) -> None:
    """At 90 % frozen, past every sucrose table, -30.2 °C is met to 0.5 °C."""
    at_90 = freezing_curve(TYPICAL).temperature_c(90.0)
    held("Typical mix, 90 % frozen", at_90, -30.16, within=0.5, unit="°C", source=ARBUCKLE_SOURCE)


def test_half_of_the_water_is_frozen_at_minus_5(held: Held) -> None:
    """A sugar maker's page on the freezing point says: around half at -5 °C."""
    at_5 = freezing_curve(TYPICAL).frozen_pct(-5.0)
    held("Typical mix, water frozen at −5 °C", at_5, 50, within=5, unit="%", source=NORDIC_SUGAR)


def test_guelph_example_with_the_molar_mass_convention(held: Held) -> None:
    """Corn syrup solids of 42 DE counted 0.8 (Goff & Hartel, 7th ed.): -2.75 °C within 0.06."""
    held(
        "Corn syrup solids of 42 DE, counted as sucrose",
        glucose_syrup_factor(42.0),
        0.8,
        within=0.005,
        unit="g/g",
        source="Goff & Hartel, 7th ed., from memory",
    )
    held(
        "Guelph example, freezing point, that syrup counted 0.8",
        freezing_curve(GUELPH).initial_c,
        -2.75,
        within=0.06,
        unit="°C",
        source="Goff, University of Guelph; worked by hand",
    )


def test_guelph_example_with_the_de_over_100_convention(held: Held) -> None:
    """Counted DE/100 = 0.42, the same example comes to -2.59 °C, within 0.06."""
    de_over_100 = dataclasses.replace(GUELPH, glucose_syrup_de=42.0 / MONOSACCHARIDE)
    held(
        "Guelph example, freezing point, that syrup counted DE/100",
        freezing_curve(de_over_100).initial_c,
        -2.59,
        within=0.06,
        unit="°C",
        source="Goff, University of Guelph; worked by hand",
    )


def test_milk_freezes_at_minus_0_55(held: Held) -> None:
    """Leighton 1927 (J. Dairy Sci. 10, 300): 87.11 % water, 8.99 % solids not fat, -0.55 °C."""
    milk = Composition(water=87.11, fat=3.9, msnf=8.99)
    ours = freezing_curve(milk).initial_c
    held("Milk, freezing point", ours, -0.55, within=0.02, unit="°C", source="Leighton 1927")


@pytest.mark.parametrize(
    ("milk", "ashrae_c"),
    [
        (Composition(water=87.69, fat=3.66, msnf=8.65), -0.6),
        (Composition(water=74.04, fat=7.56, msnf=18.40), -1.4),
    ],
)
def test_milk_as_it_comes_and_evaporated_freezes_where_ashrae_says(
    held: Held, milk: Composition, ashrae_c: float
) -> None:
    """The salts' constant, taken from milk, holds at twice its strength, to a printed digit."""
    held(
        "Milk and evaporated milk, freezing point",
        freezing_curve(milk).initial_c,
        ashrae_c,
        within=0.1,
        unit="°C",
        source="ASHRAE Refrigeration 2006, ch. 9, table 3",
    )


def test_a_12_11_15_mix_freezes_near_minus_2_5(held: Held) -> None:
    """12 % fat, 11 % milk solids, 15 % sugar is commonly given as -2.5 °C."""
    mix = Composition(water=61.7, fat=12.0, msnf=11.0, sucrose=15.0, stabiliser=0.3)
    held(
        "Mix of 12 fat, 11 milk solids, 15 sugar, freezing point",
        freezing_curve(mix).initial_c,
        -2.5,
        within=0.05,
        unit="°C",
        source=LOW_LACTOSE,
    )


@pytest.mark.parametrize(("fat", "msnf", "sucrose"), USUAL)
def test_usual_mixes_freeze_within_the_published_span(
    held: Held, fat: float, msnf: float, sucrose: float
) -> None:
    """From lean to rich they begin to freeze between -1.4 and -3.0 °C."""
    mix = Composition(100.0 - fat - msnf - sucrose, fat=fat, msnf=msnf, sucrose=sucrose)
    held(
        "Usual mixes, freezing point: the span is −1.4 to −3.0 °C",
        freezing_curve(mix).initial_c,
        -2.2,
        within=0.8,
        unit="°C",
        source=f"{LOW_LACTOSE}; Exploratorium, Science of Cooking",
    )


def _sweetened(sucrose: float, dextrose: float) -> FreezingCurve:
    water = 76.7 - sucrose - dextrose
    return freezing_curve(
        Composition(water, fat=12.0, msnf=11.0, sucrose=sucrose, dextrose=dextrose, stabiliser=0.3)
    )


@pytest.mark.parametrize(
    ("mix_a", "mix_b"),
    [
        (_sweetened(12.0, 0.0), _sweetened(18.0, 0.0)),
        (_sweetened(14.0, 0.0), _sweetened(7.0, 7.0)),
    ],
    ids=["more sugar", "lighter sugar"],
)
def test_more_or_lighter_sugar_leaves_less_frozen_at_draw_and_in_the_cabinet(
    mix_a: FreezingCurve, mix_b: FreezingCurve
) -> None:
    """Of two mixes the sweeter has less of its water frozen, as on Goff's chart of two mixes.

    H. D. Goff in Advanced Dairy Chemistry, vol. 3, fig. III.3: 30 % against 45 % as they are drawn,
    between -4 and -8 °C, 60 % against 75 % in the retail cabinet, between -12 and -16 °C. The chart
    is no scale: only the order is held, and that the mixes part no less as they are drawn.
    """
    draw_c, cabinet_c = -6.0, -14.0
    drawn = mix_a.frozen_pct(draw_c) - mix_b.frozen_pct(draw_c)
    kept = mix_a.frozen_pct(cabinet_c) - mix_b.frozen_pct(cabinet_c)
    assert drawn > kept > 0.0
    assert 30.0 < mix_b.frozen_pct(draw_c) < mix_a.frozen_pct(draw_c) < mix_b.frozen_pct(cabinet_c)
