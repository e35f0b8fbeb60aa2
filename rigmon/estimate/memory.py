"""The rig's memory: what its runs say of it together, and so what to expect of the next.

A rig has a usual self μ ~ N(m, S), with m and S those of an unknown rig. On the day of run i it is
θ_i ~ N(μ, B / u_i): B, a variance for each parameter, is how one kitchen differs from day to day,
and u_i ~ Γ(ν/2, ν/2) makes the days' distribution a Student t, so that a day which is like no other
counts less. The run then says what it can of θ_i (`runsays`). The next run's prior is the mean of
μ with its covariance and B on top: it never gets surer than the days differ.

All of it is normal once B and the u_i are given, so only these are iterated, each set to its
expected value given the rest: variational Bayes with the effective numbers of measured parameters
of D. MacKay (Neural Computation 4 (1992) 415, from memory) as the degrees of freedom. It is chosen
over sampling since it is deterministic, and takes milliseconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.runsays import Array, Saying, moments, saying, with_learned
from rigmon.records import RigPrior, RunFit

DAYS_SHARE = 0.375
"""What the days of one rig differ by, as a share of what rigs differ by, before any run: 0.15 in
the logarithm of the conductance, since a kitchen's times to stiff differ by 10 to 20 % from run to
run (common practice, no source); the other parameters in the same proportion (own choice)."""
_DAYS_WORTH = 8.0
"""How many days that is worth (own choice)."""
_STUDENT = 4.0
"""Degrees of freedom of the days' distribution (own choice)."""
_TAUGHT = 0.9
"""Runs have said something of a parameter if their rig is this much surer than an unknown one."""
_ROUNDS = 500
_SETTLED = 1e-9
_P90 = 1.2816
"""The 90 % quantile of the standard normal."""


class RigPart(StrEnum):
    """What a maker may change on a rig."""

    BOWL = "bowl"
    MIXER = "mixer"
    PROBE = "probe"


KEPT: Mapping[RigPart, Mapping[str, float]] = {
    RigPart.BOWL: {"ua_w_k": 0.3, "stiffening": 0.5, "plateau_factor": 0.5},
    RigPart.MIXER: {
        "beater_w": 0.3,
        "beater_rise": 0.3,
        "stiffening": 0.9,
        "plateau_factor": 0.7,
    },
    RigPart.PROBE: {},
}
"""How a parameter after a change correlates with itself before (own choice): a new bowl is another
draw from what bowls are, but kitchen, room and hand stay. What a probe is off is not learned."""


@dataclass(frozen=True, slots=True)
class Learned:
    """One parameter of a rig, in its own unit.

    Args:
        name: which, its unit at the end.
        usual: unknown rig: 10, 50 and 90 % quantile.
        own: this rig's usual self, the same.
        next: this rig's next run, the same.
        days_pct: standard deviation from run to run [%].
        more_pct: how much more than the unknown rig's median [%] ...
        give_pct: ... give or take this [percentage points], in eight of ten cases.
        taught: whether runs have said anything of it.
    """

    name: str
    usual: tuple[float, float, float]
    own: tuple[float, float, float]
    next: tuple[float, float, float]
    days_pct: float
    more_pct: float
    give_pct: float
    taught: bool


