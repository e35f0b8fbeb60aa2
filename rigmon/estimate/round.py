"""One beating round followed block by block, and what its members will do from one moment on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.bath import Watts
from rigmon.estimate.bathahead import SLOPE_SD_K_S
from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.cloud import RIG_PARAMETERS, USUAL_MASS_LOG_SD, Array, Cloud, Members
from rigmon.estimate.expected import unweighed_plateau
from rigmon.estimate.levels import Levels
from rigmon.physics.mix import FreezingCurve
from rigmon.records import Place, PlateauSetting, RigPrior, Slowdown

LEVELS = (0.1, 0.5, 0.9)
"""Probabilities by which a forecast tells its times."""
HORIZON_S = 7200.0
"""How far ahead a round is looked at [s]."""
TREND_S = 180.0
"""The bath's trend is that of the last three minutes [s]."""
AHEAD = 150
"""Members that are carried into the future."""
SKIP_S = 17.5
"""The probe is still catching up with the pour: blocks count from here on [s]."""
_LEAST_BLOCKS = 4
_LATEST_BLOCK_S = 1.5 * BLOCK_S
"""The middle of a block that is still to come lies no longer ago than this [s]."""
CURVE_SD_K = 0.1
"""What a recipe's computed freezing point may be off [K]."""
_BATH_DAMPING_S = 300.0
"""The bath's trend wears off over this time [s]."""
_UNSEEN_BATH_C = -15.0
_STEPS_WITHIN = 2
"""Steps that the stretch of beating asked about is cut into."""
_FINE_S = 2400.0
"""How far ahead the steps are that short [s]; from there on one step is one stretch."""
_WALKS_ON = 0.5
"""The wall's walk goes on by so much of its step: what is to come is a course, not a search for the
one moment in which chance halts the freezing (own choice, on simulated rigs)."""
_STAYS_S, _ENOUGH = 360.0, 0.97
"""A member that freezes too little for so long will not freeze more [s]; once so many have come to
that the others are not waited for."""
_MEMBERS_COUNT = 0.2
"""What the members' own plateaus count beside what was expected: how wall and stiffness will go on
shows in no reading of the first minutes (own choice, on simulated rigs)."""
_HALF = 0.5
"""While it is no likelier here than not, it is forecast ahead: early on the members take a slow
minute for the last one (own choice, on simulated rigs)."""
_DECILES, _LEAST_SPREAD = 2.563, 0.05
"""From the first to the ninth decile of a normal distribution, in its standard deviations."""
UNIT = NormalDist()
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
        pour_s: run time of the pour [s].
        members: the members as they are now.
        p_over: probability that the plateau is here.
        plateau_s: (K,) run times of the plateau [s]; inf beyond the horizon.
        expected: mean and variance of the logarithm of its time from the pour [ln s], before the
            readings said anything.
        frozen_pct: frozen share now [%], and its standard deviation.
        offset_k: what the mix probe reads too much [K], and its standard deviation.
        wall_w: heat through the wall, for the mix's mass as known.
        slowdown: what slows the stiffening; None before it has begun.
        bath_c: bath [°C].
    """

    t: float
    pour_s: float
    members: Members
    p_over: float
    plateau_s: Array
    expected: tuple[float, float]
    frozen_pct: tuple[float, float]
    offset_k: tuple[float, float]
    wall_w: Watts
    slowdown: Slowdown | None
    bath_c: float

    def plateau_quantiles(self, levels: Sequence[float] = LEVELS) -> tuple[float | None, ...]:
        """Run times of the plateau at these levels: now, as far as it may be here, or ahead.

        Ahead of it lies what was expected, put right a little by where the members place it.
        """
        now = math.log(max(self.t - self.pour_s, 1.0))
        mean, sd = self._ahead()
        left = UNIT.cdf((mean - now) / sd)
        here = max(self.p_over - _HALF, 0.0) / _HALF
        told: list[float | None] = []
        for level in levels:
            later = (1.0 - level) / max(1.0 - here, 1e-9) * left
            if level <= here or later <= 0.0:
                told.append(self.t)
                continue
            at = self.pour_s + math.exp(mean - sd * UNIT.inv_cdf(min(later, 1.0 - 1e-12)))
            told.append(max(at, self.t) if at <= self.t + HORIZON_S else None)
        return tuple(told)

    def _ahead(self) -> tuple[float, float]:
        """Mean and standard deviation of the logarithm of the plateau's time from the pour."""
        since = np.clip(self.plateau_s - self.pour_s, 60.0, 2.0 * HORIZON_S)
        low, middle, high = np.quantile(np.log(since), LEVELS)
        spread = max(float(high - low) / _DECILES, _LEAST_SPREAD)
        mean, variance = self.expected
        ours, theirs = 1.0 / variance, _MEMBERS_COUNT / spread**2
        return (ours * mean + theirs * float(middle)) / (ours + theirs), (ours + theirs) ** -0.5

    def told(self) -> tuple[float, float]:
        """Time from the pour, the plateau being announced now [s], and how far it may be off [ln].

        Where the mix stiffens ever more slowly the members place their plateaus far apart.
        """
        since = np.clip(self.plateau_s - self.pour_s, 60.0, 2.0 * HORIZON_S)
        low, high = np.quantile(np.log(since), (0.16, 0.84))
        return self.t - self.pour_s, 0.5 * float(high - low)

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


