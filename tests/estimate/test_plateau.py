"""When the plateau is said to come, whether it is said to be here, and what a rig learns of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.estimate.estimator import Estimator
from rigmon.records import By, Event, Mark, MarkWord, Place, Recipe, RigPrior, RigSetup
from tests.estimate.feeding import fed

POUR_S = 60.0
MakeBowl = Callable[..., Any]
MakeEstimator = Callable[..., Estimator]


def poured(recipe: Recipe, prior: RigPrior = PRIOR, **pour: float) -> Estimator:
    """A batch just poured, with a bath that was weighed."""
    estimator = Estimator(recipe, RigSetup(), prior, 0)
    for place in Place:
        estimator.place_probe(place.value, place)
    amounts = {"ice_g": 3000.0, "salt_g": 750.0}
    estimator.feed(Mark(0.0, MarkWord.ICE_IN, detail=amounts))
    estimator.feed(Mark(POUR_S, MarkWord.POUR, detail=pour))
    return estimator


def with_factor(log: float) -> RigPrior:
    """A rig whose plateaus come so many times later than those of others, as a logarithm."""
    return replace(PRIOR, mean=(*PRIOR.mean[:FACTOR], log))


def middle_s(estimator: Estimator, t: float) -> float:
    """The median of the plateau's forecast [s]."""
    told = next(f for f in estimator.forecast(t) if f.event is Event.PLATEAU)
    assert told.p50 is not None
    return told.p50


