"""The rig as it may be: drawn rigs, and what the model of the whole rig makes of each for a batch.

Every batch is run on the same drawn rigs, so that what two batches differ by is not drowned in
what rigs differ by.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from rigmon.estimate.memory import RigMemory
from rigmon.physics.course import Beating, Course, Start
from rigmon.physics.mix import FreezingCurve, freezing_curve
from rigmon.physics.rigparameters import Rigs, draw_rigs
from rigmon.physics.several import courses
from rigmon.records import Composition, IceKind, RigPrior, SaltKind
from rigmon.review.designs import Design, Reach
from rigmon.review.tried import Tried

Array = NDArray[np.float64]

LONGEST_S = 3600.0
"""A mix that takes longer than this counts as taking so long [s]."""
STEP_S = 2.5
_WAIT_S = 15.0
"""Waiting times from ice to pour are told apart no finer than this [s]."""
_RATIOS, _ICES = 4, 3
"""Points of the grid on which the model is run; between them lies little curvature."""


def usual_self(memory: RigMemory) -> RigPrior:
    """What is known of the rig's usual self: its next run's prior without what days differ by."""
    prior = memory.prior
    covariance = np.array(prior.covariance)
    for one in memory.parameters:
        place = prior.names.index(one.name)
        covariance[place, place] -= math.log1p(one.days_pct / 100.0) ** 2 if memory.runs else 0.0
    return replace(prior, covariance=tuple(map(tuple, covariance.tolist())))


def drawn(memory: RigMemory, n: int, seed: int) -> Rigs:
    """So many rigs as this one may be."""
    return draw_rigs(n, seed, usual_self(memory))


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What the model makes of one batch on each of n rigs.

    Args:
        log_s: (n,) logarithm of the time from the pour to the frozen share [ln s].
        log_freezing_s: (n,) the same from the first percent on.
        bath_c: (n,) mean of the bath from the pour until then [°C].
        then_c: (n,) bath then [°C].
        melted_g: (n,) ice melted by then [g].
    """

    log_s: Array
    log_freezing_s: Array
    bath_c: Array
    then_c: Array
    melted_g: Array


def outcome(ran: Course, start: Start, frozen_pct: float) -> Outcome:
    """What a course comes to at a frozen share [%]."""
    took_s, begun_s = reached_s(ran, frozen_pct), reached_s(ran, 1.0)
    after = ran.t_s >= 0.0
    t, bath_c = ran.t_s[after], ran.bath_c[after]
    row = np.clip(np.searchsorted(t, took_s), 1, t.size - 1)
    each = np.arange(took_s.size)
    means = np.cumsum(bath_c, axis=0) / (np.arange(t.size) + 1.0)[:, None]
    dry_g = start.ice_g * (1.0 - start.wet_pct / 100.0)
    return Outcome(
        log_s=np.log(took_s),
        log_freezing_s=np.log(np.maximum(took_s - begun_s, STEP_S)),
        bath_c=means[row, each],
        then_c=bath_c[row, each],
        melted_g=dry_g - ran.ice_left_g[after][row, each],
    )


def reached_s(ran: Course, frozen_pct: float) -> Array:
    """(n,) time from the pour until a share is frozen [s], on straight lines; the longest if never.

    Beating goes on while it freezes on to the wall, so the first time counts.
    """
    after = ran.t_s >= 0.0
    t, frozen = ran.t_s[after], ran.frozen_pct[after]
    row = np.argmax(frozen >= frozen_pct, axis=0)
    each = np.arange(frozen.shape[1])
    ever, before = frozen[row, each] >= frozen_pct, np.maximum(row - 1, 0)
    rise = np.maximum(frozen[row, each] - frozen[before, each], 1e-9)
    share = np.clip((frozen_pct - frozen[before, each]) / rise, 0.0, 1.0)
    at_s = t[before] + share * (t[row] - t[before])
    return np.where(ever, np.clip(at_s, STEP_S, LONGEST_S), LONGEST_S)


