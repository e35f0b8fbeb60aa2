"""The estimator on bowls worked out from enthalpy, whose truth is known."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from rigmon.estimate.bathside import WITHHOLD_S
from rigmon.estimate.estimator import Estimator
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import (
    BathSetup,
    Event,
    Mark,
    MarkWord,
    Reading,
    Recipe,
    RigSetup,
)
from tests.estimate.feeding import fed, of_event

POUR_S = 60.0
MakeBowl = Callable[..., Any]
MakeEstimator = Callable[..., Estimator]


def followed(estimator: Estimator, readings: Iterable[Reading], every_s: float) -> Iterable[float]:
    """Feeds readings and stops at every so many seconds of the run."""
    due_s = every_s
    for reading in readings:
        while reading.t > due_s:
            yield due_s
            due_s += every_s
        estimator.feed(reading)


def test_the_knee_tells_what_the_mix_probe_reads_too_much(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The offset comes back within what is said of it, and much surer than the probe was."""
    away = []
    for seed, offset_k in enumerate((-0.8, -0.5, -0.25, 0.0, 0.2, 0.4, 0.6, 0.8)):
        bowl = make_bowl(offset_k, seed)
        estimate = fed(make_estimator(), bowl.readings(720.0)).at(719.0)
        assert estimate.mix_offset_k is not None
        assert estimate.mix_offset_k_sd is not None
        assert estimate.mix_offset_k_sd < 0.35
        away.append((estimate.mix_offset_k - offset_k) / estimate.mix_offset_k_sd)

    assert np.max(np.abs(away)) < 3.0
    assert np.mean(np.abs(away) < 1.5) >= 0.75


