"""Amounts judged by a goal: what the next run with them would come to, and what they beat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from rigmon.physics.course import Start
from rigmon.review.designs import Design
from rigmon.review.evidence import BATH_SCATTER_K, Worlds
from rigmon.review.worlds import LONGEST_S, Outcome

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

MARGIN_MIN = 1.0
"""Time that is worth a change [min]."""
MARGIN_SHARE = 0.10
"""Share of the salt or the ice that is worth a change."""
SURE = 0.7
"""Below this probability there is no evidence (common practice, no source)."""
USUALLY = 0.8
"""Share of runs that must be in time, and need no recharge, for amounts to do."""
NO_RECHARGE = 0.9
"""The same of no recharge, where that is the goal."""
SLOWER = 1.1
"""Where no time was given, amounts do if they take no more than so many times the usual time."""
_TIE = 0.25
"""Amounts that differ by less than this share of a margin are alike; the cheaper ones go first."""


class Goal(StrEnum):
    """What the next batch is to be better at."""

    FASTEST = "fastest"
    LEAST_SALT = "least-salt"
    LEAST_ICE = "least-ice"
    SMOOTHEST = "smoothest"
    NO_RECHARGE = "no-recharge"


SPARING = frozenset({Goal.LEAST_SALT, Goal.LEAST_ICE, Goal.NO_RECHARGE})


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked for.

    Args:
        goal: what to be better at.
        target_pct: frozen share to be reached [% of the water]; None for what the runs reached.
        within_s: by when, from the pour [s]; None for about as soon as usual.
        beyond: whether amounts more than one step from what was tried may be suggested.
        same_grain: whether to keep to the kinds of ice and salt that were tried.
        seed: seed of all draws.
    """

    goal: Goal = Goal.FASTEST
    target_pct: float | None = None
    within_s: float | None = None
    beyond: bool = False
    same_grain: bool = False
    seed: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """Amounts over m worlds.

    Args:
        design: the amounts.
        took_s: (m,) usual time to the frozen share [s].
        cost: (m,) what the goal wants less of: minutes, or grams of salt, ice, or both.
        does: (m,) whether the amounts do at all.
        next_s: time of the next run: 10, 50 and 90 % quantile [s].
        lasts: chance that the bath needs no recharge before the share is reached.
        in_time: chance that the next run is in time; 1 where no time was set.
        reaches: share of the worlds in which the frozen share is reached in an hour.
        bath_c: (m,) bath as the share is reached [°C].
    """

    design: Design
    took_s: Array
    cost: Array
    does: Flags
    next_s: tuple[float, float, float]
    lasts: float
    in_time: float
    reaches: float
    bath_c: Array


@dataclass(frozen=True, slots=True, eq=False)
class Judge:
    """Judges amounts for one goal.

    Args:
        wish: what is asked for.
        worlds: how rig and kitchen may be.
        at: what the model makes of amounts.
        usual: what the next batch is like.
        limit_c: bath above which it no longer does its job [°C].
        usual_s: (m,) time that the usual amounts take [s].
        noise: (m,) standard normal numbers: the next run's day.
    """

    wish: Wish
    worlds: Worlds
    at: Callable[[Design], Outcome]
    usual: Start
    limit_c: float
    usual_s: Array
    noise: Array

    def judged(self, design: Design) -> Judged:
        """Amounts judged."""
        start, of, worlds = design.on(self.usual), self.at(design), self.worlds
        log_s = worlds.log_s(start, of, self.usual)
        took_s, then_c = np.exp(log_s), worlds.then_c(start, of, self.usual)
        next_s = np.exp(log_s + worlds.scatter * self.noise)
        stays = norm.cdf((self.limit_c - then_c) / BATH_SCATTER_K)
        within_s = self.wish.within_s
        if within_s is None:
            timely = took_s <= SLOWER * self.usual_s
        else:
            timely = log_s + norm.ppf(USUALLY) * worlds.scatter <= np.log(within_s)
        reached = of.log_s[worlds.rig] < np.log(LONGEST_S) - 1e-9
        goal = self.wish.goal
        lasting = stays >= (NO_RECHARGE if goal is Goal.NO_RECHARGE else USUALLY)
        does = reached & (timely & lasting if goal in SPARING else True)
        low, middle, high = np.quantile(next_s, (0.1, 0.5, 0.9))
        return Judged(
            design=design,
            took_s=took_s,
            cost=self._cost(design, start, of, took_s),
            does=does,
            next_s=(float(low), float(middle), float(high)),
            lasts=float(stays.mean()),
            in_time=1.0 if within_s is None else float(np.mean(next_s <= within_s)),
            reaches=float(reached.mean()),
            bath_c=then_c,
        )

    def _cost(self, design: Design, start: Start, of: Outcome, took_s: Array) -> Array:
        match self.wish.goal:
            case Goal.FASTEST:
                return took_s / 60.0
            case Goal.SMOOTHEST:
                log_s = self.worlds.log_freezing_s(start, of, self.usual)
                return np.asarray(np.exp(log_s) / 60.0)
            case Goal.LEAST_SALT:
                return np.full(took_s.size, design.salt_g)
            case Goal.LEAST_ICE:
                return np.full(took_s.size, design.ice_g)
            case Goal.NO_RECHARGE:
                return np.full(took_s.size, design.ice_g + design.salt_g)

    def margin(self, best: Judged) -> float:
        """What must be gained over the best so far to be worth a change, in the goal's own unit."""
        match self.wish.goal:
            case Goal.FASTEST | Goal.SMOOTHEST:
                return MARGIN_MIN
            case _:
                return MARGIN_SHARE * float(best.cost[0])

    def beats(self, one: Judged, best: Judged) -> Flags:
        """(m,) whether amounts are better than the best so far by the margin, on the same day."""
        saves = best.cost - one.cost >= self.margin(best) - 1e-9
        return np.asarray(one.does & (saves | ~best.does) & (one.design != best.design))

    def best(self, tried: Sequence[Judged]) -> Judged:
        """The best of what was tried: of those that most likely do, the one that costs least."""
        doing = [one for one in tried if one.does.mean() >= SURE]
        if not doing:
            return max(tried, key=lambda one: float(one.does.mean()))
        return min(doing, key=self._order)

    def pick(self, found: Sequence[Judged], best: Judged) -> Judged:
        """Of amounts that are good enough, the one to suggest."""
        least = min(float(one.cost.mean()) for one in found)
        near = least + _TIE * self.margin(best)
        alike = [one for one in found if float(one.cost.mean()) <= near]
        return min(alike, key=self._price)

    def _order(self, one: Judged) -> tuple[float, float, float]:
        return float(one.cost.mean()), *self._price(one)

    @staticmethod
    def _price(one: Judged) -> tuple[float, float]:
        return one.design.salt_g, one.design.ice_g