def quantiles(
    times: Array,
    latest: float,
    weights: Array | None = None,
    levels: Sequence[float] = LEVELS,
) -> tuple[float | None, ...]:
    """Quantiles of times at these levels, by weight if given; None where past `latest`.

    >>> quantiles(np.arange(10.0), 6.0)
    (0.0, 4.0, None)
    """
    order = np.argsort(times)
    weight = np.ones(times.size) if weights is None else weights[order]
    reached = np.cumsum(weight) / np.sum(weight)
    found = times[order][np.minimum(np.searchsorted(reached, levels), times.size - 1)]
    return tuple(float(value) if value <= latest else None for value in found)


class Round:
    """Follows one round from its pour on.

    Args:
        pour_s: run time of the pour [s].
        curve: the mix's freezing curve.
        mass_g: mass of the mix [g], None if nobody weighed it.
        prior: what is believed of the rig.
        offset_sd: standard uncertainty of the mix probe [K].
        plateau: when the round counts as over.
        seed: seed of all chance in it.
        expected: mean and variance of the logarithm of the plateau's time from the pour [ln s];
            None where ice, salt or mix were not weighed.
    """

    def __init__(
        self,
        pour_s: float,
        curve: FreezingCurve,
        mass_g: float | None,
        prior: RigPrior,
        offset_sd: float,
        plateau: PlateauSetting,
        seed: int,
        expected: tuple[float, float] | None = None,
    ) -> None:
        self.pour_s = pour_s
        self._expected = expected or unweighed_plateau(prior)
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

    def look(self, t: float, levels: Levels, *, ahead: bool = True) -> RoundView | None:
        """Take in the blocks that are whole by `t` [s]; None while there are too few.

        A block that was filled after it had been taken in is passed over.

        Args:
            t: run time [s].
            levels: what the probes say.
            ahead: False leaves out when the plateau comes, which takes most of the time.
        """
        mix_blocks, bath_blocks = levels.blocks[Place.MIX], levels.blocks[Place.BATH]
        middles, means, weights = mix_blocks.since(self.pour_s + SKIP_S)
        whole = middles + 0.5 * BLOCK_S <= t
        middles, means, weights = middles[whole], means[whole], weights[whole]
        if middles.size < (_LEAST_BLOCKS if self._cloud is None else 1):
            return None
        bath_s, bath_c, _ = bath_blocks.since(self.pour_s - 60.0)
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
        trend = bath_blocks.trend(t, TREND_S)
        level, slope = trend if trend is not None else (float(bath_c[-1]), 0.0)
        return self._view(t, cloud, level, slope if ahead else None)

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

    def _view(self, t: float, cloud: Cloud, bath_c: float, slope_k_s: float | None) -> RoundView:
        """The view beside a bath that warms by so much; None asks for no plateau."""
        members = cloud.draw(AHEAD)
        plateau_s = np.full(AHEAD, np.inf)
        if slope_k_s is not None:
            plateau_s = self._plateaus(t, members, bath_c, slope_k_s)
        walls = members.wall_w(bath_c)
        return RoundView(
            t=t,
            pour_s=self.pour_s,
            members=members,
            p_over=self._p_over(cloud, bath_c),
            plateau_s=plateau_s,
            expected=self._expected,
            frozen_pct=cloud.frozen_pct(),
            offset_k=cloud.offset_k(),
            wall_w=Watts(float(np.mean(walls)), float(np.std(walls))),
            slowdown=self._slowdown(members, bath_c),
            bath_c=bath_c,
        )

    def _p_over(self, cloud: Cloud, bath_c: float) -> float:
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

    def _plateaus(self, t: float, members: Members, bath_c: float, slope_k_s: float) -> Array:
        """(K,) run times from which on each member freezes less than the limit."""
        k = members.walk.size
        rng = np.random.default_rng(self._seed)
        slopes = slope_k_s + SLOPE_SD_K_S * rng.standard_normal(k)
        stretch = self._plateau.within_s
        fine = int(_FINE_S / stretch) * _STEPS_WITHIN
        coarse = int((HORIZON_S - _FINE_S) / stretch) + 1
        steps = np.r_[np.full(fine, stretch / _STEPS_WITHIN), np.full(coarse, stretch)]
        edges = t + np.r_[0.0, np.cumsum(steps)]
        ahead = members.chosen(np.arange(k))
        frozen = [ahead.frozen_pct]
        still_s = np.zeros(k)
        for i, step_s in enumerate(steps):
            away = edges[i] + 0.5 * step_s - t
            drift = _BATH_DAMPING_S * -math.expm1(-away / _BATH_DAMPING_S)
            bath = np.clip(bath_c + slopes * drift, -25.0, 10.0)
            walks = _WALKS_ON * rng.standard_normal(k)
            ahead.carry(self._curve, step_s, bath, walks, float(edges[i + 1]))
            frozen.append(ahead.frozen_pct)
            back = 1 if step_s >= stretch else _STEPS_WITHIN
            if i + 1 > back:
                gain = frozen[-1] - frozen[-1 - back]
                under = (edges[i + 1 - back] >= ahead.knee_s) & (gain < self._plateau.gain_pct)
                still_s = np.where(under, still_s + step_s, 0.0)
                if np.mean(still_s > _STAYS_S) > _ENOUGH:
                    break
        edges = edges[: len(frozen)]
        course = np.column_stack(frozen)
        # What the stretch from each edge on freezes; edges lie a whole number of steps apart.
        end = np.searchsorted(edges, edges + stretch - 1e-6)
        end = end[end < edges.size]
        gain = course[:, end] - course[:, : end.size]
        return stays_under(gain, edges[: end.size], ahead.knee_s, self._plateau.gain_pct)

    def _slowdown(self, members: Members, bath_c: float) -> Slowdown | None:
        """Heat that no longer goes, by what keeps it: a warmer bath, the wall, the beaters."""
        begun = members.nucleated
        if self._bath_at_knee_c is None or np.mean(begun) < 0.5:
            return None
        fresh_w_k = np.exp(members.theta[begun, 0])
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


