"""What runs teach of a rig together: how surely, in which order, and what it outlasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.estimate.expected import unweighed_plateau
from rigmon.estimate.memory import (
    DAYS_SHARE,
    KEPT,
    RigPart,
    Told,
    prior_after,
    remember,
    usual_self,
)
from rigmon.estimate.runsays import SILENT, saying, says_something
from rigmon.records import RigPrior, RunFit

NAMES = PRIOR.names
MEAN = np.array(PRIOR.mean[: len(NAMES)])
COVARIANCE = np.array(PRIOR.covariance)[: len(NAMES), : len(NAMES)]


def told(own: Sequence[float], sds: Sequence[float], before: RigPrior = PRIOR) -> RunFit:
    """A run's belief: `before` and a likelihood of its own, normal, counted from PRIOR's mean.

    An sd of inf says nothing of that parameter.
    """
    p = len(NAMES)
    mean, covariance = np.array(before.mean), np.array(before.covariance)
    precision = np.diag([0.0 if math.isinf(sd) else sd**-2 for sd in sds])
    prior = np.linalg.inv(covariance[:p, :p])
    after = np.linalg.inv(prior + precision)
    mean[:p] = after @ (prior @ mean[:p] + precision @ (MEAN + np.array(own)))
    covariance[:p, :p] = after
    return RunFit(
        PRIOR.names,
        PRIOR.transforms,
        tuple(mean.tolist()),
        tuple(map(tuple, covariance.tolist())),
        PRIOR.model_version,
        before,
    )


def sds(prior: RigPrior) -> list[float]:
    """Standard deviations of the parameters that are learned."""
    return [math.sqrt(prior.covariance[i][i]) for i in range(len(NAMES))]


def wall(own: float, sd: float = 0.1, before: RigPrior = PRIOR) -> RunFit:
    """A run that says how the wall conducts, as a logarithm above the usual, and nothing else."""
    return told([own, *[0.0] * 4], [sd, *[math.inf] * 4], before)


def test_without_runs_a_rig_is_unknown() -> None:
    """Nothing, or changes alone, leaves the unknown rig's prior as it is."""
    assert prior_after([], PRIOR) == PRIOR
    assert remember([RigPart.BOWL, RigPart.MIXER], PRIOR).prior == PRIOR
    assert remember([], PRIOR).runs == 0


@given(
    st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=5),
    st.lists(st.floats(0.05, 0.8), min_size=5, max_size=5),
    st.floats(-0.5, 0.5),
)
def test_what_a_run_was_told_is_taken_out_again(
    own: list[float], sd: list[float], shift: float
) -> None:
    """The same readings say the same, whatever was believed before them."""
    other = replace(
        PRIOR,
        mean=tuple(value + shift for value in PRIOR.mean),
        covariance=tuple(tuple(0.9 * value for value in row) for row in PRIOR.covariance),
    )
    for before in (PRIOR, other):
        found = saying(told(own, sd, before), NAMES, PRIOR)
        loud = np.array(sd) ** 2 < (1.0 / SILENT - 1.0) ** -1 * 0.9 * np.diag(COVARIANCE)
        wanted = np.where(loud, np.array(sd) ** -2, np.diag(found.precision))
        assert np.diag(found.precision) == pytest.approx(wanted, rel=1e-6)
        estimate = found.pull[loud] / np.diag(found.precision)[loud]
        assert estimate == pytest.approx(np.array(own)[loud], abs=1e-6)


def test_a_direction_in_which_a_run_says_nothing_stays_open() -> None:
    """A sum that is known says nothing of the difference, however often it is said."""
    across = np.array([1.0, 1.0, 0.0, 0.0, 0.0]) / math.sqrt(2.0)
    after = np.linalg.inv(np.linalg.inv(COVARIANCE) + 400.0 * np.outer(across, across))
    whole = np.array(PRIOR.covariance)
    whole[:] = after
    fit = replace(wall(0.0), mean=PRIOR.mean, covariance=tuple(map(tuple, whole.tolist())))
    apart = np.array([1.0, -1.0, 0.0, 0.0, 0.0]) / math.sqrt(2.0)
    learned = np.array(prior_after([fit] * 20, PRIOR).covariance)
    assert apart @ learned @ apart > 0.8 * apart @ COVARIANCE @ apart
    assert across @ learned @ across < 0.3 * across @ COVARIANCE @ across