@dataclass(frozen=True, slots=True)
class RigMemory:
    """What has been learned of a rig.

    Args:
        runs: runs that taught something of it.
        passed_over: runs whose model was another.
        parameters: what was learned of each parameter.
        prior: what is believed of its next run.
    """

    runs: int
    passed_over: int
    parameters: tuple[Learned, ...]
    prior: RigPrior


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What n runs say of p parameters.

    Args:
        precision: (n, p, p) each run's own precision.
        pull: (n, p) that times its own estimate, counted from the unknown rig's mean.
        era: (n,) how many changes came before it.
    """

    precision: Array
    pull: Array
    era: NDArray[np.intp]

    def blurred(self, days: Array) -> Array:
        """(n, p, p) what is left of each run's precision as one of the rig's usual self.

        That is (W + D)⁻¹ = (1 + W⁻¹ D)⁻¹ W⁻¹, the first factor; W⁻¹ may be singular.

        Args:
            days: (n, p) D, variance of each run's day.
        """
        return np.asarray(np.linalg.inv(np.eye(days.shape[1]) + self.precision * days[:, None, :]))


def prior_after(fits: Sequence[RunFit], unknown: RigPrior) -> RigPrior:
    """What is believed of a rig before its next run.

    Args:
        fits: what its runs said, in any order; those of another model are passed over.
        unknown: what is believed of an unknown rig.

    >>> unknown = RigPrior(("ua_w_k",), ("log",), (2.25,), ((0.16,),), "1")
    >>> fit = RunFit(("ua_w_k",), ("log",), (2.45,), ((0.01,),), "1", prior=unknown)
    >>> [round(math.exp(prior_after([fit] * n, unknown).mean[0]), 2) for n in (0, 1, 4)]
    [9.49, 11.34, 11.64]
    """
    return remember(fits, unknown).prior


def remember(story: Sequence[RunFit | RigPart], unknown: RigPrior) -> RigMemory:
    """What runs and changes, in the order in which they came, say of a rig.

    Args:
        story: what runs said, and what was changed between them.
        unknown: what is believed of an unknown rig.
    """
    names = unknown.names
    mean, covariance = moments(unknown, names)
    said: list[Saying] = []
    eras: list[int] = []
    changes: list[set[RigPart]] = []
    passed_over = 0
    for one in _in_order(story):
        if isinstance(one, RigPart):
            # What lay between two changes, or before the first run, nothing was learned of.
            if len(changes) <= max(eras, default=-1):
                changes.append(set())
            if changes:
                changes[-1].add(one)
        elif one.model_version != unknown.model_version or not set(names) <= set(one.names):
            passed_over += 1
        elif not (own := saying(one, names, unknown)).silent:
            said.append(own)
            eras.append(len(changes))
    if not said:
        return RigMemory(0, passed_over, _learned(names, unknown, unknown, unknown), unknown)
    told = Told(
        np.array([one.precision for one in said]),
        np.array([one.pull for one in said]),
        np.array(eras),
    )
    usual, own_covariance, days = _settle(
        told, [_kept(names, parts) for parts in changes], covariance
    )
    of_rig = with_learned(unknown, names, mean + usual, own_covariance)
    prior = with_learned(unknown, names, mean + usual, own_covariance + np.diag(days))
    return RigMemory(len(said), passed_over, _learned(names, unknown, of_rig, prior), prior)


def usual_self(
    told: Told, days: Array, kept: Sequence[Array], unknown: Array
) -> tuple[Array, Array]:
    """The rig's usual self in each of E eras that changes part, the days' variances given.

    Args:
        told: what the runs say.
        days: (n, p) variance of each run's day.
        kept: E − 1 changes, each the (p,) correlations with what was before it.
        unknown: (p, p) covariance of usual selves over rigs.

    Returns:
        Mean (E, p), counted from the unknown rig's, and covariance (E, p, E, p).
    """
    p, n = unknown.shape[0], len(kept) + 1
    before = np.empty((n, p, n, p))
    for late in range(n):
        for early in range(late + 1):
            left = np.prod([np.ones(p), *kept[early:late]], axis=0)
            before[late, :, early] = left[:, None] * unknown
            before[early, :, late] = before[late, :, early].T
    precision, pull = np.zeros_like(before), np.zeros((n, p))
    blurred = told.blurred(days)
    for era in range(n):
        here = told.era == era
        precision[era, :, era] = (blurred[here] @ told.precision[here]).sum(axis=0)
        pull[era] = (blurred[here] @ told.pull[here, :, None]).sum(axis=0)[:, 0]
    flat = before.reshape(n * p, n * p)
    after = np.linalg.solve(np.eye(n * p) + flat @ precision.reshape(n * p, n * p), flat)
    after = 0.5 * (after + after.T)
    return (after @ pull.ravel()).reshape(n, p), after.reshape(n, p, n, p)


def _settle(told: Told, kept: Sequence[Array], unknown: Array) -> tuple[Array, Array, Array]:
    """The rig's usual self by now, its covariance, and the variance from day to day beside it."""
    n, p = told.pull.shape
    rigs = (1.0 - DAYS_SHARE**2) * unknown
    first = (1.0 - 2.0 / _DAYS_WORTH) * DAYS_SHARE**2 * np.diag(unknown)
    scale, worth, weight = first, np.full(p, _DAYS_WORTH), np.ones(n)
    usual, covariance = usual_self(told, scale / weight[:, None], kept, rigs)
    for _ in range(_ROUNDS):
        known, squares = _days(told, scale / weight[:, None], usual, covariance)
        old = np.concatenate([scale, weight])
        weight = (_STUDENT + known.sum(axis=1)) / (_STUDENT + (squares / scale).sum(axis=1))
        worth = _DAYS_WORTH + known.sum(axis=0)
        scale = (_DAYS_WORTH * first + weight @ squares) / worth
        usual, covariance = usual_self(told, scale / weight[:, None], kept, rigs)
        if np.max(np.abs(np.concatenate([scale, weight]) / old - 1.0)) < _SETTLED:
            break
    return usual[-1], covariance[-1, :, -1], scale * worth / (worth - 2.0)


