"""Holds and limits of the food rules."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rigmon.physics.foodsafety import (
    COLD_C,
    COOLING_FROM_C,
    FIRST_STAGE_C,
    MIX_HOLDS,
    hold_share,
)


@pytest.mark.parametrize(
    ("printed_c", "for_s"),
    [(69.0, 1800.0), (80.0, 25.0), (83.0, 15.0)],
)
def test_a_hold_at_the_printed_celsius_is_a_whole_one(printed_c: float, for_s: float) -> None:
    """21 CFR 1240.61(c) prints 69 °C 30 min, 80 °C 25 s and 83 °C 15 s for eggnog."""
    assert hold_share(printed_c, for_s) == pytest.approx(1.0)


def test_a_hotter_hold_is_never_longer() -> None:
    """The rows stand in order, and each is hotter and shorter than the one before."""
    assert all(a.hot_c < b.hot_c and a.for_s > b.for_s for a, b in pairwise(MIX_HOLDS))


def test_what_is_cooler_than_every_row_counts_for_nothing() -> None:
    """Nothing is read off below the coolest row, however long it lasts."""
    assert hold_share(MIX_HOLDS[0].hot_c - 0.1, 1e6) == 0.0


def test_the_cooling_rule_stands_as_it_is_printed() -> None:
    """FDA Food Code 3-501.14(A) prints 57 °C (135 °F), 21 °C (70 °F) and 5 °C (41 °F)."""
    assert [round(c) for c in (COOLING_FROM_C, FIRST_STAGE_C, COLD_C)] == [57, 21, 5]
