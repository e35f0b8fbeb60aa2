"""What a rig's runs say of the model: how far off it is, how runs scatter, what amounts really do.

The model of the whole rig foretells each run on drawn rigs. What is left over,

    ln t − ln t_model  = X (κ β + γ) + σ e      time to a frozen share
    T − T_model        = X β + τ e              mean of the bath until then [K]

has a level, and slopes over what went in (X: 1, ln ratio, ln ice over mix, grain, form of the
ice). β says how amounts act on the bath otherwise than the model has it, which both probes of every
run measure well; κ, the model's own, says what a bath so much colder is worth in time; γ is what
else the model has wrong. All are normal about 0 (a model with no fault), once narrowly and once
widely, so that few runs leave the model as it is and many may overrule it. σ, the scatter from run
to run, has its prior on a grid. Each drawn rig counts as much as it makes the runs likely.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.special import logsumexp

from rigmon.physics.bath import dissolving_s, melting_w_k_kg
from rigmon.physics.course import Start
from rigmon.review.tried import Tried
from rigmon.review.worlds import Outcome

Array = NDArray[np.float64]

USUAL_SCATTER, SCATTER_LOG_SD = 0.14, 0.35
"""Scatter of the time to stiff from run to run, as a standard deviation of its logarithm, and how
kitchens differ in it: 10 to 20 % (common practice, no source)."""
SCATTERS = np.geomspace(0.05, 0.4, 15)
BATH_SCATTER_K = 1.0
"""The same of the bath [K] (own estimate, the probe's place included)."""
_TIME_SD = np.array([0.25, 0.09, 0.11, 0.05, 0.05])
"""How far the model's level and slopes of ln t may be off: on simulated rigs with another model its
slopes over ln ratio and ln ice are off by 0.11 and 0.15, β's share in that included."""
_BATH_SD = np.array([1.5, 1.0, 1.2, 0.5, 0.5])
"""The same of the bath [K] (own choice)."""
_WIDER, _RARELY = 5.0, 0.1
"""On one rig in so many the model is quite wrong about amounts, and its slopes are off by so many
times as much (own choice): scales that lie, salt that cakes, a probe in the wrong place."""
_SLOPES = np.array([k for k in range(2 * _TIME_SD.size) if k % _TIME_SD.size])
USUAL_KAPPA = 0.08
"""What 1 K of bath is worth in ln t where the model cannot say."""


@dataclass(frozen=True, slots=True, eq=False)
class Worlds:
    """Ways in which rig and kitchen may be, all equally likely; m of them.

    Args:
        rig: (m,) which of the drawn rigs it is.
        bath_slopes: (m, p) β [K].
        time_slopes: (m, p) κ β + γ.
        scatter: (m,) σ, standard deviation of ln t from run to run.
        runs: how many runs were heard.
        weights: (k,) how likely each drawn rig is.
    """

    rig: NDArray[np.intp]
    bath_slopes: Array
    time_slopes: Array
    scatter: Array
    runs: int
    weights: Array

    @property
    def scatter_pct(self) -> tuple[float, float, float]:
        """Scatter of times from run to run: 10, 50 and 90 % quantile [%]."""
        low, middle, high = 100.0 * np.expm1(np.quantile(self.scatter, (0.1, 0.5, 0.9)))
        return float(low), float(middle), float(high)

    def log_s(self, start: Start, of: Outcome, usual: Start) -> Array:
        """(m,) logarithm of the usual time to the frozen share [ln s]."""
        return np.asarray(of.log_s[self.rig] + self.time_slopes @ what_differs(start, usual))

    def log_freezing_s(self, start: Start, of: Outcome, usual: Start) -> Array:
        """(m,) the same from the first percent on."""
        return np.asarray(
            of.log_freezing_s[self.rig] + self.time_slopes @ what_differs(start, usual)
        )

    def then_c(self, start: Start, of: Outcome, usual: Start) -> Array:
        """(m,) bath as the share is reached [°C]."""
        return np.asarray(of.then_c[self.rig] + self.bath_slopes @ what_differs(start, usual))


def what_differs(start: Start, usual: Start) -> Array:
    """(p,) a batch in the terms in which the model may be wrong, counted from a usual one."""
    return np.array(
        [
            1.0,
            math.log(start.ice_g / start.salt_g) - math.log(usual.ice_g / usual.salt_g),
            math.log(start.ice_g / start.mix_g) - math.log(usual.ice_g / usual.mix_g),
            math.log(dissolving_s(start.salt_kind)[1] / dissolving_s(usual.salt_kind)[1]),
            math.log(melting_w_k_kg(usual.ice_kind)[1] / melting_w_k_kg(start.ice_kind)[1]),
        ]
    )


def worth_of_a_kelvin(made: Sequence[Outcome]) -> float:
    """κ: what 1 K of bath is worth in ln t, over batches of different ice and salt [1/K]."""
    bath = np.array([one.bath_c.mean() for one in made])
    time = np.array([one.log_s.mean() for one in made])
    if len(made) < 2 or np.ptp(bath) < 0.5:
        return USUAL_KAPPA
    return float(np.clip(stats.linregress(bath, time).slope, 0.02, 0.25))


def heard(
    runs: Sequence[Tried],
    made: Sequence[Outcome],
    usual: Start,
    kappa: float,
    n: int,
    seed: int,
) -> Worlds:
    """What the runs leave possible.

    Args:
        runs: the runs; none leaves what is believed before any.
        made: what the model makes of each, on the same drawn rigs.
        usual: a batch from which amounts are counted.
        kappa: what 1 K of bath is worth in ln t [1/K].
        n: how many worlds are drawn.
        seed: seed of the draw.
    """
    rng = np.random.default_rng(seed)
    rigs = made[0].log_s.size if made else 1
    p = _TIME_SD.size
    x = np.array([what_differs(run.start, usual) for run in runs]).reshape(-1, p)
    bathed = [i for i, run in enumerate(runs) if run.bath_c is not None]
    # Rows first of all times, then of the baths that were measured; columns β, then γ.
    rows = (
        np.vstack([np.hstack([kappa * x, x]), np.hstack([x[bathed], np.zeros((len(bathed), p))])])
        if runs
        else np.zeros((0, 2 * p))
    )
    left = (
        np.vstack(
            [math.log(run.took_s) - of.log_s for run, of in zip(runs, made, strict=True)]
            + [float(runs[i].bath_c or 0.0) - made[i].bath_c for i in bathed]
        )
        if runs
        else np.zeros((0, rigs))
    )
    beliefs = [
        (scatter, wide, share)
        for scatter in SCATTERS
        for wide, share in ((1.0, 1.0 - _RARELY), (_WIDER, _RARELY))
    ]
    likely = np.empty((len(beliefs), rigs))
    gains, lowers = [], []
    for row, (scatter, wide, share) in enumerate(beliefs):
        before = np.diag(np.concatenate([_BATH_SD, _TIME_SD]) ** 2)
        before[_SLOPES, _SLOPES] *= wide**2
        noise = np.concatenate(
            [np.full(len(runs), scatter**2), np.full(len(bathed), BATH_SCATTER_K**2)]
        )
        whole = rows @ before @ rows.T + np.diag(noise)
        gain = np.linalg.solve(whole, rows @ before).T if runs else np.zeros((2 * p, 0))
        after = before - gain @ rows @ before
        gains.append(gain)
        lowers.append(np.linalg.cholesky(0.5 * (after + after.T) + 1e-12 * np.eye(2 * p)))
        own = stats.norm.logpdf(math.log(scatter), math.log(USUAL_SCATTER), SCATTER_LOG_SD)
        fits = stats.multivariate_normal.logpdf(left.T, cov=whole) if runs else 0.0
        likely[row] = own + math.log(share) + fits
    shares = np.exp(likely - logsumexp(likely))
    places = (rng.uniform() + np.arange(n)) / n
    picked = np.minimum(np.searchsorted(np.cumsum(shares.ravel()), places), shares.size - 1)
    held, chosen = np.unravel_index(picked, shares.shape)
    normal = rng.standard_normal((n, 2 * p))
    slopes = np.array(
        [
            gains[belief] @ left[:, k] + lowers[belief] @ z
            for belief, k, z in zip(held, chosen, normal, strict=True)
        ]
    )
    return Worlds(
        rig=chosen,
        bath_slopes=slopes[:, :p],
        time_slopes=kappa * slopes[:, :p] + slopes[:, p:],
        scatter=np.array([beliefs[belief][0] for belief in held]),
        runs=len(runs),
        weights=shares.sum(axis=0),
    )
