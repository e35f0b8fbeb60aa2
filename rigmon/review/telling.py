"""Which further runs would tell, where the runs so far do not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from rigmon.physics.course import Start
from rigmon.records import BowlSetup
from rigmon.review.designs import ROUND_RATIO, Design, Reach, design_of, fits
from rigmon.review.evidence import BATH_SCATTER_K
from rigmon.review.judging import SURE, Judge

_MORE_RUNS = (2, 3, 4, 6, 8, 10)
_TELLS = 0.8
"""Further runs tell if they settle the matter in so many of the ways in which it may be."""
_IMAGINED = 60
_SHOW_SCATTER = 2


@dataclass(frozen=True, slots=True)
class Telling:
    """Further runs that would settle it.

    Args:
        runs: how many.
        ratios: ice to salt by mass, taken in turns.
        ice_g: ice in each [g].
        settles: in how many of the ways in which it may be they would settle it.
    """

    runs: int
    ratios: tuple[float, float]
    ice_g: float
    settles: float


def pairs(within: Reach, usual: Start, rig_bowls: BowlSetup) -> list[tuple[Design, Design]]:
    """Amounts at two ratios at least one step apart, all else as usual."""
    of = design_of(usual)
    low, high = within.ratio
    steps = range(math.ceil(low / ROUND_RATIO), math.floor(high / ROUND_RATIO) + 1)
    ratios = sorted({low, *(ROUND_RATIO * k for k in steps)})
    ice_g = min(max(of.ice_g, within.ice_g[0]), within.ice_g[1])
    fitting = [
        one
        for ratio in ratios
        if fits(one := replace(of, ice_g=ice_g, salt_g=ice_g / float(ratio)), usual, rig_bowls)
    ]
    return [
        pair for pair in combinations(fitting, 2) if pair[1].ratio - pair[0].ratio >= 1.0 - 1e-9
    ]


def settling(
    judge: Judge,
    beats: NDArray[np.bool_],
    pairs: Sequence[tuple[Design, Design]],
    seed: int,
) -> Telling | None:
    """The fewest further runs that would settle whether amounts beat the best so far.

    In some of the worlds the runs are imagined; every world then counts as much as it makes them
    likely, and the matter is settled if its probability goes over what is asked of a suggestion, or
    as far below.
    """
    worlds, rng = judge.worlds, np.random.default_rng((seed, 2))
    true = rng.choice(beats.size, _IMAGINED, replace=False)
    for runs in _MORE_RUNS:
        best: Telling | None = None
        for pair in pairs:
            seen = np.zeros((_IMAGINED, beats.size))
            for place, design in enumerate(pair):
                count = runs // 2 + (runs % 2) * (place == 0)
                start, of = design.on(judge.usual), judge.at(design)
                for what, sd in (
                    (worlds.log_s(start, of, judge.usual), worlds.scatter),
                    (
                        worlds.then_c(start, of, judge.usual),
                        np.full(beats.size, BATH_SCATTER_K),
                    ),
                ):
                    spread = sd / np.sqrt(count)
                    got = what[true] + spread[true] * rng.standard_normal(_IMAGINED)
                    seen -= 0.5 * ((got[:, None] - what) / spread) ** 2 + np.log(spread)
            weight = np.exp(seen - logsumexp(seen, axis=1, keepdims=True))
            then = weight @ beats
            settles = float(np.mean((then >= SURE) | (then <= 1.0 - SURE)))
            if best is None or settles > best.settles:
                ratios = pair[0].ratio, pair[1].ratio
                best = Telling(runs, ratios, pair[0].ice_g, settles)
        if best is not None and best.settles >= _TELLS:
            return best
    return None


def showing_scatter(within: Reach, usual: Start) -> Telling:
    """Where nothing is known of the scatter yet: as many runs as show it, at the reach's ends."""
    return Telling(_SHOW_SCATTER, within.ratio, usual.ice_g, 0.0)
