"""First rounds as they may go: what helps, what hurts, and when events come."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigmon.physics.course import (
    Course,
    Refill,
    Start,
    bath_limit_s,
    course,
    plateau_s,
    reached_s,
    ready_s,
)
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import draw_rigs, usual_rig
from rigmon.records import Composition, IceKind, PlateauSetting, SaltKind

CURVE = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3))
START = Start(mix_g=1200.0, ice_g=3000.0, salt_g=750.0)
SETTING = PlateauSetting()


def time_to_frozen(start: Start, frozen_pct: float = 16.0) -> float:
    """Time from the pour to so much frozen [s]: 16 % of the water is 10 % of the mix."""
    of = course(CURVE, start, usual_rig(), beat_s=3600.0, step_s=2.0)
    return float(reached_s(of, frozen_pct)[0])


def made(frozen_pct: Array, bath_c: Array | None = None) -> Course:
    """A course of one rig with a sample a 5 s."""
    t = 5.0 * np.arange(float(frozen_pct.size))
    column = frozen_pct[:, None]
    bath = np.full_like(column, -15.0) if bath_c is None else bath_c[:, None]
    return Course(t, bath, column, column, column, column, column)


@pytest.mark.parametrize(
    "worse",
    [
        replace(START, mix_g=1500.0),
        replace(START, mix_c=8.0),
        replace(START, salt_g=300.0),
        replace(START, ice_kind=IceKind.CUBES, salt_kind=SaltKind.ROCK),
        replace(START, room_c=32.0),
        replace(START, wait_s=30.0),
    ],
)
def test_what_hurts_takes_longer(worse: Start) -> None:
    """More or warmer mix, less salt, coarse grain, a hot room or no wait: each costs time."""
    assert time_to_frozen(worse) > time_to_frozen(START) + 5.0


def test_what_protects_the_bath_saves_ice() -> None:
    """A towel and shade leave more ice after the same round."""
    sunny = course(CURVE, replace(START, sun_w=40.0), usual_rig(), beat_s=1200.0, step_s=2.0)
    bare = course(CURVE, START, usual_rig(), beat_s=1200.0, step_s=2.0)
    wrapped = course(CURVE, replace(START, wrapped=True), usual_rig(), beat_s=1200.0, step_s=2.0)
    ice = [float(of.ice_left_g[-1, 0]) for of in (sunny, bare, wrapped)]
    assert ice == sorted(ice)
    assert ice[2] - ice[0] > 100.0


def test_times_agree_with_the_trade_s_own_calculation() -> None:
    """10 % ice of 1.2 kg at 5 °C, 4:1: about 11.5 min by an independent calculation, UA 9 W/K.

    The other calculation has another law of stiffening; within a third of it. Ice melted in the
    first 10 min: 26 to 33 % of 3 kg.
    """
    start = replace(START, mix_c=5.0)
    assert time_to_frozen(start) == pytest.approx(690.0, rel=0.33)
    of = course(CURVE, start, usual_rig(), beat_s=600.0)
    assert 0.2 < 1.0 - of.ice_left_g[-1, 0] / 2910.0 < 0.4


def test_a_weak_bath_passes_its_limit_and_a_strong_one_does_not() -> None:
    """A kilogram of ice at 8:1 gives out within an hour; three at 4:1 do not."""
    limit = bath_limit_c(CURVE)
    weak = course(CURVE, Start(1200.0, 1000.0, 125.0), usual_rig(), step_s=2.0)
    strong = course(CURVE, START, usual_rig(), step_s=2.0)
    assert bath_limit_s(weak, limit)[0] < 3600.0
    assert bath_limit_s(strong, limit)[0] == np.inf


def test_the_plateau_is_where_no_later_stretch_gains_enough() -> None:
    """A share that rises 3 % per 120 s for 10 min, then 1 %: the plateau is where they meet."""
    t = np.arange(0.0, 1800.0, 5.0)
    frozen = np.where(t < 600.0, 3.0 * t / 120.0, 15.0 + (t - 600.0) / 120.0)
    # Half of the stretch before and half after gains 2 %.
    assert plateau_s(made(frozen), SETTING)[0] == pytest.approx(540.0, abs=5.0)


def test_no_plateau_while_it_still_stiffens() -> None:
    """A share that rises fast to the very end has no plateau within the course."""
    t = np.arange(0.0, 600.0, 5.0)
    assert plateau_s(made(3.0 * t / 120.0), SETTING)[0] == np.inf


def test_a_mix_that_never_gains_enough_stops_as_it_begins() -> None:
    """A share that creeps from the onset on has its plateau at the onset."""
    t = np.arange(0.0, 1800.0, 5.0)
    frozen = np.maximum(t - 300.0, 0.0) * 0.5 / 120.0
    assert plateau_s(made(frozen), SETTING)[0] == pytest.approx(325.0, abs=6.0)


def test_a_bath_that_never_was_cold_enough_is_over_its_limit_from_the_pour() -> None:
    """Limit passed: at the rise, at once if it never was under it, never if it stays."""
    t = np.arange(0.0, 600.0, 5.0)
    nothing = np.zeros_like(t)
    assert bath_limit_s(made(nothing, -5.0 + nothing), -8.0)[0] == 0.0
    assert bath_limit_s(made(nothing, -15.0 + nothing), -8.0)[0] == np.inf
    rises = np.minimum(-12.0 + t / 60.0, -3.0)
    assert bath_limit_s(made(nothing, rises), -8.0)[0] == pytest.approx(245.0, abs=5.0)


def test_the_bath_is_ready_in_minutes_and_sooner_when_fine() -> None:
    """Fine salt on crushed ice is ready in two to six minutes, rock salt on cubes later."""
    waits = replace(START, wait_s=1500.0)
    coarse = replace(waits, ice_kind=IceKind.CUBES, salt_kind=SaltKind.ROCK)
    ready = [
        float(ready_s(course(CURVE, start, usual_rig(), beat_s=10.0, step_s=2.0))[0])
        for start in (waits, coarse)
    ]
    assert 120.0 < ready[0] < 360.0
    assert ready[1] > ready[0]


def test_a_course_is_the_same_whatever_step_it_is_taken_in() -> None:
    """Steps of 1 and 2 s part by less than 0.4 % frozen and 0.05 K."""
    rigs = draw_rigs(20, 5)
    fine = course(CURVE, START, rigs, beat_s=1200.0, step_s=1.0)
    coarse = course(CURVE, START, rigs, beat_s=1200.0, step_s=2.0)
    assert coarse.frozen_pct[-1] == pytest.approx(fine.frozen_pct[-1], abs=0.4)
    assert coarse.bath_c[-1] == pytest.approx(fine.bath_c[-1], abs=0.05)


def test_drawn_rigs_spread_and_the_usual_one_lies_among_them() -> None:
    """Plateaus of drawn rigs span a factor of two, with the usual rig's inside the middle 80 %."""
    drawn = plateau_s(course(CURVE, START, draw_rigs(200, 2), step_s=2.0), SETTING)
    usual = plateau_s(course(CURVE, START, usual_rig(), step_s=2.0), SETTING)[0]
    low, high = np.quantile(drawn, [0.1, 0.9])
    assert low < usual < high
    assert high > 1.7 * low