def _days(told: Told, days: Array, usual: Array, covariance: Array) -> tuple[Array, Array]:
    """How far each run tells each parameter of its day, 0 to 1, and its expected squared distance.

    The second is that part of it which the run tells; the rest is the day's own variance.
    """
    share = days[:, :, None] * told.blurred(days)
    missed = told.pull - np.einsum("nij,nj->ni", told.precision, usual[told.era])
    away = np.einsum("nij,nj->ni", share, missed)
    moved = share @ told.precision
    spread = covariance[told.era, :, told.era]
    known = 1.0 - np.diagonal(share, axis1=1, axis2=2) / days
    return known, away**2 + np.einsum("nij,njk,nik->ni", moved, spread, moved)


def _in_order(story: Iterable[RunFit | RigPart]) -> list[RunFit | RigPart]:
    """Runs between two changes in an order of their own, so that sums round alike."""
    ordered: list[RunFit | RigPart] = []
    runs: list[RunFit] = []
    for one in story:
        if isinstance(one, RunFit):
            runs.append(one)
        else:
            ordered += [*sorted(runs, key=_key), one]
            runs = []
    return [*ordered, *sorted(runs, key=_key)]


def _key(fit: RunFit) -> tuple[str, tuple[float, ...], tuple[tuple[float, ...], ...]]:
    return fit.model_version, fit.mean, fit.covariance


def _kept(names: Sequence[str], parts: Iterable[RigPart]) -> Array:
    left = [[KEPT[part].get(name, 1.0) for name in names] for part in parts]
    return np.asarray(np.prod(left, axis=0))


def _learned(
    names: Sequence[str], unknown: RigPrior, own: RigPrior, following: RigPrior
) -> tuple[Learned, ...]:
    return tuple(_one(name, unknown, own, following) for name in names)


def _one(name: str, unknown: RigPrior, own: RigPrior, following: RigPrior) -> Learned:
    usual, mine, next_run = (_normal(of, name) for of in (unknown, own, following))
    known = own is not unknown
    days = math.sqrt(max(next_run[1] ** 2 - mine[1] ** 2, 0.0)) if known else DAYS_SHARE * usual[1]
    low, middle, high = _span(*mine)
    ratio = 1.0 / math.exp(usual[0])
    return Learned(
        name=name,
        usual=_span(*usual),
        own=(low, middle, high),
        next=_span(*next_run),
        days_pct=100.0 * math.expm1(days),
        more_pct=100.0 * (middle * ratio - 1.0),
        give_pct=50.0 * (high - low) * ratio,
        taught=known and mine[1] < _TAUGHT * math.sqrt(1.0 - DAYS_SHARE**2) * usual[1],
    )


def _normal(of: RigPrior, name: str) -> tuple[float, float]:
    i = of.names.index(name)
    return of.mean[i], math.sqrt(of.covariance[i][i])


def _span(mean: float, sd: float) -> tuple[float, float, float]:
    return math.exp(mean - _P90 * sd), math.exp(mean), math.exp(mean + _P90 * sd)
