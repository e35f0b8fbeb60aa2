"""Whether a later round has passed its stiffest, from what the probes say."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rigmon.estimate.batch import Batch
from rigmon.estimate.levels import Levels
from rigmon.estimate.turning import STIRRED_IN_S, p_softens
from rigmon.records import Mark, MarkWord, Place, ProbeSetup, Reading, Unit

BEGUN_S = 4000.0
PROBES = (ProbeSetup("mix", Place.MIX), ProbeSetup("mixer", Place.MIXER))
Course = Callable[[float], float]


def batch_in(round_: int) -> Batch:
    """A batch beaten from 4000 s on in that round."""
    batch = Batch()
    for number in range(round_):
        batch.hear(Mark(1000.0 * number, MarkWord.REST_START))
        batch.hear(Mark(BEGUN_S - 1000.0 * (round_ - 1 - number), MarkWord.BEAT_START))
    return batch


def dipping(t: float) -> float:
    """A mix that dips within a minute and then rises by 0.15 K a minute [°C]."""
    return -3.0 - 1.2 * min(t, 40.0) / 40.0 + 0.15 * max(t - 60.0, 0.0) / 60.0


def p_after(
    for_s: float,
    mix_c: Course | None = None,
    mixer_w: Course | None = None,
    *,
    by_heat: float | None = None,
    round_: int = 2,
) -> float:
    """The probability after so long of a round whose probes read that [s]."""
    levels, rng = Levels(PROBES), np.random.default_rng(4)
    for second in range(round(for_s)):
        t = BEGUN_S + second
        if mix_c is not None:
            levels.take(Reading(t, "mix", mix_c(float(second)) + float(rng.normal(0.0, 0.1))))
        if mixer_w is not None:
            watts = mixer_w(float(second)) * (1.0 + 0.02 * float(rng.normal()))
            levels.take(Reading(t, "mixer", watts, Unit.WATT))
    return p_softens(BEGUN_S + for_s, by_heat, batch_in(round_), levels)


def test_a_first_round_never_softens() -> None:
    """Nor does a later one before its frozen lining has been stirred in."""
    assert p_after(900.0, dipping, by_heat=1.0, round_=1) == 0.0
    assert p_after(STIRRED_IN_S - 1.0, dipping, by_heat=1.0) == 0.0
    assert p_after(900.0, dipping, by_heat=1.0) > 0.9


def test_a_mix_that_rises_makes_softening_likelier() -> None:
    """With nothing known of its heat, the mix probe alone tells within ten minutes."""
    courses = [p_after(for_s, dipping) for for_s in (70.0, 200.0, 600.0)]

    assert courses == sorted(courses)
    assert courses[0] < 0.5
    assert courses[-1] > 0.9


def test_the_mixer_that_turns_more_easily_tells_sooner() -> None:
    """Three per cent less power two minutes after its most outweighs what the mix probe shows."""

    def eases(t: float) -> float:
        return 150.0 - 4.5 * max(t - 60.0, 0.0) / 120.0

    assert p_after(180.0, dipping, eases) > 0.9 > p_after(180.0, dipping)
    assert p_after(180.0, dipping, lambda t: 150.0 + t / 20.0) < p_after(180.0, dipping)


@pytest.mark.parametrize("air_c", [-1.5, 5.0, 22.0])
def test_a_lifted_probe_does_not_soften_the_mix(air_c: float) -> None:
    """A rise by kelvins within seconds counts for next to nothing, as does what comes after it."""

    def steady(t: float) -> float:
        return dipping(min(t, 60.0))

    def lifted(t: float) -> float:
        out = 1.0 - np.exp(-max(t - 200.0, 0.0) / 4.0)
        return steady(t) + float(out) * (air_c - steady(t))

    unmoved = p_after(400.0, steady, by_heat=0.2)

    for for_s in (206.0, 215.0, 240.0, 400.0):
        assert p_after(for_s, lifted, by_heat=0.2) < max(0.5, 1.5 * unmoved)


def test_heat_alone_is_never_quite_believed() -> None:
    """Without a probe in the mix the heat balance alone does not reach nine in ten."""
    assert 0.5 < p_after(300.0, by_heat=1.0) < 0.95
    assert p_after(300.0, by_heat=0.0) < 0.1
