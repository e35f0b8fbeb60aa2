"""A real record of water that cools in a mug: the plain fit, and the watch over a cooked base.

The record stands in `cooling_water.csv` beside this file, with its source. Its exponential was
fitted in R by Project MOSAIC, "Is Cooling Exponential?" (2013, read): 27.00446, 62.13545 and
0.02096, and that its residuals are systematic.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigmon.estimate.basecooling import BaseCooling
from rigmon.estimate.coolingfit import Array, fit, two_term
from rigmon.physics.foodsafety import COOLING_FROM_C, FIRST_STAGE_C, FIRST_STAGE_S

if TYPE_CHECKING:
    from tests.published.conftest import Held

SOURCE = "Project MOSAIC, 2013, fitted in R to S. Wagon's record"
STOPS_AT = 2e-5
"""R's `nls` stops at a relative offset of 1e-5 (its documentation, from memory): that is the fifth
decimal of what it prints."""


def approach(x: Array, params: Array) -> Array:
    """Y = b1 + b2 exp(−b3 x)."""
    return np.asarray(params[0] + params[1] * np.exp(-params[2] * x))


@pytest.fixture(scope="module")
def record() -> tuple[Array, Array]:
    """Times [min] and temperatures [°C]."""
    path = Path(__file__).parent / "cooling_water.csv"
    minutes, water_c = np.loadtxt(path, delimiter=",", skiprows=3).T
    return minutes, water_c


def test_the_plain_exponential_is_the_published_one(
    held: Held, record: tuple[Array, Array]
) -> None:
    """Where it ends [°C], how far it falls [K] and how fast [1/min]."""
    found = fit(approach, *record, [70.0, 30.0, np.log(2.0) / 40.0])
    assert found.converged
    for ours, theirs in zip(found.params.tolist(), (27.00446, 62.13545, 0.02096), strict=True):
        held(
            "Exponential of a mug of cooling water",
            ours,
            theirs,
            within=STOPS_AT,
            unit="",
            source=SOURCE,
        )


def test_a_second_term_takes_up_what_the_first_leaves(record: tuple[Array, Array]) -> None:
    """One term errs systematically, as was published; two err by little more than the last digit.

    The record is rounded to 0.1 K, which alone scatters by 0.1 / sqrt(12) = 0.03 K.
    """
    one = fit(approach, *record, [25.0, 60.0, 0.02])
    two = fit(two_term, *record, [25.0, 50.0, 20.0, 0.015, 0.1])
    assert two.converged
    assert one.rsd > 1.0
    assert two.rsd < 0.2 * one.rsd


def test_water_left_in_a_room_is_foretold_to_cool_too_slowly(record: tuple[Array, Array]) -> None:
    """The record is still above 21 °C two hours after 57 °C; a quarter of the way it is known."""
    minutes, water_c = record
    from_s = 60.0 * float(minutes[water_c >= COOLING_FROM_C][-1])
    due = np.interp((from_s + FIRST_STAGE_S) / 60.0, minutes, water_c)
    assert due > FIRST_STAGE_C

    base = BaseCooling(0.5, seed=0)
    for minute, read_c in zip(minutes, water_c, strict=True):
        if 60.0 * minute > from_s + 0.25 * FIRST_STAGE_S:
            break
        base.feed(60.0 * float(minute), float(read_c))
    state = base.at(from_s + 0.25 * FIRST_STAGE_S)
    assert state is not None
    assert state.goal_c == FIRST_STAGE_C
    assert state.deadline_s == pytest.approx(from_s + FIRST_STAGE_S)
    assert state.p_late > 0.9
