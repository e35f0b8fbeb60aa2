"""One beating round seen from one moment: the fitted curve, its members, and what they will do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.blocks import BLOCK_S, Blocks
from rigmon.estimate.knee import (
    FILM,
    KAPPA,
    OFFSET,
    PARASITIC,
    SIGMA_K,
    Belief,
    Course,
    Mix,
    course,
    fit_knee,
    kept_share,
    starting_belief,
    wander_k,
)
from rigmon.records import PlateauSetting, RigPrior, Slowdown

Array = NDArray[np.float64]

HORIZON_S = 7200.0
"""How far ahead a round is looked at [s]."""
_FIT_CELLS = 200
_PAST_CELLS = 40
_SKIP_S = 15.0
"""The probe is still catching up with the pour [s]."""
_OFFSET_CURVE_SD = 0.1
"""What a recipe's computed freezing point may be off [K]."""
_BATH_DAMPING_S = 300.0
_BATH_SLOPE_SD = 0.0012
"""What the bath's trend may change by [K/s]."""
_UNSEEN_BATH_C = -15.0
_UNSEEN_BATH_SD = 4.0
_STEPS_WITHIN = 2
"""Cells that the stretch of beating asked about is cut into."""
_PASSED_S = 30.0
"""Members that have been over for longer than this are contradicted by the maker's beating on."""


@dataclass(frozen=True, slots=True)
class RoundView:
    """What the readings up to `t` say of a round, as K members.

    Args:
        t: run time [s].
        pour_s: run time of the pour [s].
        belief: the fitted parameter set.
        sigma_k: what a block of readings is off the curve [K].
        theta: (K, 6) members.
        knee_s: (K,) run times of the knee [s]; inf if it lies beyond the horizon.
        ahead_s: (M,) run times from `t` on [s].
        frozen_pct: (K, M) frozen share at them [%].
        gain_pct: (K,) what the next stretch of beating freezes [percentage points].
        plateau_s: (K,) run times of the plateau [s]; inf beyond the horizon.
        weights: (K,) how much each member counts in a forecast.
        wall_w: (K,) heat through the wall [W], for a known mass.
        bath_c: bath [°C].
        mix: the mix.
        gain_limit_pct: less gain than this is the plateau [percentage points].
    """

    t: float
    pour_s: float
    belief: Belief
    sigma_k: float
    theta: Array
    knee_s: Array
    ahead_s: Array
    frozen_pct: Array
    gain_pct: Array
    plateau_s: Array
    weights: Array
    wall_w: Array
    bath_c: float
    mix: Mix
    gain_limit_pct: float

    @property
    def frozen(self) -> NDArray[np.bool_]:
        """(K,) whether freezing has begun."""
        return self.knee_s <= self.t

    def p_over(self) -> float:
        """Probability that the plateau is here."""
        over = self.frozen & (self.gain_pct < self.gain_limit_pct)
        return float(np.mean(over))

    def plateau_quantiles(self) -> tuple[float | None, float | None, float | None]:
        """Run times of the plateau at 10, 50 and 90 %, given that it has not long passed."""
        ahead = self.plateau_s > self.t - _PASSED_S
        if np.mean(ahead) < 0.05:
            return self.t, self.t, self.t
        return quantiles(
            np.maximum(self.plateau_s[ahead], self.t), self.t + HORIZON_S, self.weights[ahead]
        )

    def frozen_at(self, t: float) -> tuple[float, float]:
        """Frozen share [%] at `t` within the horizon, and its standard deviation."""
        j = min(int(np.searchsorted(self.ahead_s, t)), self.ahead_s.size - 1)
        i = max(j - 1, 0)
        part = 0.0 if i == j else (t - self.ahead_s[i]) / (self.ahead_s[j] - self.ahead_s[i])
        share = self.frozen_pct[:, i] * (1.0 - part) + self.frozen_pct[:, j] * part
        return float(np.mean(share)), float(np.std(share))

    def offset_k(self) -> tuple[float, float]:
        """What the mix probe reads too much [K], and its standard deviation."""
        offsets = self.theta[:, OFFSET]
        return float(np.mean(offsets)), float(np.std(offsets))

    def slowdown(self, bath_at_knee_c: float) -> Slowdown | None:
        """What takes part in the slowing since the knee; None before it."""
        begun = self.frozen
        if np.mean(begun) < 0.5:
            return None
        theta = self.theta[begun]
        freezing_c = self.mix.curve.initial_c
        at_knee = max(freezing_c - bath_at_knee_c, 0.1)
        now = max(freezing_c - self.bath_c, 0.1)
        kept = kept_share((self.t - self.knee_s[begun])[:, None], theta)[:, 0]
        lost_bath = at_knee - now
        lost_wall = now * (1.0 - kept)
        beater = np.clip(theta[:, PARASITIC], 0.0, None)
        parts = np.stack([np.full_like(kept, max(lost_bath, 0.0)), lost_wall, beater])
        shares = parts / np.maximum(parts.sum(axis=0), 1e-9)
        means, sds = shares.mean(axis=1), shares.std(axis=1)
        return Slowdown(*(float(v) for v in means), *(float(v) for v in sds))


