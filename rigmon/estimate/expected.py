"""When the plateau of this very batch is to be expected: by mix, ice, salt, rig, and time gone by.

The readings say whether it is here; when it will come they do not. What Bayes' rule makes of them
with the very model that wrote them shrinks the spread of what was to be expected by a few percent
(`tests/bench/exactmodel.py`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from rigmon.estimate.amounts import Amounts, amounts_of
from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.estimate.levels import Levels
from rigmon.estimate.times import HORIZON_S, LEVELS
from rigmon.physics.course import (
    USUAL_ICE_C,
    USUAL_WET_PCT,
    Refill,
    Start,
    course,
    plateau_s,
)
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.mixside import ROOM_C
from rigmon.physics.rigparameters import draw_rigs
from rigmon.records import By, Mark, MarkWord, Place, RigPrior, RigSetup

_RIGS = 60
"""Unknown rigs whose middle is expected."""
_STEP_S = 5.0
_LONGEST_S = 3600.0
_BEYOND = 1.2
"""A plateau beyond that counts as this many times later."""
_UNWEIGHED_S, _UNWEIGHED_LOG_SD = 1000.0, 0.27
"""Time from the pour to the plateau where nothing was weighed [s], and how batches spread about it
beside what rigs do (common practice, no source: 10 to 25 min)."""
_BATCH_LOG_SD = 0.16
"""How plateaus spread about what mix, bath and factor let expect, as a logarithm: what no run tells
of its rig (own choice, on simulated rigs)."""
_TELLS, _TELLS_SD, _HELD_LOG, _MOST_LOG = 4.0, 0.136, 0.01, 0.1
"""What was expected counts so much in an announcement that it tells of so many times what it is
off, give or take, less a little for the time for which an alarm must hold; one that is off by more
than the last figure counts as off by that (own choice, on simulated rigs)."""
_USUAL_WAIT_S = 240.0
"""How long a bath that nobody marked is taken to have stood before the pour [s]."""
SKIP_S = 17.5
"""The probe is still catching up with the pour: blocks count from here on [s]."""
_FIRST = 2
"""Blocks whose mean is the mix as poured."""
_LEAST = 1e-12
_UNIT = NormalDist()


@dataclass(frozen=True, slots=True)
class Expected:
    """The time from the pour to the plateau, its logarithm normal.

    Args:
        pour_s: run time of the pour [s].
        mean: mean of the logarithm of the time from it [ln s].
        variance: variance of that.
    """

    pour_s: float
    mean: float
    variance: float

    def off(self, t: float) -> float:
        """How late run time `t` [s] is, as a logarithm."""
        return math.log(max(t - self.pour_s, 1.0)) - self.mean

    def late(self, t: float) -> float:
        """The same in standard deviations."""
        return self.off(t) / math.sqrt(self.variance)

    def times(self, t: float, levels: Sequence[float] = LEVELS) -> tuple[float | None, ...]:
        """Run times of the plateau at these levels, given that at `t` it lies ahead [s].

        None where one lies beyond the horizon.

        >>> fresh = Expected(100.0, math.log(1200.0), 0.04)
        >>> [[round(at) for at in fresh.times(t)] for t in (100.0, 1300.0, 2500.0)]
        [[1029, 1300, 1651], [1331, 1473, 1767], [2514, 2589, 2793]]
        """
        left, sd = _UNIT.cdf(-self.late(t)), math.sqrt(self.variance)
        told: list[float | None] = []
        for level in levels:
            later = min(max((1.0 - level) * left, _LEAST), 1.0 - _LEAST)
            at = self.pour_s + math.exp(self.mean - sd * _UNIT.inv_cdf(later))
            told.append(max(at, t) if at <= t + HORIZON_S else None)
        return tuple(told)


class Expecting:
    """Gathers what there is to know of a batch before its plateau is to be expected.

    Args:
        curve: how the mix freezes.
        rig: the rig.
        prior: what is believed of it.
        seed: seed of all chance in it.
    """

    def __init__(self, curve: FreezingCurve, rig: RigSetup, prior: RigPrior, seed: int) -> None:
        self._curve = curve
        self._rig = rig
        self._prior = prior
        self._seed = seed
        self._made_up: Mark | None = None
        self._recharges: list[Mark] = []
        self._poured_c: float | None = None
        self._told: tuple[float, Expected | None] | None = None

    def hear(self, mark: Mark) -> None:
        """Take in a mark that made sense."""
        first = self._made_up is None or self._made_up.by is By.DETECTED
        if mark.word is MarkWord.ICE_IN and first:
            self._made_up, self._told = mark, None
        elif mark.word is MarkWord.RECHARGE or (
            mark.word is MarkWord.ICE_IN and mark.by is not By.DETECTED
        ):
            self._recharges.append(mark)
            self._told = None
        elif mark.word is MarkWord.POUR and "mix_c" in mark.detail:
            self._poured_c, self._told = float(mark.detail["mix_c"]), None

    def at(self, poured_s: float, mass_g: float, levels: Levels) -> Expected | None:
        """When the plateau is to be expected of `mass_g` [g] poured at `poured_s` [s].

        None where ice or salt were not weighed, and until the mix is read or its temperature told.
        """
        if self._told is None or self._told[0] != mass_g:
            mix_c = self._poured_c
            if mix_c is None:
                read_c = levels.blocks[Place.MIX].since(poured_s + SKIP_S)[1]
                if not read_c.size:
                    return None
                mix_c = float(np.mean(read_c[:_FIRST]))
            self._told = mass_g, self._expect(poured_s, mass_g, mix_c, levels.newest(Place.ROOM))
        return self._told[1]

    def _expect(
        self, poured_s: float, mass_g: float, mix_c: float, room_c: float | None
    ) -> Expected | None:
        made_up = self._made_up or Mark(poured_s - _USUAL_WAIT_S, MarkWord.ICE_IN)
        went_in = [(mark.t - poured_s, amounts_of(mark, self._rig)) for mark in self._recharges]
        weighed = [
            (at_s, amounts)
            for at_s, amounts in went_in
            if amounts.ice_g is not None and amounts.salt_g is not None
        ]
        expected = expected_plateau(
            poured_s,
            self._curve,
            mass_g,
            mix_c,
            amounts_of(made_up, self._rig),
            poured_s - made_up.t,
            self._rig if room_c is None else replace(self._rig, room_c=room_c),
            self._prior,
            self._seed,
            weighed,
        )
        if expected is None or len(weighed) == len(went_in):
            return expected
        return replace(expected, variance=expected.variance + _UNWEIGHED_LOG_SD**2)


def expected_plateau(
    pour_s: float,
    curve: FreezingCurve,
    mass_g: float,
    mix_c: float,
    bath: Amounts,
    wait_s: float,
    rig: RigSetup,
    prior: RigPrior,
    seed: int,
    recharges: Sequence[tuple[float, Amounts]] = (),
) -> Expected | None:
    """When the plateau of a weighed batch is to be expected.

    The middle of the plateaus of `rigmon.physics.course` over unknown rigs, for this mix and bath,
    times what is believed of this rig's factor. None where ice or salt were not weighed.

    Args:
        pour_s: run time of the pour [s].
        curve: how the mix freezes.
        mass_g: its mass [g].
        mix_c: its temperature as poured [°C].
        bath: what is in the outer bowl.
        wait_s: how long it stood before the pour [s].
        rig: the rig.
        prior: what is believed of it.
        seed: seed of the draw.
        recharges: weighed ice and salt that went in later, and when [s from the pour].
    """
    if not bath.ice_g or bath.salt_g is None:
        return None
    first, *later = (
        Refill(
            at_s,
            amounts.ice_g or 0.0,
            amounts.salt_g or 0.0,
            amounts.water_g,
            amounts.drained_g,
            amounts.ice_kind or rig.bath.ice_kind,
            rig.bath.salt_kind,
            USUAL_ICE_C if amounts.ice_c is None else amounts.ice_c,
            USUAL_WET_PCT if amounts.wet_share is None else 100.0 * amounts.wet_share,
        )
        for at_s, amounts in [(-wait_s, bath), *recharges]
    )
    start = Start(
        mix_g=mass_g,
        ice_g=first.ice_g,
        salt_g=first.salt_g,
        mix_c=max(mix_c, curve.initial_c),
        water_g=first.water_g,
        ice_kind=first.ice_kind,
        salt_kind=first.salt_kind,
        ice_c=first.ice_c,
        wet_pct=first.wet_pct,
        room_c=ROOM_C if rig.room_c is None else rig.room_c,
        wait_s=min(max(wait_s, 0.0), 1800.0),
    )
    rigs = draw_rigs(_RIGS, seed, PRIOR)
    of = course(curve, start, rigs, beat_s=_LONGEST_S, step_s=_STEP_S, refills=later)
    times = np.log(np.clip(plateau_s(of, rig.plateau), 60.0, _BEYOND * _LONGEST_S))
    mean = float(times.mean()) + prior.mean[FACTOR]
    return Expected(pour_s, mean, _variance(prior))


def unweighed_plateau(pour_s: float, prior: RigPrior) -> Expected:
    """The same for a batch of which nothing is known but the rig."""
    variance = _variance(prior) + _UNWEIGHED_LOG_SD**2
    return Expected(pour_s, math.log(_UNWEIGHED_S) + prior.mean[FACTOR], variance)


def _variance(prior: RigPrior) -> float:
    return prior.covariance[FACTOR][FACTOR] + _BATCH_LOG_SD**2


def factor_after(prior: RigPrior, expected: Expected, announced_s: float) -> tuple[float, float]:
    """Mean and variance of the factor's logarithm, the plateau having been announced.

    One says little of it, since what was expected counts for so much in when it comes.

    Args:
        prior: what was believed of the rig.
        expected: when it was expected.
        announced_s: run time at which it was announced [s].
    """
    before = prior.covariance[FACTOR][FACTOR]
    share = before / (before + _TELLS_SD**2)
    off = min(max(expected.off(announced_s) - _HELD_LOG, -_MOST_LOG), _MOST_LOG)
    return prior.mean[FACTOR] + share * _TELLS * off, (1.0 - share) * before
