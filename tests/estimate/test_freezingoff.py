"""A mix that freezes elsewhere than its recipe says."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import pytest

from rigmon.estimate.estimator import Estimator
from rigmon.estimate.freezingoff import FreezingOff
from rigmon.records import Place, ProbeSetup, Reading, RigSetup

MakeEstimator = Callable[..., Estimator]


class Bowl(Protocol):
    """A simulated bowl."""

    def readings(self, upto_s: float) -> Iterator[Reading]:
        """What its probes say."""
        ...


MakeBowl = Callable[..., Bowl]


def found(
    make_bowl: MakeBowl, make_estimator: MakeEstimator, offset_k: float, probe_sd: float
) -> FreezingOff | None:
    """What is said after ten minutes with a probe that reads so much too much."""
    mix = ProbeSetup("mix", Place.MIX, "T", uncertainty_k=probe_sd)
    estimator = make_estimator(setup=RigSetup(probes=(mix,)))
    for reading in make_bowl(offset_k=offset_k).readings(660.0):
        estimator.feed(reading)
        if reading.t % 60.0 == 0.0:
            estimator.freezing_off(reading.t)
    return estimator.freezing_off(660.0)


@pytest.mark.parametrize("offset_k", [-0.4, 0.0, 0.4])
def test_a_probe_within_its_uncertainty_raises_no_doubt(
    make_bowl: MakeBowl, make_estimator: MakeEstimator, offset_k: float
) -> None:
    """A right recipe read by a probe that is off by less than it may be is not doubted."""
    assert found(make_bowl, make_estimator, offset_k, 0.3) is None


def test_a_mix_that_freezes_far_colder_is_doubted(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """A freezing point 1.5 K lower is more than a probe good to 0.3 K makes up."""
    off = found(make_bowl, make_estimator, -1.5, 0.3)

    assert off is not None
    assert off.seen_c == pytest.approx(off.told_c - 1.5, abs=0.3)


def test_a_poor_probe_leaves_the_recipe_in_peace(
    make_bowl: MakeBowl, make_estimator: MakeEstimator
) -> None:
    """The same mix read by a probe good to 1 K only is within what it may be off."""
    assert found(make_bowl, make_estimator, -1.5, 1.0) is None