def test_a_run_that_only_repeats_what_it_was_told_says_nothing() -> None:
    """Its belief is its prior, shrunk or grown by chance: it is not counted."""
    fit = told([0.0] * 5, [math.inf] * 5)
    assert not says_something(fit)
    assert remember([fit], PRIOR).prior == PRIOR
    wider = replace(fit, covariance=tuple(tuple(1.3 * v for v in row) for row in fit.covariance))
    assert not says_something(wider)
    assert says_something(wall(0.3))


def test_plateaus_that_came_early_move_the_next_one_expected_and_narrow_it() -> None:
    """Three runs 30 % early: the next is expected most of that earlier, and surer."""
    early = told([0.0] * 4 + [-0.3], [math.inf] * 4 + [0.1])
    after = prior_after([early] * 3, PRIOR)
    moved = unweighed_plateau(0.0, after).mean - unweighed_plateau(0.0, PRIOR).mean
    assert -0.3 < moved < -0.15
    assert after.covariance[FACTOR][FACTOR] < 0.6 * PRIOR.covariance[FACTOR][FACTOR]


@pytest.mark.parametrize(("runs", "sd"), [(1, 0.20), (3, 0.12), (5, 0.10), (10, 0.07)])
def test_the_usual_self_gets_as_sure_as_arithmetic_says(runs: int, sd: float) -> None:
    """Rigs 0.45 apart, days 0.20, a run good to 0.10: σ² = 1 / (0.45⁻² + n / (0.20² + 0.10²))."""
    told_by = Told(
        np.full((runs, 1, 1), 100.0), np.full((runs, 1), 20.0), np.zeros(runs, dtype=np.intp)
    )
    mean, covariance = usual_self(told_by, np.full((runs, 1), 0.04), [], np.array([[0.2025]]))
    assert math.sqrt(covariance[0, 0, 0, 0]) == pytest.approx(sd, abs=0.005)
    assert 0.0 < mean[0, 0] < 0.2


@settings(max_examples=25)
@given(st.permutations(range(6)), st.integers(0, 2**32 - 1))
def test_the_order_of_runs_does_not_matter(order: list[int], seed: int) -> None:
    """To the last bit, so that a replay starts from what the run started from."""
    rng = np.random.default_rng(seed)
    fits = [told(rng.normal(0.0, 0.4, 5).tolist(), [0.1, 0.3, 0.4, 1.0, 0.3]) for _ in range(6)]
    assert prior_after([fits[i] for i in order], PRIOR) == prior_after(fits, PRIOR)


@settings(max_examples=25)
@given(st.integers(1, 8), st.integers(0, 2**32 - 1))
def test_a_prior_is_always_one_that_can_be_drawn_from(runs: int, seed: int) -> None:
    """Symmetric, positive, and never surer of the next run than rigs differ from day to day."""
    rng = np.random.default_rng(seed)
    fits = [
        told(rng.normal(0.0, 2.0, 5).tolist(), rng.choice([0.01, 0.3, math.inf], 5).tolist())
        for _ in range(runs)
    ]
    memory = remember(fits, PRIOR)
    covariance = np.array(memory.prior.covariance)
    assert np.array_equal(covariance, covariance.T)
    np.linalg.cholesky(covariance)
    for one, sd in zip(memory.parameters, sds(memory.prior), strict=True):
        assert sd >= math.log1p(one.days_pct / 100.0)


def test_one_run_moves_the_prior_most_of_the_way() -> None:
    """Rigs differ far more than days do, so the first run tells most of the rig."""
    learned = prior_after([wall(-0.4)], PRIOR)
    assert -0.4 < learned.mean[0] - PRIOR.mean[0] < -0.3
    assert sds(learned)[0] < 0.6 * sds(PRIOR)[0]
    assert sds(learned)[1:] == pytest.approx(sds(PRIOR)[1:], rel=0.01)


def test_many_runs_never_beat_the_days() -> None:
    """The mean of days which differ by 0.2 becomes sure; the next day stays 0.2 away from it."""
    rng = np.random.default_rng(3)
    fits = [wall(-0.3 + 0.2 * value, 0.1) for value in rng.standard_normal(200)]
    memory = remember(fits, PRIOR)
    assert memory.parameters[0].give_pct < 4.0
    assert memory.parameters[0].more_pct == pytest.approx(100.0 * math.expm1(-0.3), abs=4.0)
    assert sds(memory.prior)[0] == pytest.approx(0.2, abs=0.05)


