"""When a plateau is to be expected, and what an announced one says of its rig."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from rigmon.estimate.amounts import Amounts
from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.estimate.expected import expected_plateau, factor_after
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
        expected_plateau(curve, 1200.0, 5.0, bath, 240.0, RigSetup(), prior, 0)
        for prior in (known(0.0, 0.1), slow)
    )
    assert usual is not None
    assert late is not None
    assert late[0] - usual[0] == pytest.approx(math.log(1.2))
    assert late[1] == pytest.approx(0.01)


def test_a_batch_that_was_not_weighed_expects_nothing_of_its_own(typical: Recipe) -> None:
    """Without ice or salt known there is no course to compute."""
    assert typical.composition is not None
    curve = freezing_curve(typical.composition)
    bath = Amounts(3000.0, None)
    assert expected_plateau(curve, 1200.0, 5.0, bath, 240.0, RigSetup(), PRIOR, 0) is None


def test_an_announced_plateau_moves_the_factor_towards_it_and_never_past() -> None:
    """The surer the round is of its plateau, the further."""
    expected = math.log(1000.0)
    sure, vague = (factor_after(PRIOR, expected, 1300.0, spread) for spread in (0.0, 0.6))
    assert 0.0 < vague[0] < sure[0] < math.log(1.3)
    assert sure[1] < vague[1] < PRIOR.covariance[FACTOR][FACTOR]
