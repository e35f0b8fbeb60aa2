"""The next ratio, mass of ice and grain: by goal, with its odds, or why none is suggested."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product
from statistics import median

import numpy as np
from numpy.typing import NDArray

from rigmon.errors import UsageError
from rigmon.estimate.memory import RigMemory
from rigmon.physics.course import Start
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import RigSetup
from rigmon.review import evidence
from rigmon.review.designs import (
    Design,
    Reach,
    candidates,
    design_of,
    reach,
)
from rigmon.review.judging import SURE, Judge, Judged, Wish
from rigmon.review.levers import Lever, levers
from rigmon.review.telling import Telling, pairs, settling, showing_scatter
from rigmon.review.tried import LeftOut, Tried
from rigmon.review.worlds import Outcome, case_of, drawn, of_cases, of_designs

Array = NDArray[np.float64]

RIGS, WORLDS = 64, 600
"""Rigs and worlds that are drawn."""
NEWEST = 24
"""Older runs are not heard: the rig has drifted, and time is short."""
LEAST_RUNS = 2
"""Scatter shows in no fewer."""
USUAL_TARGET_PCT, LEAST_TARGET_PCT = 30.0, 10.0
_HARDLY = 0.3
"""Below this probability it is likely that nothing is to be gained."""


class Verdict(StrEnum):
    """What comes of it."""

    TRY = "try"
    STAY = "stay"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Against:
    """A run against the model.

    Args:
        run: id of the run.
        design: what went in.
        frozen_pct: the share that it is timed to [%].
        took_s: how long it took [s].
        model_s: how long the model has it take on this rig: 10, 50 and 90 % quantile [s].
        adjusted_s: how long it would have taken with the next batch's mix, room and target [s].
    """

    run: str
    design: Design
    frozen_pct: float
    took_s: float
    model_s: tuple[float, float, float]
    adjusted_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Suggestion:
    """What is suggested, and on what grounds.

    Args:
        wish: what was asked for.
        verdict: what comes of it.
        target_pct: frozen share that is aimed at [%].
        recipe: the mix that is reckoned with.
        usual: what the next batch is like, with the amounts that are usual.
        best: the best of what was tried.
        best_runs: runs that were made with it.
        likeliest: the amounts likeliest to beat it, suggested or not; None where none are in reach.
        beats: probability that they do, by the margin.
        margin: that, in minutes or grams.
        telling: runs that would settle it; None if it is settled or none would.
        levers: what else would save time, best first.
        ratio_saves_min: what the best ratio in reach saves with all else as it is: 10, 50 and 90 %
            quantile [min].
        scatter_pct: how runs scatter: 10, 50 and 90 % quantile [%].
        against: the runs against the model.
        left_out: runs that were not heard, and why.
        reach: the amounts that could be suggested.
        extrapolates: no run froze as much as is aimed at.
    """

    wish: Wish
    verdict: Verdict
    target_pct: float
    recipe: str
    usual: Start
    best: Judged
    best_runs: tuple[str, ...]
    likeliest: Judged | None
    beats: float
    margin: float
    telling: Telling | None
    levers: tuple[Lever, ...]
    ratio_saves_min: tuple[float, float, float]
    scatter_pct: tuple[float, float, float]
    against: tuple[Against, ...]
    left_out: tuple[LeftOut, ...]
    reach: Reach
    extrapolates: bool


def target_of(runs: Sequence[Tried], wish: Wish) -> float:
    """The frozen share that is aimed at [%]: as asked, else what half of the runs were timed to."""
    if wish.target_pct is not None:
        return wish.target_pct
    half = math.floor(median(run.frozen_pct for run in runs) / 5.0)
    return min(max(5.0 * half, LEAST_TARGET_PCT), USUAL_TARGET_PCT)


def usual_batch(runs: Sequence[Tried]) -> Start:
    """What the next batch is like: the newest run's mix, the usual amounts, the middle of the rest.

    The usual amounts are those made most often, the newest of them where several are.
    """
    newest = max(runs, key=lambda run: run.started_unix)
    counts = Counter(design_of(run.start) for run in runs)
    often = max(runs, key=lambda run: (counts[design_of(run.start)], run.started_unix))
    starts = [run.start for run in runs]
    return replace(
        often.start,
        mix_g=newest.start.mix_g,
        mix_c=median(one.mix_c for one in starts),
        room_c=median(one.room_c for one in starts),
        ice_c=median(one.ice_c for one in starts),
        wet_pct=median(one.wet_pct for one in starts),
        wait_s=median(one.wait_s for one in starts),
    )


def suggest(
    runs: Sequence[Tried],
    memory: RigMemory,
    setup: RigSetup,
    wish: Wish,
    left_out: Sequence[LeftOut] = (),
    *,
    with_levers: bool = True,
) -> Suggestion:
    """The next ratio, mass of ice and grain.

    Args:
        runs: what was tried, in any order.
        memory: what has been learned of the rig.
        setup: its bowls and bath limit.
        wish: what is asked for.
        left_out: runs that could not be heard.
        with_levers: whether the other levers are looked at as well.

    Raises:
        UsageError: no run can be heard.
    """
    if not runs:
        raise UsageError(_none(left_out))
    ranked = sorted(runs, key=lambda run: run.started_unix)[-NEWEST:]
    newest, usual, target_pct = ranked[-1], usual_batch(ranked), target_of(ranked, wish)
    curve = freezing_curve(newest.composition)
    rigs = drawn(memory, RIGS, wish.seed)
    within = reach(ranked, usual, setup.bowls, beyond=wish.beyond, same_grain=wish.same_grain)
    at = of_designs(curve, usual, _widened(within, ranked), rigs, target_pct)
    made = of_cases([case_of(run) for run in ranked], rigs)
    corners = [at(design) for design in _corners(within, usual)]
    kappa = evidence.worth_of_a_kelvin(corners)
    worlds = evidence.heard(ranked, made, usual, kappa, WORLDS, wish.seed)
    usual_design = design_of(usual)
    usual_s = np.exp(worlds.log_s(usual, at(usual_design), usual))
    limit_c = setup.bath.limit_c
    judge = Judge(
        wish=wish,
        worlds=worlds,
        at=at,
        usual=usual,
        limit_c=bath_limit_c(curve) if limit_c is None else limit_c,
        usual_s=usual_s,
        noise=np.random.default_rng((wish.seed, 1)).standard_normal(WORLDS),
    )
    tried = [judge.judged(one) for one in dict.fromkeys(design_of(run.start) for run in ranked)]
    best = judge.best(tried)
    found = [judge.judged(one) for one in candidates(within, usual, setup.bowls)]
    likeliest, beats, verdict = _judged(judge, found, best, len(ranked))
    telling = None
    if verdict is Verdict.UNCLEAR and likeliest is not None:
        between = pairs(within, usual, setup.bowls)
        telling = settling(judge, judge.beats(likeliest, best), between, wish.seed)
        if telling is None and len(ranked) < LEAST_RUNS:
            telling = showing_scatter(within, usual)
    return Suggestion(
        wish=wish,
        verdict=verdict,
        target_pct=target_pct,
        recipe=newest.recipe,
        usual=usual,
        best=best,
        best_runs=tuple(run.run for run in ranked if design_of(run.start) == best.design),
        likeliest=likeliest,
        beats=beats,
        margin=judge.margin(best),
        telling=telling,
        levers=levers(curve, best.design.on(usual), rigs, worlds, target_pct, setup.bowls)
        if with_levers
        else (),
        ratio_saves_min=_ratio_saves(judge, best, found),
        scatter_pct=worlds.scatter_pct,
        against=_against(ranked, made, worlds, judge),
        left_out=tuple(left_out),
        reach=within,
        extrapolates=all(run.frozen_pct < target_pct for run in ranked),
    )


def _judged(
    judge: Judge, found: Sequence[Judged], best: Judged, runs: int
) -> tuple[Judged | None, float, Verdict]:
    """The amounts likeliest to beat the best so far, how likely that is, and what comes of it."""
    odds = {id(one): float(judge.beats(one, best).mean()) for one in found}
    sure = [one for one in found if odds[id(one)] >= SURE]
    if sure:
        picked = judge.pick(sure, best)
        verdict = Verdict.TRY if runs >= LEAST_RUNS else Verdict.UNCLEAR
        return picked, odds[id(picked)], verdict
    likeliest = max(found, key=lambda one: odds[id(one)], default=None)
    beats = 0.0 if likeliest is None else odds[id(likeliest)]
    settled = runs >= LEAST_RUNS and beats < _HARDLY
    return likeliest, beats, Verdict.STAY if settled else Verdict.UNCLEAR


def _none(left_out: Sequence[LeftOut]) -> str:
    if not left_out:
        return "The log holds no run of this rig: two with ice, salt and mix told are the least"
    reasons = "; ".join(f"{one.run}: {one.why}" for one in left_out[:3])
    return f"No run of this rig can be held against others ({reasons})"


def _widened(within: Reach, runs: Sequence[Tried]) -> Reach:
    """The reach with everything that was tried, over which the model is run."""
    ratios = [*within.ratio, *(run.ratio for run in runs)]
    ices = [*within.ice_g, *(run.start.ice_g for run in runs)]
    kinds = [*within.kinds, *((run.start.ice_kind, run.start.salt_kind) for run in runs)]
    return replace(
        within,
        ratio=(min(ratios), max(ratios)),
        ice_g=(min(ices), max(ices)),
        kinds=tuple(dict.fromkeys(kinds)),
    )


def _corners(within: Reach, usual: Start) -> list[Design]:
    of = design_of(usual)
    return [
        replace(of, ice_g=ice_g, salt_g=ice_g / ratio)
        for ratio, ice_g in product(np.geomspace(*within.ratio, 3), within.ice_g)
    ]


def _ratio_saves(judge: Judge, best: Judged, found: Sequence[Judged]) -> tuple[float, float, float]:
    """What the best ratio in reach saves, with ice and grain as in the best so far [min]."""
    same = [
        one.design
        for one in found
        if (one.design.ice_kind, one.design.salt_kind)
        == (best.design.ice_kind, best.design.salt_kind)
    ]
    ratios = {
        round(one.ratio, 1): replace(best.design, salt_g=best.design.ice_g / one.ratio)
        for one in same
    }
    times = [judge.judged(one).took_s for one in ratios.values()]
    if not times:
        return 0.0, 0.0, 0.0
    quickest = min(times, key=lambda took_s: float(took_s.mean()))
    low, middle, high = np.quantile((best.took_s - quickest) / 60.0, (0.1, 0.5, 0.9))
    return float(low), float(middle), float(high)


def _against(
    runs: Sequence[Tried], made: Sequence[Outcome], worlds: evidence.Worlds, judge: Judge
) -> tuple[Against, ...]:
    found = []
    for run, of in zip(runs, made, strict=True):
        log_s = worlds.log_s(run.start, of, judge.usual)
        like = run.start.ice_g, run.start.salt_g
        same = judge.judged(replace(design_of(run.start), ice_g=like[0], salt_g=like[1]))
        ratio = np.median(np.log(same.took_s) - log_s)
        low, middle, high = np.exp(
            np.quantile(log_s + worlds.scatter * judge.noise, (0.1, 0.5, 0.9))
        )
        found.append(
            Against(
                run=run.run,
                design=design_of(run.start),
                frozen_pct=run.frozen_pct,
                took_s=run.took_s,
                model_s=(float(low), float(middle), float(high)),
                adjusted_s=float(run.took_s * np.exp(ratio)),
            )
        )
    return tuple(found)