def test_a_refill_brings_its_ice_and_cools_the_bath_and_a_drain_takes_heat_away() -> None:
    """Up to it nothing differs; then there is that much more ice, and the mix freezes further."""
    weak = Start(mix_g=1200.0, ice_g=1000.0, salt_g=160.0)
    refill = Refill(600.0, ice_g=1400.0, salt_g=350.0, drained_g=500.0)
    plain, filled = (
        course(CURVE, weak, usual_rig(), beat_s=1500.0, step_s=1.0, refills=refills)
        for refills in ((), (refill,))
    )
    before, after = plain.t_s < 600.0, np.searchsorted(plain.t_s, 605.0)
    assert np.array_equal(plain.bath_c[before], filled.bath_c[before])
    more_g = float(filled.ice_left_g[after, 0] - plain.ice_left_g[after, 0])
    assert more_g == pytest.approx(1400.0 * 0.97, abs=40.0)
    assert filled.bath_c[-1, 0] < plain.bath_c[-1, 0] - 3.0
    assert filled.frozen_pct[-1, 0] > plain.frozen_pct[-1, 0]


def test_what_goes_in_at_the_pour_is_as_if_it_had_stood_there() -> None:
    """Refilled as the mix is poured, the mix ends about where all of it at once brings it."""
    both = Start(mix_g=1200.0, ice_g=3000.0, salt_g=750.0, wait_s=10.0)
    half = replace(both, ice_g=1500.0, salt_g=375.0)
    of = course(CURVE, both, usual_rig(), beat_s=1500.0)
    refill = Refill(0.0, ice_g=1500.0, salt_g=375.0)
    refilled = course(CURVE, half, usual_rig(), beat_s=1500.0, refills=(refill,))
    assert refilled.frozen_pct[-1, 0] == pytest.approx(of.frozen_pct[-1, 0], abs=0.5)
    assert refilled.ice_left_g[-1, 0] == pytest.approx(of.ice_left_g[-1, 0], rel=0.02)
