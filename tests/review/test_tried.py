"""A run as it can be held against others, and which cannot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.records import Composition, Recipe
from rigmon.review.measures import Bath, Measures, Point
from rigmon.review.tried import LeftOut, Tried, tried

RECIPE = Recipe("mix", Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.3))
COURSE = tuple(
    Point(30.0 * n, frozen_pct=max(0.0, n - 10.0), bath_c=-15.0, ice_left_g=2500.0 - 20.0 * n)
    for n in range(41)
)
"""From the fifth minute on 1 % more of the water freezes every half minute."""
RUN = Measures(
    run="kitchen-1",
    rig="kitchen",
    virtual=False,
    started_unix=1.0,
    model_version="any",
    mix_g=1000.0,
    mix_c=5.0,
    bath=Bath(ice_g=2600.0, salt_g=650.0, ice_c=-6.0, wet_pct=10.0, wait_s=200.0),
    poured_s=200.0,
    course=COURSE,
)


def test_a_run_is_timed_on_straight_lines() -> None:
    """20 % are frozen fifteen minutes after the pour; the first percent after five and a half."""
    run = tried(RUN, RECIPE, 20.0)

    assert isinstance(run, Tried)
    assert run.frozen_pct == 20.0
    assert run.took_s == pytest.approx(900.0)
    assert run.freezing_s == pytest.approx(900.0 - 330.0)
    assert run.bath_c == -15.0
    assert run.ice_melted_g == pytest.approx(0.9 * 2600.0 - 1900.0)
    assert (run.start.ice_c, run.start.wet_pct, run.start.wait_s) == (-6.0, 10.0, 200.0)


def test_a_run_that_froze_less_is_timed_to_less() -> None:
    """Of 30 % that a run froze in all, no more than 85 % count: near the end times run away."""
    run = tried(RUN, RECIPE, 40.0)

    assert isinstance(run, Tried)
    assert run.frozen_pct == 25.0


@pytest.mark.parametrize(
    ("run", "recipe", "why"),
    [
        (RUN, None, "no recipe"),
        (replace(RUN, mix_g=None), RECIPE, "not told"),
        (replace(RUN, bath=replace(RUN.bath, salt_g=None)), RECIPE, "not told"),
        (replace(RUN, poured_s=None), RECIPE, "not told"),
        (replace(RUN, bath=replace(RUN.bath, recharges=(500.0,))), RECIPE, "before a recharge"),
        (
            replace(RUN, course=tuple(replace(one, sound=False) for one in COURSE)),
            RECIPE,
            "not sound",
        ),
        (replace(RUN, course=COURSE[:13]), RECIPE, "no more than 2 %"),
        (replace(RUN, course=()), RECIPE, "not sound"),
    ],
)
def test_what_cannot_be_held_against_others_says_why(
    run: Measures, recipe: Recipe | None, why: str
) -> None:
    """Rules that look at no outcome but how much was frozen leave runs out, each with a reason."""
    found = tried(run, recipe, 20.0)

    assert isinstance(found, LeftOut)
    assert why in found.why


def test_a_recharge_after_enough_was_frozen_does_no_harm() -> None:
    """What was frozen before the bath was changed counts."""
    late = replace(RUN, bath=replace(RUN.bath, recharges=(1200.0,)))

    run = tried(late, RECIPE, 20.0)

    assert isinstance(run, Tried)
    assert run.frozen_pct == 19.0