def test_runs_that_contradict_each_other_widen_the_next() -> None:
    """Half of them far above and half far below: in the middle, and hardly surer than before."""
    apart = remember([wall(0.6, 0.05), wall(-0.6, 0.05)] * 3, PRIOR)
    alike = remember([wall(0.0, 0.05)] * 6, PRIOR)
    assert apart.prior.mean[0] == pytest.approx(PRIOR.mean[0], abs=1e-6)
    assert sds(apart.prior)[0] > 2.0 * sds(alike.prior)[0]


def test_one_odd_run_hardly_moves_a_rig_that_is_known() -> None:
    """A wrong recipe or mass spoils one run, and not the memory."""
    usual = [wall(-0.2 + 0.05 * day) for day in (-1, 0, 1, 0, 0, 1)]
    odd = prior_after([*usual, wall(1.5)], PRIOR)
    moved = odd.mean[0] - prior_after(usual, PRIOR).mean[0]
    assert 0.0 < moved < 0.4 * 1.7 / 7.0


def test_days_of_a_rig_start_from_what_kitchens_differ_by() -> None:
    """One run says nothing of how days differ: 15 % in the wall's conductance, as taken."""
    (first, *_) = remember([wall(0.0)], PRIOR).parameters
    assert first.days_pct == pytest.approx(100.0 * math.expm1(DAYS_SHARE * 0.4), rel=0.1)


def test_what_no_run_has_spoken_of_is_not_called_learned() -> None:
    """Of the wall something is known, of the rest nothing, however many runs there are."""
    memory = remember([wall(0.2)] * 8, PRIOR)
    assert [one.taught for one in memory.parameters] == [True, False, False, False, False]
    assert not any(one.taught for one in remember([], PRIOR).parameters)


def test_runs_of_another_model_are_passed_over() -> None:
    """Its parameters mean something else; how many there were is said."""
    older = replace(wall(1.0), model_version="older")
    memory = remember([older, wall(-0.2), older], PRIOR)
    assert (memory.runs, memory.passed_over) == (1, 2)
    assert memory.prior == prior_after([wall(-0.2)], PRIOR)


@pytest.mark.parametrize("part", list(RigPart))
def test_a_change_widens_what_it_must_and_nothing_else(part: RigPart) -> None:
    """A bowl's wall, a mixer's heat; the mean goes back towards the unknown rig's. Probes: none."""
    fits = [told([-0.4, 0.3, 0.2, 0.2, 0.2], [0.1] * 5) for _ in range(4)]
    before, after = prior_after(fits, PRIOR), remember([*fits, part], PRIOR).prior
    for i, name in enumerate(NAMES):
        away, was = (prior.mean[i] - PRIOR.mean[i] for prior in (after, before))
        if name in KEPT[part]:
            assert away == pytest.approx(KEPT[part][name] * was, rel=1e-6)
            assert sds(before)[i] < sds(after)[i] < sds(PRIOR)[i]
        else:
            assert away == pytest.approx(was, rel=1e-6)
            assert sds(after)[i] == pytest.approx(sds(before)[i], rel=1e-6)


def test_a_change_said_twice_is_one_change() -> None:
    """No run was made with what lay between."""
    fits = [wall(-0.4)] * 3
    once = remember([*fits, RigPart.BOWL], PRIOR)
    assert remember([*fits, RigPart.BOWL, RigPart.BOWL], PRIOR) == once


def test_runs_after_a_change_go_before_those_ahead_of_it() -> None:
    """The new bowl's own runs say what it is; the old ones' count for less."""
    old, new = [wall(-0.5)] * 5, [wall(0.4)] * 2
    changed = remember([*old, RigPart.BOWL, *new], PRIOR).prior
    mixed = prior_after([*old, *new], PRIOR)
    assert changed.mean[0] - PRIOR.mean[0] > 0.25
    assert mixed.mean[0] - PRIOR.mean[0] < 0.0


def test_learning_run_by_run_counts_nothing_twice() -> None:
    """Runs that each started from what was learned before teach what fresh ones do."""
    make = partial(wall, -0.3, 0.2)
    fresh, chained = [make() for _ in range(5)], [make()]
    for _ in range(4):
        chained.append(make(prior_after(chained, PRIOR)))
    one, other = prior_after(fresh, PRIOR), prior_after(chained, PRIOR)
    assert other.mean[0] == pytest.approx(one.mean[0], abs=1e-6)
    assert sds(other)[0] == pytest.approx(sds(one)[0], rel=1e-6)
