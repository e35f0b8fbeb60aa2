"""The estimator beyond the first round: rest, recharge, core, what a run taught."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.estimator import Estimator
from rigmon.physics.mix import freezing_curve
from rigmon.records import (
    BathSetup,
    Event,
    Mark,
    MarkWord,
    Place,
    Reading,
    Recipe,
    RigSetup,
)
from tests.estimate.feeding import fed, of_event

POUR_S = 60.0
MakeBowl = Callable[..., Any]
MakeEstimator = Callable[..., Estimator]


def test_a_mix_that_rests_is_not_read_in_its_middle(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """In rest neither share nor plateau is told, and no heat of beating; the bath still is."""
    estimator = fed(make_estimator(), make_bowl().readings(600.0))
    estimator.feed(Mark(600.0, MarkWord.BEAT_STOP))
    estimator.feed(Mark(601.0, MarkWord.REST_START, detail={"where": "rig"}))
    estimate = estimator.at(602.0)

    assert (estimate.frozen_pct, estimate.cooling_w) == (None, None)
    assert estimate.ice_left_g is not None
    assert {f.event for f in estimator.forecast(602.0)} == {Event.BATH_LIMIT, Event.ICE_GONE}
    assert estimator.ensemble(602.0, 10) is None


def test_a_lifted_bowl_and_a_freezer_around_the_rig_spare_the_ice(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """An hour's rest in the room with the mix in the bath melts most, in the freezer least."""

    def left(rest: dict[str, str]) -> float:
        estimator = fed(make_estimator(), make_bowl().readings(600.0))
        estimator.feed(Mark(600.0, MarkWord.REST_START, detail=rest))
        for t in range(610, 4200, 10):
            estimator.feed(Reading(float(t), "bath", -18.0))
        ice_g = estimator.at(4199.0).ice_left_g
        assert ice_g is not None
        return ice_g

    assert left({}) < left({"where": "bowl"}) < left({"where": "rig"})


def test_once_packed_the_core_says_the_share_and_the_bath_is_done_with(
    typical: Recipe, make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """In the freezer the core's temperature through the curve is what is known."""
    estimator = fed(make_estimator(), make_bowl().readings(600.0))
    estimator.feed(Mark(600.0, MarkWord.HARDEN_START))
    assert "core probe" in estimator.at(601.0).unsaid["frozen_pct"]
    for t in range(600, 4200, 60):
        estimator.feed(Reading(float(t), "core", -12.0))
        estimator.feed(Reading(float(t), "bath", -9.0))
    assert typical.composition is not None
    by_curve = freezing_curve(typical.composition).frozen_pct(-12.0)

    assert estimator.at(4150.0).frozen_pct == pytest.approx(by_curve)
    assert [made.event for made in estimator.forecast(4150.0)] == [Event.HARDENED]


def test_a_bath_that_nobody_spoke_of_is_the_usual_one(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Amounts of the configuration count from the pour on where no ice-in was marked."""
    usual = RigSetup(bath=BathSetup(ice_g=2600.0, salt_g=650.0))
    readings = list(make_bowl().readings(300.0))
    pour = Mark(POUR_S, MarkWord.POUR)
    known = fed(fed(make_estimator(setup=usual, poured=False), [pour]), readings).at(299.0)
    unknown = fed(fed(make_estimator(poured=False), [pour]), readings).at(299.0)
    assert known.ice_left_g is not None

    assert 1000.0 < known.ice_left_g < 2600.0
    assert known.salt_g == 650.0
    assert (unknown.ice_left_g, unknown.salt_g) == (None, None)


def test_an_unweighed_recharge_ends_what_is_known_of_the_ice(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Ice left and its end are no longer told; the brine's strength is."""
    estimator = fed(make_estimator(), make_bowl().readings(400.0))
    estimator.feed(Mark(399.0, MarkWord.RECHARGE))
    estimate = estimator.at(399.0)

    assert (estimate.ice_left_g, estimate.salt_g, estimate.brine_water_g) == (None, None, None)
    assert "weighed" in estimate.unsaid["ice_left_g"]
    assert estimate.brine_pct is not None
    assert of_event(estimator.forecast(399.0), Event.ICE_GONE) is None


def test_what_slows_the_mix_adds_up_to_the_whole(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Before the knee nothing slows it; after it bath, wall and beater share the blame."""
    bowl, estimator = make_bowl(0.0, 2), make_estimator()
    readings = list(bowl.readings(1200.0))
    fed(estimator, readings[:300])
    assert estimator.why(149.0) is None
    fed(estimator, readings[300:])
    why = estimator.why(1199.0)
    assert why is not None

    assert why.bath + why.wall + why.beater == pytest.approx(1.0)
    assert min(why.bath, why.wall, why.beater) >= 0.0


def test_members_for_what_if_questions_carry_the_belief(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """As many as asked for, each with its mix, ice and parameters, spread as the estimate is."""
    estimator = fed(make_estimator(), make_bowl(0.2, 1).readings(900.0))
    states, estimate = estimator.ensemble(899.0, 100), estimator.at(899.0)
    few = estimator.ensemble(899.0, 7)
    assert states is not None
    assert few is not None
    assert estimate.ice_left_g is not None

    assert states.parameters.shape == (states.mix_c.size, len(states.names))
    assert few.frozen_pct.size == 7
    assert np.median(states.ice_left_g) == pytest.approx(estimate.ice_left_g, rel=0.05)
    assert np.mean(states.frozen_pct) == pytest.approx(estimate.frozen_pct, abs=3.0)


def test_what_a_run_taught_is_surer_than_what_was_believed(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The wall's conductance is known better after a round than before, on the prior's scale."""
    fit = fed(make_estimator(), make_bowl(0.0, 1, ua_w_k=9.0).readings(1500.0))
    fit.at(1499.0)
    taught = fit.finish()
    assert taught is not None
    i = taught.names.index("ua_w_k")

    assert taught.names == PRIOR.names
    assert taught.prior == PRIOR
    assert taught.covariance[i][i] < 0.5 * PRIOR.covariance[i][i]
    assert taught.mean[i] == pytest.approx(np.log(9.0), abs=0.4)
    assert "ua_w_k" not in taught.undetermined


def test_a_round_without_a_plateau_says_nothing_of_when_it_comes(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Only once the plateau was announced does the run say how this rig's plateaus come."""
    at = PRIOR.names.index("plateau_factor")
    estimator = fed(make_estimator(), make_bowl(0.0, 1).readings(1000.0))
    estimator.at(999.0)
    early = estimator.finish()
    estimator.plateau_told()
    late = estimator.finish()
    assert early is not None
    assert late is not None
    assert (early.mean[at], early.covariance[at][at]) == (PRIOR.mean[at], PRIOR.covariance[at][at])
    assert "plateau_factor" in early.undetermined
    assert late.covariance[at][at] < PRIOR.covariance[at][at]


def test_a_prior_of_another_model_is_not_used(typical: Recipe, make_bowl: MakeBowl) -> None:
    """What an older model learned does not fit this one's parameters."""
    foreign = PRIOR.__class__(("x",), ("log",), (1.0,), ((1.0,),), "older")
    readings = list(make_bowl().readings(400.0))
    answers = []
    for prior in (PRIOR, foreign):
        estimator = Estimator(typical, RigSetup(), prior, 0)
        for place in (Place.BATH, Place.MIX):
            estimator.place_probe(place.value, place)
        fed(estimator, [Mark(POUR_S, MarkWord.POUR), *readings])
        answers.append(estimator.at(399.0))

    assert answers[0] == answers[1]
