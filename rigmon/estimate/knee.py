"""The cooling curve of a mix with its freezing knee, and its fit to the readings.

Until it freezes the mix cools as a stirred body does, T' = −κ (T − T_bath − s), where s is the
heat of beaters and air over the wall's conductance. From the knee on it follows its own freezing
curve while the frozen share φ grows as φ' ∝ κ [f k(u) (T_f − T_bath) − s]: u is the time since the
knee, f what slush leaves of the conductance at once, k = 0.4 + 0.6 exp(−u/τ) what ice on the wall
and the stiffening mix leave of it in the long run. The probe reads δ more than the mix has. The
knee is the one moment at which the mix says its own temperature, so δ comes out of the fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rigmon.physics.mix import FreezingCurve
from rigmon.records import RigPrior

Array = NDArray[np.float64]

MODEL_VERSION = "knee-1"

START, KAPPA, PARASITIC, OFFSET, FILM, DECAY = range(6)
"""Columns of a parameter set: start [°C], ln κ [1/s], s [K], δ [K], ln film ratio, ln τ [s]."""

PRIOR = RigPrior(
    names=("ua_w_k", "parasitic_k", "film_ratio", "decay_s", "plateau_s"),
    transforms=("log", "identity", "log", "log", "log"),
    mean=(
        float(np.log(9.5)),
        3.0,
        float(np.log(0.85)),
        float(np.log(700.0)),
        float(np.log(1000.0)),
    ),
    covariance=(
        (0.16, 0.0, 0.0, 0.0, 0.0),
        (0.0, 2.25, 0.0, 0.0, 0.0),
        (0.0, 0.0, 0.0625, 0.0, 0.0),
        (0.0, 0.0, 0.0, 0.36, 0.0),
        (0.0, 0.0, 0.0, 0.0, 0.2),
    ),
    model_version=MODEL_VERSION,
)
"""An unknown rig: conductance of the wall, heat of beaters and air over it, what is left of the
conductance once the mix is slush, how fast it goes on falling (own estimate, from film coefficients
of an agitated bowl), and the time from the pour to the plateau (common practice, no source: 10 to
15 min), which weighs forecasts only."""

USUAL_MASS_G = 1200.0
"""Mass taken for a batch that nobody weighed [g]; its spread widens the prior (common practice)."""
_MASS_LOG_SD = 0.35

_KEPT = 0.4
"""Share of the conductance that is left in the end (common practice, no source: it falls to 40 to
60 % of what it was)."""

SIGMA_K = 0.7
"""What a block may be off the curve [K] as long as the readings have not shown it: a wander of
0.15 K over some 40 s moves eight blocks at once, and counts for as much as this in each of them."""
_BATCH_S = 60.0
"""Blocks are taken together over this time to see how far they wander as one [s]."""
_BATCHES_BELIEVED = 4.0
"""So many batches count as much as the figure above."""
_LAG_S = 15.0
"""Probe lag and stratification while the temperature runs fast [s]."""
_NU = 4.0
"""Degrees of freedom of the Student noise."""


@dataclass(frozen=True, slots=True)
class Mix:
    """What the curve needs to know of a mix.

    Args:
        curve: its freezing curve.
        mass_g: mass in the bowl [g], None if nobody weighed it.
    """

    curve: FreezingCurve
    mass_g: float | None

    @property
    def heat_capacity_j_k(self) -> float:
        """Heat capacity of the unfrozen batch [J/K]."""
        return (self.mass_g or USUAL_MASS_G) * self.curve.unfrozen_specific_heat_j_gk


@dataclass(frozen=True, slots=True)
class Course:
    """Mix curves of K parameter sets over N cells.

    Args:
        mix_c: (K, N) mix temperature in the middle of each cell [°C].
        frozen_pct: (K, N + 1) frozen share at the edges [%].
        knee_s: (K,) time of the knee since the pour [s]; inf if it lies beyond.
    """

    mix_c: Array
    frozen_pct: Array
    knee_s: Array


def course(theta: Array, edges: Array, bath_c: Array, mix: Mix) -> Course:
    """Follow the curve through cells of given bath temperature.

    Args:
        theta: (K, 6) parameter sets.
        edges: (N + 1,) cell edges, from 0 at the pour [s].
        bath_c: (N,) or (K, N) bath temperature in each cell [°C].
        mix: the mix.
    """
    freezing_c = mix.curve.initial_c
    kappa = np.exp(theta[:, [KAPPA]])
    parasitic = theta[:, [PARASITIC]]
    middles = 0.5 * (edges[1:] + edges[:-1])
    widths = np.diff(edges)
    surroundings = bath_c + parasitic
    grown = np.exp(np.minimum(kappa * edges, 60.0))
    at_middle = np.exp(np.minimum(kappa * middles, 60.0))
    filled = np.cumsum(surroundings * np.diff(grown, axis=1), axis=1)
    before = np.concatenate([np.zeros_like(filled[:, :1]), filled[:, :-1]], axis=1)
    inside = surroundings * (at_middle - grown[:, :-1])
    liquid_c = (theta[:, [START]] + before + inside) / at_middle

    knee_s = _first_below(liquid_c, middles, freezing_c)[:, None]
    age = np.clip(middles - knee_s, 0.0, None)
    share = np.clip((edges[1:] - knee_s) / widths, 0.0, 1.0)
    slush = kappa * np.exp(theta[:, [FILM]])
    pull = slush * kept_share(age, theta) * (freezing_c - bath_c) - kappa * parasitic
    per_pct = mix.curve.latent_j_per_pct / mix.curve.unfrozen_specific_heat_j_gk
    grown_pct = np.cumsum(pull / per_pct * share * widths, axis=1)
    frozen = np.concatenate([np.zeros_like(grown_pct[:, :1]), grown_pct], axis=1)
    frozen = np.clip(frozen, 0.0, 95.0)
    frozen_c = mix.curve.temperature_c(0.5 * (frozen[:, 1:] + frozen[:, :-1]))
    return Course(np.where(middles < knee_s, liquid_c, frozen_c), frozen, knee_s[:, 0])


def kept_share(age_s: Array, theta: Array) -> Array:
    """k: what is left of the conductance `age_s` [s] after the knee; (K, N) of (K, N) and (K, 6).

    >>> float(kept_share(np.array([[0.0]]), np.zeros((1, 6)))[0, 0])
    1.0
    """
    return np.asarray(_KEPT + (1.0 - _KEPT) * np.exp(-age_s / np.exp(theta[:, [DECAY]])))


def _first_below(values: Array, at: Array, limit: float) -> Array:
    """(K,) places where rows of (K, N) first fall to a limit, between cells; inf where never."""
    below = values <= limit
    j = np.argmax(below, axis=1)
    rows = np.arange(values.shape[0])
    previous = np.maximum(j - 1, 0)
    high, low = values[rows, previous], values[rows, j]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(high > low, (high - limit) / (high - low), 0.0)
    place = at[previous] + np.clip(part, 0.0, 1.0) * (at[j] - at[previous])
    return np.where(below[rows, j], np.where(j == 0, 0.0, place), np.inf)


def starting_belief(
    prior: RigPrior, mix: Mix, start_c: float, offset_k: float, offset_sd: float
) -> tuple[Array, Array]:
    """Mean (6,) and covariance (6, 6) of a parameter set before the first reading of the mix.

    Args:
        prior: what is known of the rig.
        mix: the mix.
        start_c: first temperature of the mix [°C].
        offset_k: what the mix probe is expected to read too much [K].
        offset_sd: how surely [K].
    """
    mean = np.zeros(6)
    covariance = np.zeros((6, 6))
    rig = np.array(prior.mean)[:4]
    mean[[KAPPA, PARASITIC, FILM, DECAY]] = rig
    mean[KAPPA] -= np.log(mix.heat_capacity_j_k)
    places = [KAPPA, PARASITIC, FILM, DECAY]
    covariance[np.ix_(places, places)] = np.array(prior.covariance)[:4, :4]
    if mix.mass_g is None:
        covariance[KAPPA, KAPPA] += _MASS_LOG_SD**2
    mean[START], covariance[START, START] = start_c, 1.5**2
    mean[OFFSET], covariance[OFFSET, OFFSET] = offset_k, offset_sd**2
    return mean, covariance


@dataclass(frozen=True, slots=True)
class Belief:
    """A parameter set with its spread.

    Args:
        mean: (6,).
        root: (6, 6) with root @ root.T the covariance.
    """

    mean: Array
    root: Array

    def draw(self, normal: Array) -> Array:
        """(K, 6) parameter sets from (K, 6) standard normal numbers."""
        return np.asarray(self.mean + normal @ self.root.T)


def fit_knee(
    prior_mean: Array,
    prior_covariance: Array,
    first: Array,
    edges: Array,
    bath_c: Array,
    read_c: Array,
    weights: Array,
    mix: Mix,
    sigma_k: float = SIGMA_K,
) -> Belief:
    """Most probable parameter set given the readings, with the spread of its neighbourhood.

    Levenberg–Marquardt on whitened parameters; Student noise by reweighting. Each trial runs the
    curve once for all six slopes.

    Args:
        prior_mean: (6,).
        prior_covariance: (6, 6).
        first: (6,) where to start.
        edges: (N + 1,) cell edges since the pour [s].
        bath_c: (N,) bath in each cell [°C].
        read_c: (N,) mix probe in each cell [°C], NaN where it said nothing.
        weights: (N,) how much each cell counts; 1 for a whole block of good readings.
        mix: the mix.
        sigma_k: what a whole block may be off the curve [K].
    """
    root = np.linalg.cholesky(prior_covariance)
    seen = np.isfinite(read_c)
    middles = 0.5 * (edges[1:] + edges[:-1])
    running = np.gradient(np.interp(middles, middles[seen], read_c[seen]), middles)
    sigma = np.sqrt(sigma_k**2 + (_LAG_S * running[seen]) ** 2) / np.sqrt(weights[seen])

    def misfit(z: Array) -> Array:
        theta = prior_mean + z @ root.T
        predicted = course(theta, edges, bath_c, mix).mix_c[:, seen] + theta[:, [OFFSET]]
        return np.asarray((predicted - read_c[seen]) / sigma)

    step = 1e-4
    z = np.linalg.solve(root, first - prior_mean)
    damping = 1e-2
    eye = np.eye(6)
    cost = np.inf
    normal_matrix = eye
    for _ in range(8):
        r = misfit(np.vstack([z, z + step * eye]))
        jacobian = ((r[1:] - r[0]) / step).T
        robust = (_NU + 1.0) / (_NU + r[0] ** 2)
        normal_matrix = (jacobian.T * robust) @ jacobian + eye
        gradient = (jacobian.T * robust) @ r[0] + z
        cost = _cost(r[0], z)
        moved = False
        while damping < 1e6:
            trial = z - np.linalg.solve(normal_matrix + damping * eye, gradient)
            trial_cost = _cost(misfit(trial[None, :])[0], trial)
            if trial_cost < cost:
                moved = True
                break
            damping *= 8.0
        if not moved:
            break
        small = cost - trial_cost < 1e-3 * (1.0 + cost)
        z, damping = trial, max(damping / 8.0, 1e-6)
        if small:
            break
    spread = np.linalg.inv(normal_matrix)
    return Belief(prior_mean + root @ z, np.asarray(root @ np.linalg.cholesky(spread), dtype=float))


def _cost(r: Array, z: Array) -> float:
    return float(0.5 * (_NU + 1.0) * np.sum(np.log1p(r**2 / _NU)) + 0.5 * z @ z)


def wander_k(
    belief: Belief, edges: Array, bath_c: Array, read_c: Array, weights: Array, mix: Mix
) -> float:
    """What a block is off the curve [K], judged by how far the readings wander about it.

    The spread of minute-long means, times the root of the blocks in each: what blocks do as one
    counts in full. Readings before the knee are left out, where lag hides the wander.

    Args:
        belief: the fitted curve.
        edges: (N + 1,) cell edges since the pour [s].
        bath_c: (N,) bath in each cell [°C].
        read_c: (N,) mix probe in each cell [°C], NaN where it said nothing.
        weights: (N,) how many blocks each cell holds.
        mix: the mix.
    """
    fitted = course(belief.mean[None, :], edges, bath_c, mix)
    middles = 0.5 * (edges[1:] + edges[:-1])
    used = np.isfinite(read_c) & (middles > fitted.knee_s[0])
    off = read_c[used] - fitted.mix_c[0, used] - belief.mean[OFFSET]
    batch = (middles[used] // _BATCH_S).astype(int)
    count = np.bincount(batch, weights[used]) if batch.size else np.zeros(0)
    full = count > 0
    known = _BATCHES_BELIEVED * SIGMA_K**2
    if full.sum() < 2:
        return SIGMA_K
    means = np.bincount(batch, weights[used] * off)[full] / count[full]
    seen = float(np.sum(count[full] * means**2))
    return float(np.sqrt((known + seen) / (_BATCHES_BELIEVED + full.sum())))