def test_weighed_amounts_and_the_mix_s_temperature_are_enough_for_a_forecast(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """Without a mix probe too; a warmer mix takes longer, and nothing is said to be over."""
    bath = [one for one in make_bowl().readings(1500.0) if one.probe == "bath"]
    cool, warm = (fed(poured(typical, mix_c=c), bath) for c in (3.0, 12.0))
    assert POUR_S + 600.0 < middle_s(cool, 400.0) < middle_s(warm, 400.0) < POUR_S + 2400.0
    assert cool.p_over(1499.0) == 0.0


def test_a_bath_alone_that_nobody_weighed_forecasts_no_plateau(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """There is nothing to compute it from."""
    estimator = Estimator(typical, RigSetup(), PRIOR, 0)
    estimator.place_probe("bath", Place.BATH)
    estimator.feed(Mark(POUR_S, MarkWord.POUR, detail={"mix_c": 5.0}))
    fed(estimator, (one for one in make_bowl().readings(600.0) if one.probe == "bath"))
    told = next(f for f in estimator.forecast(599.0) if f.event is Event.PLATEAU)
    assert (told.p10, told.p50, told.p90) == (None, None, None)


def test_the_same_readings_are_more_likely_the_plateau_the_later_it_is_for_the_rig(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """What was expected and how the mix freezes are pooled: each moves the other's word."""
    readings = list(make_bowl(0.2, 1).readings(1400.0))
    early, usual, late = (
        fed(poured(typical, with_factor(log), mix_c=5.0), readings).p_over(1399.0)
        for log in (-0.4, 0.0, 0.4)
    )
    assert late < usual - 0.1 < early - 0.2


def test_a_mix_that_hardly_freezes_is_more_likely_over_than_one_that_does(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """At the same time after the same pour."""
    fast, slow = (
        fed(poured(typical, mix_c=5.0), make_bowl(0.2, 1, beater_w=w).readings(1400.0))
        for w in (15.0, 60.0)
    )
    assert fast.p_over(1399.0) + 0.1 < slow.p_over(1399.0)


def test_what_has_no_ice_is_not_over_however_late(typical: Recipe, make_bowl: MakeBowl) -> None:
    """In a bath above its freezing point the mix never stiffens, and no alarm says it did."""
    bowl = make_bowl(0.0, 1, bath_end_c=1.0)
    assert fed(poured(typical, mix_c=5.0), bowl.readings(2300.0)).p_over(2299.0) < 0.05


@pytest.mark.parametrize(("every_s", "teaches"), [(1, True), (120, False)])
def test_only_a_mix_that_is_read_often_teaches_when_the_rig_s_plateaus_come(
    typical: Recipe, make_bowl: MakeBowl, every_s: int, teaches: bool
) -> None:
    """Of one typed every two minutes the alarm is as good as the clock that it was told."""
    readings = [one for one in make_bowl(0.2, 1).readings(1400.0) if one.t % every_s == 0]
    estimator = fed(poured(typical, mix_c=5.0), readings)
    estimator.at(1399.0)
    estimator.plateau_told()
    fit = estimator.finish()
    assert fit is not None
    assert (fit.mean[FACTOR] != PRIOR.mean[FACTOR]) == teaches
    assert (fit.covariance[FACTOR][FACTOR] < PRIOR.covariance[FACTOR][FACTOR]) == teaches


def test_a_round_starts_from_an_unknown_rig_but_for_when_its_plateaus_come(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """What the run then says is counted from where it started, not from what was learned before."""
    learned = replace(with_factor(0.3), mean=(3.0, *PRIOR.mean[1:FACTOR], 0.3))
    readings = list(make_bowl(0.2, 1).readings(400.0))
    known, unknown = (
        fed(poured(typical, prior, mix_c=5.0), readings) for prior in (learned, PRIOR)
    )
    mixes = [(one.at(399.0).frozen_pct, one.at(399.0).cooling_w) for one in (known, unknown)]
    assert mixes[0] == mixes[1]
    assert middle_s(known, 399.0) > middle_s(unknown, 399.0) + 100.0
    fit = known.finish()
    assert fit is not None
    assert fit.prior == with_factor(0.3)


def test_amounts_told_in_the_middle_of_a_round_are_taken_in(
    typical: Recipe, make_bowl: MakeBowl
) -> None:
    """A maker with full hands says what was weighed minutes after the pour."""
    readings = list(make_bowl(0.2, 1).readings(600.0))
    estimator = Estimator(typical, RigSetup(), PRIOR, 0)
    for place in Place:
        estimator.place_probe(place.value, place)
    estimator.feed(Mark(POUR_S, MarkWord.POUR))
    fed(estimator, readings)
    before = middle_s(estimator, 599.0)
    amounts = {"ice_g": 3000.0, "salt_g": 750.0}
    estimator.feed(Mark(0.0, MarkWord.ICE_IN, detail=amounts))
    told = fed(poured(typical), readings)
    assert middle_s(estimator, 599.0) == middle_s(told, 599.0) != before


def test_a_recharge_puts_the_plateau_off_and_a_bare_one_leaves_it_open(typical: Recipe) -> None:
    """A weak bath made strong again freezes on; nobody knows how far where nothing was weighed."""
    told = []
    for detail in (None, {"ice_g": 1400.0, "salt_g": 350.0, "drained_g": 500.0}, {}):
        estimator = Estimator(typical, RigSetup(), PRIOR, 0)
        estimator.place_probe("bath", Place.BATH)
        estimator.feed(Mark(0.0, MarkWord.ICE_IN, detail={"ice_g": 1000.0, "salt_g": 160.0}))
        estimator.feed(Mark(POUR_S, MarkWord.POUR, detail={"mix_c": 5.0}))
        if detail is not None:
            estimator.feed(Mark(700.0, MarkWord.RECHARGE, detail=detail))
        of = next(f for f in estimator.forecast(720.0) if f.event is Event.PLATEAU)
        assert of.p10 is not None
        assert of.p50 is not None
        assert of.p90 is not None
        told.append((of.p50, of.p90 - of.p10))
    (plain, usual), (weighed, _), (bare, open_) = told
    assert weighed > plain + 180.0
    assert abs(bare - plain) < 60.0
    assert open_ > 1.3 * usual


def test_ice_told_a_second_time_is_ice_added(typical: Recipe) -> None:
    """The second `ice-in` of a maker adds; one that was only recognised gives way to it."""
    told = {}
    for name, marks in {
        "once": ((0.0, By.MAKER, 2000.0),),
        "twice": ((0.0, By.MAKER, 1000.0), (0.0, By.MAKER, 1000.0)),
        "seen": ((0.0, By.DETECTED, None), (0.0, By.MAKER, 2000.0)),
    }.items():
        estimator = Estimator(typical, RigSetup(), PRIOR, 0)
        for t, by, ice_g in marks:
            detail = {} if ice_g is None else {"ice_g": ice_g, "salt_g": ice_g / 4.0}
            estimator.feed(Mark(t, MarkWord.ICE_IN, by, detail))
        estimator.feed(Mark(POUR_S, MarkWord.POUR, detail={"mix_c": 5.0}))
        told[name] = middle_s(estimator, 300.0)
    assert told["seen"] == told["once"]
    assert told["twice"] == pytest.approx(told["once"], abs=30.0)
