"""When a plateau is to be expected, and what an announced one says of its rig."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from rigmon.estimate.amounts import Amounts
from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.estimate.expected import Expected, expected_plateau, factor_after
from rigmon.physics.mix import freezing_curve
from rigmon.records import Recipe, RigPrior, RigSetup


def known(factor: float, sd: float) -> RigPrior:
    """A rig whose plateaus' factor is known, as a logarithm."""
    covariance = [list(row) for row in PRIOR.covariance]
    covariance[FACTOR][FACTOR] = sd**2
    mean = (*PRIOR.mean[:FACTOR], factor)
    return replace(PRIOR, mean=mean, covariance=tuple(map(tuple, covariance)))


def test_what_is_expected_follows_the_rig_s_factor(typical: Recipe) -> None:
    """A rig known to be slow by 20 % is expected that much later, as surely as that is known."""
    assert typical.composition is not None
    curve, bath = freezing_curve(typical.composition), Amounts(3000.0, 700.0)
    slow = known(math.log(1.2), 0.1)
    usual, late = (
        expected_plateau(0.0, curve, 1200.0, 5.0, bath, 240.0, RigSetup(), prior, 0)
        for prior in (known(0.0, 0.1), slow)
    )
    assert usual is not None
    assert late is not None
    assert late.mean - usual.mean == pytest.approx(math.log(1.2))
    assert late.variance == pytest.approx(0.16**2 + 0.01)


def test_a_batch_that_was_not_weighed_expects_nothing_of_its_own(typical: Recipe) -> None:
    """Without ice or salt known there is no course to compute."""
    assert typical.composition is not None
    curve = freezing_curve(typical.composition)
    bath = Amounts(3000.0, None)
    assert expected_plateau(0.0, curve, 1200.0, 5.0, bath, 240.0, RigSetup(), PRIOR, 0) is None


@pytest.mark.parametrize("off", [-0.08, 0.02, 0.1])
def test_an_announced_plateau_moves_the_factor_as_conditioning_does(off: float) -> None:
    """Bayes' rule for a normal factor and a normal reading of it, worked out on a grid."""
    before = PRIOR.covariance[FACTOR][FACTOR]
    expected = Expected(100.0, math.log(1000.0), 0.03)
    mean, variance = factor_after(PRIOR, expected, 100.0 + 1000.0 * math.exp(off))

    factor = np.linspace(-2.0, 2.0, 4001)
    truly_off = factor - PRIOR.mean[FACTOR]
    believed = np.exp(-0.5 * truly_off**2 / before)
    believed *= np.exp(-0.5 * ((4.0 * (off - 0.01) - truly_off) / 0.136) ** 2)
    believed /= believed.sum()
    middle = believed @ factor
    assert mean == pytest.approx(middle, abs=1e-6)
    assert variance == pytest.approx(believed @ (factor - middle) ** 2, rel=1e-4)


def test_an_announcement_far_off_counts_as_one_that_is_less_so() -> None:
    """Far off is a round that went wrong, or a rig unlike any: several say so, not one."""
    expected = Expected(0.0, math.log(1000.0), 0.03)
    far, farther = (factor_after(PRIOR, expected, at) for at in (850.0, 500.0))
    assert far == farther


def test_what_lies_ahead_is_what_was_expected_with_the_time_gone_by_taken_off() -> None:
    """By Bayes' rule: at 1,000 s, half of what is later than 1,000 s lies before the median."""
    expected = Expected(0.0, math.log(1000.0), 0.04)
    normal = NormalDist(math.log(1000.0), 0.2)
    for t in (10.0, 1000.0, 1500.0):
        ahead = 1.0 - normal.cdf(math.log(t))
        for level, at in zip((0.1, 0.5, 0.9), expected.times(t), strict=True):
            assert at is not None
            assert 1.0 - normal.cdf(math.log(at)) == pytest.approx((1.0 - level) * ahead, rel=1e-6)


@pytest.mark.parametrize("t", [1.0, 5e4, 1e6])
def test_nothing_is_expected_before_now_however_late_it_is(t: float) -> None:
    """Far out in the tail the times still come in order, from now on."""
    times = Expected(0.0, math.log(1000.0), 0.01).times(t)
    known = [at for at in times if at is not None]
    assert known == sorted(known)
    assert all(at >= t for at in known)