def quantiles(
    times: Array, latest: float, weights: Array | None = None
) -> tuple[float | None, float | None, float | None]:
    """The 10, 50 and 90 % quantiles of times, by weight if given; None where past `latest`."""
    order = np.argsort(times)
    weight = np.ones(times.size) if weights is None else weights[order]
    reached = np.cumsum(weight) / np.sum(weight)
    found = times[order][np.minimum(np.searchsorted(reached, (0.1, 0.5, 0.9)), times.size - 1)]
    p10, p50, p90 = (float(value) if value <= latest else None for value in found)
    return p10, p50, p90


def look(
    t: float,
    pour_s: float,
    mix_blocks: Blocks,
    bath_blocks: Blocks,
    mix: Mix,
    prior: RigPrior,
    offset_sd: float,
    plateau: PlateauSetting,
    normal: Array,
    last: RoundView | None,
) -> RoundView | None:
    """Fit the round's curve to what has been read up to `t`; None while there is too little.

    Args:
        t: run time [s].
        pour_s: run time of the pour [s].
        mix_blocks: accepted mix readings.
        bath_blocks: accepted bath readings.
        mix: the mix.
        prior: what is believed of the rig.
        offset_sd: standard uncertainty of the mix probe [K].
        plateau: when the round counts as over.
        normal: (K, 7) standard normal numbers.
        last: the view before this one, to start the search from.
    """
    middles, means, weights = mix_blocks.since(pour_s)
    middles = middles - pour_s
    usable = (middles >= _SKIP_S) & (middles <= t - pour_s)
    if usable.sum() < 4:
        return None
    middles, means, weights = middles[usable], means[usable], weights[usable]
    width = BLOCK_S * np.ceil((t - pour_s) / BLOCK_S / _FIT_CELLS)
    edges = np.arange(0.0, t - pour_s + width, width)
    cell = (middles / width).astype(int)
    count = np.bincount(cell, weights, minlength=edges.size - 1)
    with np.errstate(invalid="ignore"):
        read_c = np.bincount(cell, weights * means, minlength=edges.size - 1) / count
    bath_t, bath_means, _ = bath_blocks.since(pour_s - 60.0)
    bath_seen = bath_t.size > 0
    if not bath_seen:
        bath_t, bath_means = np.array([pour_s]), np.array([_UNSEEN_BATH_C])
    mean, covariance = starting_belief(
        prior, mix, float(means[0]), 0.0, float(np.hypot(offset_sd, _OFFSET_CURVE_SD))
    )
    if not bath_seen:
        covariance[PARASITIC, PARASITIC] += _UNSEEN_BATH_SD**2
    bath_cells = np.interp(0.5 * (edges[1:] + edges[:-1]), bath_t - pour_s, bath_means)
    counted = np.minimum(count, width / BLOCK_S)
    belief = fit_knee(
        mean,
        covariance,
        mean if last is None else last.belief.mean,
        edges,
        bath_cells,
        read_c,
        counted,
        mix,
        SIGMA_K if last is None else last.sigma_k,
    )
    theta = belief.draw(normal[:, :6])
    trend = bath_blocks.trend(t, 180.0)
    level, slope = trend if trend is not None else (float(bath_means[-1]), 0.0)

    step = plateau.within_s / _STEPS_WITHIN
    past = np.linspace(0.0, t - pour_s, _PAST_CELLS + 1)
    ahead = t - pour_s + step * np.arange(1, int(HORIZON_S / step) + _STEPS_WITHIN + 1)
    bath_past = np.interp(0.5 * (past[1:] + past[:-1]), bath_t - pour_s, bath_means)
    slopes = slope + _BATH_SLOPE_SD * normal[:, [6]]
    drift = _BATH_DAMPING_S * -np.expm1(-(ahead - step / 2 - (t - pour_s)) / _BATH_DAMPING_S)
    bath_ahead = np.clip(level + slopes * drift, -25.0, 10.0)
    bath = np.hstack([np.broadcast_to(bath_past, (theta.shape[0], past.size - 1)), bath_ahead])
    whole = course(theta, np.concatenate([past, ahead]), bath, mix)

    frozen = whole.frozen_pct[:, past.size - 1 :]
    gain = frozen[:, _STEPS_WITHIN:] - frozen[:, :-_STEPS_WITHIN]
    at = np.concatenate([[t - pour_s], ahead])[: gain.shape[1]]
    plateau_s = _plateau(gain, at, whole.knee_s, plateau.gain_pct)
    return RoundView(
        t=t,
        pour_s=pour_s,
        belief=belief,
        sigma_k=wander_k(belief, edges, bath_cells, read_c, counted, mix),
        theta=theta,
        knee_s=whole.knee_s + pour_s,
        ahead_s=at + pour_s,
        frozen_pct=frozen[:, : at.size],
        gain_pct=gain[:, 0],
        plateau_s=plateau_s + pour_s,
        weights=_weights(plateau_s, prior),
        wall_w=_wall_w(theta, whole, past.size - 2, t - pour_s, level, mix),
        bath_c=level,
        mix=mix,
        gain_limit_pct=plateau.gain_pct,
    )


