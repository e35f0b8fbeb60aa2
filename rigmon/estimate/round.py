"""One beating round followed block by block, and what its members will do from one moment on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from rigmon.estimate.bath import Watts
from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.cloud import RIG_PARAMETERS, UA, USUAL_MASS_LOG_SD, Array, Cloud, Members
from rigmon.estimate.expected import SKIP_S, Expected
from rigmon.estimate.levels import Levels
from rigmon.physics.mix import FreezingCurve
from rigmon.records import Place, PlateauSetting, RigPrior, Slowdown

_TREND_S = 180.0
"""The bath's trend is that of the last three minutes [s]."""
VIEWED = 150
"""Members that a view holds."""
LEAST_BLOCKS = 4
_LATEST_BLOCK_S = 1.5 * BLOCK_S
"""The middle of a block that is still to come lies no longer ago than this [s]."""
CURVE_SD_K = 0.1
"""What a recipe's computed freezing point may be off [K]."""
_UNSEEN_BATH_C = -15.0
_STEPS_WITHIN = 2
"""Steps that the stretch of beating asked about is cut into."""
_TIME_COUNTS, _GAIN_COUNTS, _LATER = 0.85, 0.35, -0.12
"""Whether the plateau is here: what the time since the pour says and what the members' freezing
says, pooled. The weights are near to those of a probit fit to simulated rigs (own choice)."""
_SUREST = 0.99
"""The members are never believed more than this, either way."""
_UNIT = NormalDist()
_EARLY_LAYER_SD_G = 40.0
"""What may have frozen to the wall before the mix itself did, of which the members know nothing
[g] (own choice, on simulated rigs)."""
_SCRAPE_LOG_SD = 0.25
"""What a scrape may change the wall's conductance by, as a logarithm (own estimate)."""


@dataclass(frozen=True, slots=True)
class RoundView:
    """What the readings up to `t` say of a round, and K members of equal weight.

    Args:
        t: run time [s].
        members: the members as they are now.
        p_over: probability that the plateau is here.
        frozen_pct: frozen share now [%], and its standard deviation.
        offset_k: what the mix probe reads too much [K], and its standard deviation.
        wall_w: heat through the wall, for the mix's mass as known.
        slowdown: what slows the stiffening; None before it has begun.
        bath_c: bath [°C].
    """

    t: float
    members: Members
    p_over: float
    frozen_pct: tuple[float, float]
    offset_k: tuple[float, float]
    wall_w: Watts
    slowdown: Slowdown | None
    bath_c: float

    def unweighed_w(self) -> Watts:
        """Heat through the wall of a mix that nobody has weighed."""
        mean = self.wall_w.mean
        return Watts(mean, math.hypot(self.wall_w.sd, USUAL_MASS_LOG_SD * mean))

    def wall_g(self) -> tuple[float, float]:
        """Mix frozen to the wall [g], and its standard deviation."""
        layer_g = self.members.layer_g
        return float(np.mean(layer_g)), math.hypot(float(np.std(layer_g)), _EARLY_LAYER_SD_G)

    def rig_parameters(self) -> Array:
        """(K, 4) members on the scale of the rig's prior."""
        return self.members.theta[:, :RIG_PARAMETERS]