def test_the_frozen_share_follows_the_curve_despite_a_wrong_probe(
    typical: Recipe, make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """From the seventh minute on, the true share lies within two spreads nearly always."""
    off, raw_off = [], []
    assert typical.composition is not None
    curve = freezing_curve(typical.composition)
    for seed, offset_k in enumerate((-0.7, -0.3, 0.3, 0.7)):
        bowl, estimator = make_bowl(offset_k, seed), make_estimator()
        for t in followed(estimator, bowl.readings(1200.0), 60.0):
            if t < 480.0:
                continue
            estimate = estimator.at(t)
            assert estimate.frozen_pct is not None
            assert estimate.frozen_pct_sd is not None
            assert estimate.mix_c is not None
            truth = bowl.frozen_pct[int(t)]
            off.append((estimate.frozen_pct - truth) / estimate.frozen_pct_sd)
            raw_off.append(curve.frozen_pct(estimate.mix_c) - truth)

    assert np.mean(np.abs(off) < 2.0) > 0.85
    assert np.mean(np.abs(raw_off)) > 6.0


def test_before_it_is_cold_enough_nothing_is_frozen(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """A minute after the pour the mix is far above its freezing point, and is said to be."""
    estimate = fed(make_estimator(), make_bowl().readings(121.0)).at(120.0)

    assert estimate.frozen_pct == pytest.approx(0.0, abs=0.5)


def test_without_a_recipe_the_bath_is_told_and_the_rest_said_to_be_unknown(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Temperatures, brine and ice do not need a recipe; share, cooling and plateau do."""
    estimator = fed(make_estimator(None), make_bowl().readings(400.0))
    estimate, forecasts = estimator.at(399.0), estimator.forecast(399.0)

    assert estimate.ice_left_g is not None
    assert estimate.brine_pct is not None
    assert estimate.mix_c is not None
    assert (estimate.frozen_pct, estimate.cooling_w) == (None, None)
    assert "recipe" in estimate.unsaid["frozen_pct"]
    assert "recipe" in estimate.unsaid["cooling_w"]
    assert estimator.bath_limit_c is None
    assert {forecast.event for forecast in forecasts} == {Event.ICE_GONE}
    assert estimator.p_over(399.0) == 0.0
    assert estimator.finish() is None


def test_a_mix_that_nobody_weighed_is_forecast_but_its_watts_are_not_told(
    typical: Recipe, make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The curve does not need the mass; the heat does."""
    unweighed = Recipe(typical.name, typical.composition)
    estimator = fed(make_estimator(unweighed), make_bowl().readings(600.0))
    estimate = estimator.at(599.0)
    plateau = of_event(estimator.forecast(599.0), Event.PLATEAU)

    assert estimate.frozen_pct is not None
    assert estimate.cooling_w is None
    assert "mass" in estimate.unsaid["cooling_w"]
    assert plateau is not None
    assert plateau.p50 is not None


def test_a_mass_said_with_the_pour_goes_before_the_recipes(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Half the mass that cools just so gives about half the heat, more where the prior pulls."""
    readings = list(make_bowl().readings(500.0))
    pour = Mark(POUR_S, MarkWord.POUR, detail={"mix_g": 600.0})
    whole = fed(make_estimator(), readings).at(259.0).cooling_w
    half = fed(fed(make_estimator(poured=False), [pour]), readings).at(259.0).cooling_w
    assert whole is not None
    assert half is not None

    assert 0.35 * whole < half < 0.75 * whole


def test_the_bath_limit_is_the_configured_one_or_follows_from_the_mix(
    typical: Recipe, make_estimator: MakeEstimator
) -> None:
    """4 K below the temperature of 45 % frozen, unless the configuration says otherwise."""
    assert typical.composition is not None
    by_mix = bath_limit_c(freezing_curve(typical.composition))
    set_by_hand = make_estimator(setup=RigSetup(bath=BathSetup(limit_c=-9.5)))

    assert make_estimator().bath_limit_c == by_mix
    assert set_by_hand.bath_limit_c == -9.5


def test_forecasts_are_null_before_they_mean_something(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """For two minutes after the pour the plateau is announced as unknown, then as a range."""
    estimator = make_estimator()
    for t in followed(estimator, make_bowl().readings(400.0), 10.0):
        plateau = of_event(estimator.forecast(t), Event.PLATEAU)
        if t <= POUR_S:
            continue
        assert plateau is not None
        early = t - POUR_S < WITHHOLD_S
        assert (plateau.p10 is None) == early
        assert estimator.p_over(t) == 0.0 or not early


@pytest.mark.parametrize("seed", range(3))
def test_quantiles_are_in_order_ahead_of_now_and_probabilities_are_probabilities(
    make_bowl: MakeBowl, make_estimator: MakeEstimator, seed: int
) -> None:
    """P10 ≤ p50 ≤ p90, none before the time they are told at: what has happened is no forecast."""
    bowl = make_bowl(0.3, seed, ua_w_k=7.0 + 2.0 * seed)
    estimator = make_estimator(seed=seed)
    for t in followed(estimator, bowl.readings(1500.0), 31.0):
        assert 0.0 <= estimator.p_over(t) <= 1.0
        for forecast in estimator.forecast(t):
            told = [q for q in (forecast.p10, forecast.p50, forecast.p90) if q is not None]
            assert told == sorted(told)
            assert all(q >= t for q in told)
            assert forecast.p10 is not None or not told


def test_the_plateau_is_seen_once_it_is_long_past(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Where beating has frozen next to nothing for minutes, the probability is near one."""
    bowl = make_bowl(0.2, 1, beater_w=60.0, bath_end_c=-16.0)
    gains = [bowl.frozen_pct[t + 120] - bowl.frozen_pct[t] for t in (600, 1800)]
    estimator = fed(make_estimator(), bowl.readings(1801.0))

    assert gains[1] < 0.7
    assert gains[0] > 2.0
    assert estimator.p_over(1800.0) > 0.8


def test_nothing_more_is_forecast_of_a_plateau_that_was_told(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Once announced it no longer lies ahead; the bath still does."""
    estimator = fed(make_estimator(), make_bowl().readings(500.0))
    estimator.plateau_told()

    events = {forecast.event for forecast in estimator.forecast(499.0)}
    assert events == {Event.BATH_LIMIT, Event.ICE_GONE}


def test_a_silent_mix_probe_leaves_the_curve_to_go_on(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The share is then what the curve says, with its spread; the temperature is unknown."""
    bowl, estimator = make_bowl(0.2, 3), make_estimator()
    fed(estimator, (r for r in bowl.readings(1000.0) if r.probe == "bath" or r.t < 700.0))
    estimate = estimator.at(999.0)

    assert estimate.mix_c is None
    assert estimate.frozen_pct is not None
    assert estimate.frozen_pct_sd is not None
    assert abs(estimate.frozen_pct - bowl.frozen_pct[999]) < 3.0 * estimate.frozen_pct_sd + 1.0


def test_a_silent_bath_probe_takes_the_bath_away_and_leaves_the_mix(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Brine and ice are unknown without it; the plateau is still forecast."""
    bowl = make_bowl(0.2, 3)
    estimator = fed(make_estimator(), (r for r in bowl.readings(600.0) if r.probe == "mix"))
    estimate = estimator.at(599.0)
    plateau = of_event(estimator.forecast(599.0), Event.PLATEAU)

    assert (estimate.bath_c, estimate.brine_pct, estimate.ice_left_g) == (None, None, None)
    assert "bath probe" in estimate.unsaid["ice_left_g"]
    assert estimate.frozen_pct is not None
    assert plateau is not None
    assert plateau.p50 is not None


def test_readings_typed_every_two_minutes_are_enough_to_go_on_with(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The newest typed temperature stands until the next is due, and forecasts come of them."""
    bowl, estimator = make_bowl(), make_estimator()
    for t in range(0, 1201, 120):
        for probe, course in (("bath", bowl.bath_c), ("mix", bowl.mix_c)):
            estimator.feed(Reading(float(t), probe, course[t], by="hand", sd_k=0.5))
    estimate = estimator.at(1290.0)
    plateau = of_event(estimator.forecast(1290.0), Event.PLATEAU)
    bath = of_event(estimator.forecast(1290.0), Event.BATH_LIMIT)

    assert estimate.mix_c == pytest.approx(bowl.mix_c[1200])
    assert estimate.frozen_pct == pytest.approx(bowl.frozen_pct[1290], abs=10.0)
    assert plateau is not None
    assert plateau.p50 is not None
    assert bath is not None
    assert bath.p10 is not None


def test_an_old_temperature_is_not_the_present_one(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """A board that sent every second and stopped has no temperature after ten seconds."""
    estimator = fed(make_estimator(), make_bowl().readings(300.0))

    assert estimator.at(305.0).bath_c is not None
    assert estimator.at(320.0).bath_c is None


def test_late_readings_come_to_the_same(make_bowl: MakeBowl, make_estimator: MakeEstimator) -> None:
    """Readings up to some seconds late, in any order, leave the same belief behind."""
    readings = list(make_bowl().readings(500.0))
    mixed = sorted(readings, key=lambda r: r.t + random.Random(f"{r}").uniform(0.0, 20.0))
    estimates = [fed(make_estimator(), some).at(505.0) for some in (readings, mixed)]
    assert mixed != readings

    ours, late = ((e.frozen_pct, e.cooling_w, e.bath_c, e.ice_left_g) for e in estimates)
    assert late == pytest.approx(ours, rel=2e-3)


def test_the_same_seed_gives_the_same_answers_and_another_nearly_the_same(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """Chance is only in how a belief is spread into members."""
    readings = list(make_bowl().readings(600.0))

    def told(seed: int) -> tuple[float | None, ...]:
        estimator = fed(make_estimator(seed=seed), readings)
        estimate, forecast = estimator.at(599.0), estimator.forecast(599.0)[0]
        return estimate.frozen_pct, estimate.cooling_w, forecast.p10, forecast.p50, forecast.p90

    assert told(4) == told(4)
    assert told(4) != told(5)
    assert told(4) == pytest.approx(told(5), rel=0.35)
