"""Readings in blocks of five seconds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.estimate.blocks import BLOCK_S, Blocks

READINGS = st.lists(
    st.tuples(st.floats(-1e4, 1e4), st.floats(-60.0, 60.0)), min_size=1, max_size=60
)


def filled(readings: list[tuple[float, float]]) -> Blocks:
    """Blocks with readings in."""
    blocks = Blocks()
    for t, c in readings:
        blocks.add(t, c)
    return blocks


@given(READINGS)
def test_readings_find_their_block_in_whatever_order_they_come(
    readings: list[tuple[float, float]],
) -> None:
    """Late readings change nothing but the order of sums."""
    as_came, in_order = filled(readings), filled(sorted(readings))

    for ours, theirs in zip(as_came.since(-2e4), in_order.since(-2e4), strict=True):
        assert ours == pytest.approx(theirs, abs=1e-9)


@given(READINGS)
def test_blocks_are_in_order_and_hold_every_reading_once(
    readings: list[tuple[float, float]],
) -> None:
    """Middles rise, and weights add up to the readings there were."""
    middles, _, weights = filled(readings).since(-2e4)

    assert np.all(np.diff(middles) >= BLOCK_S)
    assert weights.sum() == len(readings)


def test_a_less_sure_reading_counts_for_less() -> None:
    """A weight of a third pulls the mean a quarter of the way."""
    blocks = Blocks()
    blocks.add(0.0, -10.0)
    blocks.add(1.0, -14.0, weight=1.0 / 3.0)

    assert blocks.mean_of_last(4.0, BLOCK_S) == pytest.approx(-11.0)


def test_the_mean_of_the_last_seconds_forgets_what_is_older() -> None:
    """Blocks that ended before the time asked about do not count."""
    blocks = filled([(float(t), -5.0 if t < 20 else -9.0) for t in range(30)])

    assert blocks.mean_of_last(29.0, BLOCK_S) == pytest.approx(-9.0)
    assert blocks.mean_of_last(120.0, BLOCK_S) is None


def test_the_trend_of_a_straight_line_is_that_line() -> None:
    """Level and slope come back exactly, and from fewer than four blocks not at all."""
    line = [(t + 2.5, -20.0 + 0.01 * (t + 2.5)) for t in np.arange(0.0, 200.0, BLOCK_S)]
    found = filled(line).trend(200.0, 180.0)

    assert found is not None
    assert found == pytest.approx((-18.0, 0.01))
    assert filled(line[:3]).trend(200.0, 500.0) is None


def test_the_usual_gap_is_that_of_the_newest_blocks() -> None:
    """Seconds apart first, then two minutes apart: sparse readings are known as sparse."""
    seconds = [(float(t), 0.0) for t in range(60)]
    sparse = [(60.0 + 120.0 * k, 0.0) for k in range(1, 8)]

    assert filled(seconds).usual_gap_s() == BLOCK_S
    assert filled(seconds + sparse).usual_gap_s() == 120.0
    assert filled(seconds[:1]).usual_gap_s() == 0.0
