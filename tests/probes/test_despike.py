"""Spikes are refused and steps believed, at every rate a board may send at."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.probes.despike import Despiker

INTERVALS_S = st.sampled_from([0.1, 0.2, 0.5, 1.0, 2.0, 10.0, 60.0])
SLOW_S = 5.0


def verdicts(values_c: list[float], interval_s: float) -> list[bool]:
    """What a fresh probe that sends at a steady rate makes of these readings."""
    probe = Despiker()
    slow = interval_s >= SLOW_S
    return [probe.accepts(i * interval_s, c, slow) for i, c in enumerate(values_c)]


def longest_loss(accepted: list[bool]) -> int:
    """Most readings refused in a row."""
    longest = run = 0
    for ok in accepted:
        run = 0 if ok else run + 1
        longest = max(longest, run)
    return longest


def most_lost(interval_s: float) -> int:
    """Readings that a step may cost: 4 that agree over 3 s less the last, or 2 less the last."""
    return 1 if interval_s >= SLOW_S else max(3, round(3.0 / interval_s))


@given(
    interval_s=INTERVALS_S,
    at=st.integers(0, 45),
    spike_k=st.floats(5.0, 30.0),
    up=st.booleans(),
    slope_k=st.floats(-0.3, 0.3),
    scatter_k=st.floats(0.0, 0.3),
    step_k=st.sampled_from([0.0, 0.0625, 0.25]),
    seed=st.integers(0, 2**32 - 1),
)
@settings(deadline=None, max_examples=300)
def test_a_lone_spike_is_never_accepted(
    interval_s: float,
    at: int,
    spike_k: float,
    up: bool,
    slope_k: float,
    scatter_k: float,
    step_k: float,
    seed: int,
) -> None:
    """One reading 5 K or more off must be refused at any place in a course, also as the first."""
    noise = np.random.default_rng(seed).normal(0.0, 1.0, 46).clip(-2.5, 2.5)
    values = [4.0 + slope_k * i + scatter_k * float(noise[i]) for i in range(46)]
    values[at] = 4.0 + slope_k * at + (spike_k if up else -spike_k)
    if step_k:
        values = [round(c / step_k) * step_k for c in values]
    assert not verdicts(values, interval_s)[at]


@pytest.mark.parametrize("interval_s", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("burst", [1, 2, 3])
@pytest.mark.parametrize("spike_k", [-30.0, -3.0, -1.0, 1.0, 1.5, 8.0, 30.0])
def test_a_burst_is_refused_and_what_follows_is_not(
    interval_s: float, burst: int, spike_k: float
) -> None:
    """Up to three equal spikes in a row must be refused and must cost no good reading."""
    quiet = [-2.5 + 0.03 * (i % 3) for i in range(30)]
    accepted = verdicts([*quiet, *[-2.5 + spike_k] * burst, *quiet], interval_s)
    assert accepted == [False, *[True] * 29, *[False] * burst, *[True] * 30]


@given(
    interval_s=INTERVALS_S,
    before_c=st.floats(-20.0, 25.0),
    step_k=st.floats(1.0, 40.0),
    down=st.booleans(),
    lag_s=st.floats(0.0, 30.0),
    scatter_k=st.floats(0.0, 0.03),
    seed=st.integers(0, 2**32 - 1),
)
@settings(deadline=None, max_examples=300)
def test_a_step_is_believed_within_the_stated_readings(
    interval_s: float,
    before_c: float,
    step_k: float,
    down: bool,
    lag_s: float,
    scatter_k: float,
    seed: int,
) -> None:
    """A real step through a probe with lag must never cost more readings in a row than stated."""
    n = round(4.0 / interval_s) + 30
    noise = (scatter_k * np.random.default_rng(seed).normal(0.0, 1.0, 2 * n)).tolist()
    height_k = -step_k if down else step_k
    gone = [1.0 - np.exp(-i * interval_s / lag_s) if lag_s else 1.0 for i in range(1, n + 1)]
    course = [before_c] * n + [before_c + height_k * float(share) for share in gone]
    accepted = verdicts([c + e for c, e in zip(course, noise, strict=True)], interval_s)
    assert longest_loss(accepted[n:]) <= most_lost(interval_s)
    assert all(accepted[-15:])


@pytest.mark.parametrize(
    "course",
    [
        pytest.param(lambda s: 4.0 if s > 0 else 20.0, id="from the air into the mix, bare tip"),
        pytest.param(lambda s: 4.0 + 16.0 * min(1.0, np.exp(-s / 3.0)), id="the same, 3 mm sheath"),
        pytest.param(lambda s: -17.0 + 5.0 * min(1.0, np.exp(-s / 10.0)), id="bath recharged"),
        pytest.param(lambda s: -3.5 if s > 0 else -2.5, id="scrape, 1 K"),
        pytest.param(lambda s: -4.5 if s > 0 else -2.5, id="scrape, 2 K"),
    ],
)
@pytest.mark.parametrize("scatter_k", [0.05, 0.2, 0.4])
@pytest.mark.parametrize("interval_s", [0.1, 1.0])
def test_a_step_costs_seconds_even_while_the_mixer_runs(
    course: Callable[[float], float], scatter_k: float, interval_s: float
) -> None:
    """In a mixer's scatter a step must cost 6 s of readings at most, and never more in a row."""
    n = round(60.0 / interval_s)
    for seed in range(10):
        noise = np.random.default_rng(seed).normal(0.0, scatter_k, 2 * n).tolist()
        times = [(i - n) * interval_s for i in range(2 * n)]
        readings = [course(s) + e for s, e in zip(times, noise, strict=True)]
        after = verdicts(readings, interval_s)[n : n + round(10.0 / interval_s)]
        assert after.count(False) <= 6.0 / interval_s


def test_a_spike_inside_a_step_does_not_undo_it() -> None:
    """A spike among the readings of a step must cost no more than itself."""
    values = [4.0] * 20 + [-2.0, -2.0, 15.0, -2.0, -2.0, -2.0, -2.0]
    assert verdicts(values, 1.0)[20:] == [False, False, False, False, True, True, True]


def test_a_fast_board_need_not_wait_for_ever() -> None:
    """At 50 readings a second a step must be believed after 40, less than a second."""
    values = [20.0] * 60 + [4.0] * 60
    assert verdicts(values, 0.02)[60:] == [False] * 39 + [True] * 21


def test_a_gap_is_not_bridged_by_the_slope_before_it() -> None:
    """After a pause longer than the course before it, the last level must count, not its slope."""
    probe = Despiker()
    for i in range(15):
        probe.accepts(float(i), 10.0 - 0.3 * i)
    assert probe.accepts(60.0, 5.9)
    assert not probe.accepts(61.0, -8.3)


def test_the_usual_scatter_is_learnt() -> None:
    """After some minutes the scatter must be that of the readings, spikes notwithstanding."""
    rng = np.random.default_rng(7)
    probe = Despiker()
    learnt = []
    for i in range(2000):
        spike = rng.uniform(5.0, 20.0) if rng.random() < 0.01 else 0.0
        probe.accepts(float(i), -2.5 + rng.normal(0.0, 0.4) + spike)
        learnt.append(probe.scatter_k)
    assert np.mean(learnt[200:]) == pytest.approx(0.4, rel=0.15)