class Round:
    """Follows one round from its pour on.

    Args:
        expected: when its plateau is to be expected.
        curve: the mix's freezing curve.
        mass_g: mass of the mix [g], None if nobody weighed it.
        prior: what is believed of the rig.
        offset_sd: standard uncertainty of the mix probe [K].
        plateau: when the round counts as over.
        seed: seed of all chance in it.
    """

    def __init__(
        self,
        expected: Expected,
        curve: FreezingCurve,
        mass_g: float | None,
        prior: RigPrior,
        offset_sd: float,
        plateau: PlateauSetting,
        seed: int,
    ) -> None:
        self.expected = expected
        self._curve = curve
        self._mass_g = mass_g
        self._prior = prior
        self._offset_sd = math.hypot(offset_sd, CURVE_SD_K)
        self._plateau = plateau
        self._seed = seed
        self._cloud: Cloud | None = None
        self._newest: tuple[float, float] | None = None
        self._bath_at_knee_c: float | None = None

    def scraped(self) -> None:
        """Take in that the wall was scraped."""
        if self._cloud is not None:
            self._cloud.loosen(_SCRAPE_LOG_SD)

    def rig(self) -> tuple[Array, Array] | None:
        """Mean and covariance of the rig's parameters by now; None before the first look."""
        return None if self._cloud is None else self._cloud.rig()

    def look(self, t: float, levels: Levels) -> RoundView | None:
        """Take in the blocks that are whole by `t` [s]; None while there are too few.

        A block that was filled after it had been taken in is passed over.

        Args:
            t: run time [s].
            levels: what the probes say.
        """
        mix_blocks, bath_blocks = levels.blocks[Place.MIX], levels.blocks[Place.BATH]
        middles, means, weights = mix_blocks.since(self.expected.pour_s + SKIP_S)
        whole = middles + 0.5 * BLOCK_S <= t
        middles, means, weights = middles[whole], means[whole], weights[whole]
        if middles.size < (LEAST_BLOCKS if self._cloud is None else 1):
            return None
        bath_s, bath_c, _ = bath_blocks.since(self.expected.pour_s - 60.0)
        bath_probes = max(levels.count(Place.BATH), 1) if bath_s.size else 0
        if not bath_s.size:
            bath_s, bath_c = np.array([t]), np.array([_UNSEEN_BATH_C])
        if self._cloud is None:
            self._cloud = Cloud(
                self._curve,
                self._mass_g,
                self._prior,
                self._offset_sd,
                bath_probes,
                float(means[0]),
                float(middles[0]),
                self._seed,
            )
        cloud = self._cloud
        for at, place, mean, weight in _news(cloud.t, t, levels):
            self._carry(cloud, at, bath_s, bath_c)
            if place is Place.MIX:
                cloud.see(mean, weight, self._slope(at, mean))
            elif place is Place.WALL:
                cloud.see_wall(mean, float(np.interp(at, bath_s, bath_c)))
            else:
                cloud.see_power(mean)
        # Where the mix probe is silent or slow the mix goes on freezing all the same.
        self._carry(cloud, t - _LATEST_BLOCK_S, bath_s, bath_c)
        trend = bath_blocks.trend(t, _TREND_S)
        return self._view(t, cloud, trend[0] if trend is not None else float(bath_c[-1]))

    def _carry(self, cloud: Cloud, to_s: float, bath_s: Array, bath_c: Array) -> None:
        """Carry the cloud to `to_s`, a block at a time."""
        while cloud.t < to_s:
            until = min(cloud.t + BLOCK_S, to_s)
            cloud.carry(until, float(np.interp(0.5 * (cloud.t + until), bath_s, bath_c)))
            if self._bath_at_knee_c is None and np.mean(cloud.members.nucleated) > 0.5:
                self._bath_at_knee_c = float(np.interp(until, bath_s, bath_c))

    def _slope(self, at: float, mean: float) -> float:
        """How fast the reading runs since the block before [K/s]."""
        before, self._newest = self._newest, (at, mean)
        return 0.0 if before is None else (mean - before[1]) / max(at - before[0], 2.0 * BLOCK_S)

    def _view(self, t: float, cloud: Cloud, bath_c: float) -> RoundView:
        members = cloud.draw(VIEWED)
        walls = members.wall_w(bath_c)
        return RoundView(
            t=t,
            members=members,
            p_over=self._p_over(t, cloud, bath_c),
            frozen_pct=cloud.frozen_pct(),
            offset_k=cloud.offset_k(),
            wall_w=Watts(float(np.mean(walls)), float(np.std(walls))),
            slowdown=self._slowdown(members, bath_c),
            bath_c=bath_c,
        )

    def _p_over(self, t: float, cloud: Cloud, bath_c: float) -> float:
        """Probability that the plateau is here: time and freezing pooled; 0 before there is ice."""
        slow = min(max(self._p_slow(cloud, bath_c), 1.0 - _SUREST), _SUREST)
        pooled = _TIME_COUNTS * self.expected.late(t) + _LATER
        pooled += _GAIN_COUNTS * math.log(slow / (1.0 - slow))
        begun = float(cloud.weights() @ cloud.members.nucleated)
        return _UNIT.cdf(pooled) * begun

    def _p_slow(self, cloud: Cloud, bath_c: float) -> float:
        """Share of all members, by weight, that freeze too little in the next stretch."""
        ahead = cloud.everyone()
        still = np.zeros(ahead.walk.size)
        step_s = self._plateau.within_s / _STEPS_WITHIN
        for _ in range(_STEPS_WITHIN):
            ahead.carry(self._curve, step_s, bath_c, still, cloud.t)
        # What the layer gives back is left out: it is too uncertain to be listened to.
        now = cloud.members
        heat_j_g = now.enthalpy_j_g + ahead.mean_j_g() - now.mean_j_g()
        gain = self._curve.from_enthalpy(heat_j_g)[1] - now.frozen_pct
        over = cloud.members.nucleated & (gain < self._plateau.gain_pct)
        return float(np.sum(cloud.weights()[over]))

    def _slowdown(self, members: Members, bath_c: float) -> Slowdown | None:
        """Heat that no longer goes, by what keeps it: a warmer bath, the wall, the beaters."""
        begun = members.nucleated
        if self._bath_at_knee_c is None or np.mean(begun) < 0.5:
            return None
        fresh_w_k = np.exp(members.theta[begun, UA])
        lost_bath = fresh_w_k * max(bath_c - self._bath_at_knee_c, 0.0)
        lost = fresh_w_k - members.conductance_w_k()[begun]
        lost_wall = np.clip(lost, 0.0, None) * np.clip(members.mix_c[begun] - bath_c, 0.0, None)
        parts = np.stack([lost_bath, lost_wall, members.beater_w()[begun]])
        shares = parts / parts.sum(axis=0)
        means, sds = shares.mean(axis=1), shares.std(axis=1)
        return Slowdown(*(float(v) for v in means), *(float(v) for v in sds))


def _news(since: float, t: float, levels: Levels) -> list[tuple[float, Place, float, float]]:
    """Whole blocks whose middle lies after `since` [s]: middle, place, mean, weight."""
    return sorted(
        (float(at), place, float(mean), float(weight))
        for place in (Place.MIX, Place.MIXER, Place.WALL)
        for at, mean, weight in zip(*levels.blocks[place].since(since), strict=True)
        if since < at <= t - 0.5 * BLOCK_S
    )
