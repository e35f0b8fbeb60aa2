"""What a run by itself says of its rig, with what was believed before it taken out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rigmon.records import RigPrior, RunFit

Array = NDArray[np.float64]

SILENT = 0.9
"""Where a run leaves more than this share of a direction's variance it has said nothing: a cloud of
a thousand members shrinks or grows by that much by chance alone."""
WITHOUT_CHANCE = frozenset({"plateau_factor"})
"""Parameters whose spread no cloud estimates: of them every run that says anything counts."""
_SUREST = 1e-3
"""No run is believed to leave less."""
_WHOLLY = 0.999
_UNDETERMINED = 0.9
"""A parameter whose deviation stays above this share of its prior's has not been determined."""


@dataclass(frozen=True, slots=True, eq=False)
class Saying:
    """A run's own likelihood of p parameters, as if it had been normal.

    Args:
        precision: (p, p) inverse covariance; 0 in directions of which the run says nothing, where
            the variance is infinite.
        pull: (p,) precision times the run's own estimate, counted from the unknown rig's mean.
    """

    precision: Array
    pull: Array

    @property
    def silent(self) -> bool:
        """Whether the run says nothing at all."""
        return not self.precision.any()


def run_fit(prior: RigPrior, mean: Array, covariance: Array) -> RunFit:
    """What a run leaves believed of its rig.

    Args:
        prior: what was believed before it.
        mean: (p,) its parameters after it, on their transformed scale.
        covariance: (p, p) how surely.
    """
    sd, prior_sd = (np.sqrt(np.diag(c)) for c in (covariance, np.array(prior.covariance)))
    return RunFit(
        names=prior.names,
        transforms=prior.transforms,
        mean=tuple(mean.tolist()),
        covariance=tuple(map(tuple, covariance.tolist())),
        model_version=prior.model_version,
        prior=prior,
        undetermined=tuple(np.array(prior.names)[sd > _UNDETERMINED * prior_sd].tolist()),
    )


def saying(fit: RunFit, names: Sequence[str], unknown: RigPrior) -> Saying:
    """What a run says of some parameters beyond what it was told.

    A run's belief is its likelihood times its prior, so the precision that it adds is that of the
    belief less that of the prior. In coordinates in which the prior is a standard normal and the
    belief has variances c, that is 1/c − 1, and the run's own estimate is the mean over 1 − c.

    Args:
        fit: the run.
        names: the parameters.
        unknown: what is believed of an unknown rig.

    >>> told = RigPrior(("a",), ("log",), (0.0,), ((0.16,),), "1")
    >>> fit = RunFit(("a",), ("log",), (0.3,), ((0.04,),), "1", prior=told)
    >>> own = saying(fit, ("a",), told)
    >>> (1.0 / own.precision).round(4), (own.pull / own.precision[0]).round(4)
    (array([[0.0533]]), array([0.4]))
    """
    told_mean, told = moments(fit.prior, names)
    mean, covariance = moments(fit, names)
    lower = np.linalg.cholesky(told)
    away = np.linalg.solve(lower, mean - told_mean)
    half = np.linalg.solve(lower, covariance)
    c, axes = np.linalg.eigh(np.linalg.solve(lower, half.T))
    exact = [name in WITHOUT_CHANCE for name in names]
    sure = (axes[exact] ** 2).sum(axis=0) > _WHOLLY
    spoken = c < np.where(sure, 1.0 - _SUREST, SILENT)
    c, axes = np.clip(c[spoken], _SUREST, None), axes[:, spoken]
    across = np.linalg.solve(lower.T, axes)
    precision = (across * (1.0 / c - 1.0)) @ across.T
    pull = across @ ((axes.T @ away) / c) + precision @ (told_mean - moments(unknown, names)[0])
    return Saying(np.asarray(precision), np.asarray(pull))


def moments(of: RigPrior | RunFit, names: Sequence[str]) -> tuple[Array, Array]:
    """Mean and covariance of some parameters, on their transformed scale."""
    rows = [of.names.index(name) for name in names]
    whole: Any = np.array(of.covariance)
    return np.array(of.mean)[rows], whole[np.ix_(rows, rows)]


def with_learned(
    unknown: RigPrior, names: Sequence[str], mean: Array, covariance: Array
) -> RigPrior:
    """An unknown rig's prior, but for the parameters that were learned."""
    rows = [unknown.names.index(name) for name in names]
    means, whole = np.array(unknown.mean), np.array(unknown.covariance)
    whole[rows, :] = whole[:, rows] = 0.0
    means[rows], whole[np.ix_(rows, rows)] = mean, covariance
    return RigPrior(
        names=unknown.names,
        transforms=unknown.transforms,
        mean=tuple(means.tolist()),
        covariance=tuple(map(tuple, whole.tolist())),
        model_version=unknown.model_version,
    )


def says_something(fit: RunFit) -> bool:
    """Whether a run says anything of its rig beyond what it was told."""
    return not saying(fit, fit.prior.names, fit.prior).silent