@dataclass(frozen=True, slots=True)
class Case:
    """A batch that the model is asked about.

    Args:
        composition: what the mix is made of.
        start: what it starts from.
        frozen_pct: the share that it is timed to [%].
        about_s: about how long that takes [s].
    """

    composition: Composition
    start: Start
    frozen_pct: float
    about_s: float


def case_of(run: Tried) -> Case:
    """A run as it was made."""
    return Case(run.composition, run.start, run.frozen_pct, run.took_s)


def of_cases(cases: Sequence[Case], rigs: Rigs) -> list[Outcome]:
    """What the model makes of each batch; those that share mix and waiting time run together."""
    found: dict[int, Outcome] = {}
    groups: dict[tuple[Composition, float], list[int]] = {}
    for place, case in enumerate(cases):
        wait_s = _WAIT_S * round(case.start.wait_s / _WAIT_S)
        groups.setdefault((case.composition, wait_s), []).append(place)
    for (composition, wait_s), places in groups.items():
        group = [cases[place] for place in places]
        longest_s = min(max(2.0 * max(case.about_s for case in group), 900.0), LONGEST_S)
        asked = [(replace(case.start, wait_s=wait_s), rigs) for case in group]
        ran = courses(freezing_curve(composition), asked, longest_s, STEP_S)
        for place, case, of in zip(places, group, ran, strict=True):
            found[place] = outcome(of, case.start, case.frozen_pct)
    return [found[place] for place in range(len(cases))]


def of_starts(
    curve: FreezingCurve,
    starts: Sequence[Start],
    rigs: Rigs,
    frozen_pct: float,
    beating: Beating | None = None,
) -> list[Outcome]:
    """What the model makes of batches that share mix and waiting time, at one frozen share [%]."""
    ran = courses(curve, [(start, rigs) for start in starts], LONGEST_S, STEP_S, beating)
    return [outcome(of, start, frozen_pct) for start, of in zip(starts, ran, strict=True)]


def of_designs(
    curve: FreezingCurve, usual: Start, within: Reach, rigs: Rigs, frozen_pct: float
) -> Callable[[Design], Outcome]:
    """What the model makes of any amounts within a reach, for a batch like `usual`.

    The model is run on a few ratios and masses of ice; between them its logarithms of times, and
    its temperatures, are taken on straight lines over the logarithms of both.
    """
    ratios = np.geomspace(within.ratio[0], 1.05 * max(within.ratio), _RATIOS)
    ices = np.geomspace(0.99 * within.ice_g[0], 1.01 * max(within.ice_g), _ICES)
    corners = [
        Design(ice_g, ice_g / ratio, piece, grain)
        for piece, grain in within.kinds
        for ratio in ratios
        for ice_g in ices
    ]
    made = of_starts(curve, [one.on(usual) for one in corners], rigs, frozen_pct)
    names = list(Outcome.__slots__)
    stacked = np.array([[getattr(one, name) for name in names] for one in made])
    grids = stacked.reshape(len(within.kinds), _RATIOS, _ICES, len(names), rigs.n)
    read = {
        kind: RegularGridInterpolator((np.log(ratios), np.log(ices)), grid)
        for kind, grid in zip(within.kinds, grids, strict=True)
    }

    def at(design: Design) -> Outcome:
        place = np.log(np.clip([design.ratio, design.ice_g], *_ends(ratios, ices)))
        (values,) = read[_kind(design)](place[None, :])
        return Outcome(**dict(zip(names, values, strict=True)))

    return at


def _ends(ratios: Array, ices: Array) -> tuple[Array, Array]:
    least, most = np.array([ratios[0], ices[0]]), np.array([ratios[-1], ices[-1]])
    return least * (1.0 + 1e-12), most * (1.0 - 1e-12)


def _kind(design: Design) -> tuple[IceKind, SaltKind]:
    return design.ice_kind, design.salt_kind