def _plateau(gain: Array, at: Array, knee_s: Array, limit_pct: float) -> Array:
    """(K,) times since the pour from which on the gain stays under the limit."""
    begun = at >= knee_s[:, None]
    over = begun & (gain < limit_pct)
    first = np.argmax(over, axis=1)
    rows = np.arange(gain.shape[0])
    before = np.maximum(first - 1, 0)
    high, low = gain[rows, before], gain[rows, first]
    # Between the knee and the first cell after it the gain rises: only a falling gain crosses.
    crosses = (first > 0) & begun[rows, before] & (high > limit_pct)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(crosses, (high - limit_pct) / (high - low), 1.0)
    place = at[before] + part * (at[first] - at[before])
    now_over = np.where(over[:, 0], at[0], place)
    # Members over already: how long, from the slope of their gain.
    slope = (gain[:, 0] - gain[:, 1]) / (at[1] - at[0])
    since = (limit_pct - gain[:, 0]) / np.maximum(slope, 1e-3)
    now_over = np.where(over[:, 0], np.maximum(at[0] - since, knee_s), now_over)
    return np.where(over[rows, first], now_over, np.inf)


def _weights(plateau_s: Array, prior: RigPrior) -> Array:
    """(K,) density of each member's plateau under what is believed of the rig's usual one."""
    i = prior.names.index("plateau_s")
    variance = prior.covariance[i][i]
    away = np.log(np.clip(plateau_s, 60.0, 2.0 * HORIZON_S)) - prior.mean[i]
    return np.asarray(np.exp(-0.5 * away**2 / variance) + 1e-9)


def _wall_w(
    theta: Array, whole: Course, j: int, since_pour: float, bath_c: float, mix: Mix
) -> Array:
    age = np.clip(since_pour - whole.knee_s, 0.0, None)
    slushy = np.exp(theta[:, FILM]) * kept_share(age[:, None], theta)[:, 0]
    film = np.where(whole.knee_s <= since_pour, slushy, 1.0)
    conductance = mix.heat_capacity_j_k * np.exp(theta[:, KAPPA]) * film
    return np.asarray(conductance * (whole.mix_c[:, j] - bath_c))