def stays_under(gain: Array, at: Array, knee_s: Array, limit_pct: float) -> Array:
    """(K,) times from which on the gain stays under the limit; inf where it never does.

    Args:
        gain: (K, M) what the stretch of beating from each time on freezes [percentage points].
        at: (M,) times, the present one first [s].
        knee_s: (K,) times at which freezing begins [s].
        limit_pct: the limit [percentage points].

    >>> falling = np.array([[4.0, 3.0, 1.0, 0.0]])
    >>> stays_under(falling, np.array([0.0, 40.0, 80.0, 120.0]), np.array([-10.0]), 2.0)
    array([60.])
    """
    begun: NDArray[np.bool_] = at >= knee_s[:, None]
    over = begun & (gain < limit_pct)
    gains = begun & ~over
    last = gain.shape[1] - 1
    ends = np.minimum(last + 1 - np.argmax(gains[:, ::-1], axis=1), last)
    first = np.where(gains.any(axis=1), ends, np.argmax(over, axis=1))
    rows = np.arange(gain.shape[0])
    before = np.maximum(first - 1, 0)
    high, low = gain[rows, before], gain[rows, first]
    # Between the knee and the first edge after it the gain rises: only a falling gain crosses.
    crosses = (first > 0) & begun[rows, before] & (high > limit_pct)
    part = np.where(crosses, (high - limit_pct) / np.where(crosses, high - low, 1.0), 1.0)
    lies_ahead = at[before] + part * (at[first] - at[before])
    # Members over already: since when, from the slope of their gain.
    slope = (gain[:, 0] - gain[:, 1]) / (at[1] - at[0])
    passed = at[0] - (limit_pct - gain[:, 0]) / np.maximum(slope, 1e-3)
    found = np.where(first == 0, np.maximum(passed, knee_s), lies_ahead)
    return np.where(over[rows, first], found, np.inf)
