"""Several runs brought to common conditions by the model of the rig.

What a run took is taken times the ratio of what the model of its rig says for the common conditions
and for the run's own. Ratio and mass of the ice stay each run's own, and so does how it was beaten:
they are what one wants to see. Mix, waiting time, room, grain and form of the ice become common.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from rigmon.estimate.memory import RigMemory
from rigmon.physics.course import Course, Start
from rigmon.physics.mix import freezing_curve
from rigmon.physics.rigparameters import Rigs, draw_rigs
from rigmon.physics.several import courses
from rigmon.records import Composition
from rigmon.review.measures import Measures, Span
from rigmon.review.spans import P90
from rigmon.review.starts import started

MOST_RUNS = 40
"""More runs than this are shown as they were: the model would take too long."""
SHORT_OF_END = 0.85
"""Runs are timed to no more than this share of what they froze: near its end the mix hardly
stiffens any more, and a point of frozen share more or less is many minutes."""
LEAST_PCT = 5.0
DAYS_LOG_SD = 0.12
"""By how much times of one rig differ from day to day, as a logarithm (common practice, no source:
10 to 20 %)."""
_RIGS = 16
_STEP_S, _LONGEST_S, _WAIT_S = 2.5, 3600.0, 15.0


@dataclass(frozen=True, slots=True)
class Common:
    """What all runs are brought to.

    Args:
        frozen_pct: the share that they are timed to [%].
        start: mix, waiting time, room and kinds; its ice and salt stand for nothing.
        recipe: name of the mix.
    """

    frozen_pct: float
    start: Start
    recipe: str


@dataclass(frozen=True, slots=True)
class Adjusted:
    """One run's time to the common share.

    Args:
        took_s: as it was, from the pour [s]; None where it did not get there.
        common_s: under the common conditions, with what days of one rig differ by [s]; None where
            that cannot be said.
        why: why it cannot be said, or "".
    """

    took_s: float | None = None
    common_s: Span | None = None
    why: str = ""


def adjustable(measured: Measures) -> Start | None:
    """What a run started from, its wait in steps that several runs share."""
    start = started(measured)
    if start is None:
        return None
    waited_s = min(max(start.wait_s, 0.0), 1800.0)
    return replace(start, wait_s=_WAIT_S * round(waited_s / _WAIT_S))


def common_of(runs: Sequence[Measures]) -> Common | None:
    """What some runs are brought to: the middle of each; None where too few can be."""
    starts = [start for run in runs if (start := adjustable(run)) is not None]
    reached = [
        most
        for run in runs
        if adjustable(run) is not None and (most := _most_pct(run)) * SHORT_OF_END >= LEAST_PCT
    ]
    if len(reached) < 2:
        return None
    kinds = Counter((start.ice_kind, start.salt_kind) for start in starts).most_common(1)[0][0]
    start = Start(
        mix_g=median(one.mix_g for one in starts),
        ice_g=median(one.ice_g for one in starts),
        salt_g=median(one.salt_g for one in starts),
        mix_c=median(one.mix_c for one in starts),
        ice_kind=kinds[0],
        salt_kind=kinds[1],
        ice_c=median(one.ice_c for one in starts),
        room_c=median(one.room_c for one in starts),
        wait_s=_WAIT_S * round(median(one.wait_s for one in starts) / _WAIT_S),
    )
    recipe = Counter(run.recipe for run in runs).most_common(1)[0][0]
    return Common(float(int(SHORT_OF_END * min(reached))), start, recipe)


def adjusted(
    runs: Sequence[Measures],
    common: Common,
    mixes: Mapping[str, Composition],
    memories: Mapping[tuple[str, bool], RigMemory],
) -> list[Adjusted]:
    """Runs brought to common conditions.

    Args:
        runs: the runs.
        common: the conditions.
        mixes: what the mix of each run is made of, by its id.
        memories: what has been learned of each rig, by its id and whether it is a virtual one.
    """
    rigs = {key: draw_rigs(_RIGS, 0, memory.prior) for key, memory in memories.items()}
    recipe = next((mixes[run.run] for run in runs if run.recipe == common.recipe
                   and run.run in mixes), None)  # fmt: skip
    found: list[Adjusted] = []
    own: dict[tuple[Composition, float], list[tuple[Start, Rigs]]] = {}
    for run in runs:
        start = adjustable(run)
        took_s = reached_after_s(run, common.frozen_pct)
        why = _why_not(run, start, took_s, mixes)
        found.append(Adjusted(took_s, None, why))
        if why or start is None or recipe is None:
            continue
        alike = replace(common.start, ice_g=start.ice_g, salt_g=start.salt_g, water_g=start.water_g)
        rig = rigs[run.rig, run.virtual]
        for composition, asked in ((mixes[run.run], start), (recipe, alike)):
            own.setdefault((composition, asked.wait_s), []).append((asked, rig))
    times = {key: _times(key, several, common.frozen_pct) for key, several in own.items()}
    done: list[Adjusted] = []
    for run, one in zip(runs, found, strict=True):
        start = adjustable(run)
        if one.why or one.took_s is None or start is None or recipe is None:
            done.append(one)
            continue
        as_it_was = times[mixes[run.run], start.wait_s].pop(0)
        as_all = times[recipe, common.start.wait_s].pop(0)
        log = np.log(as_all / as_it_was)
        middle_s = one.took_s * math.exp(float(np.median(log)))
        wide = math.exp(P90 * math.hypot(float(np.std(log)), DAYS_LOG_SD))
        done.append(replace(one, common_s=Span(middle_s / wide, middle_s, middle_s * wide)))
    return done


def _times(
    key: tuple[Composition, float], asked: list[tuple[Start, Rigs]], frozen_pct: float
) -> list[np.ndarray]:
    ran = courses(freezing_curve(key[0]), asked, _LONGEST_S, _STEP_S)
    return [_reached_s(one, frozen_pct) for one in ran]


def _reached_s(of: Course, frozen_pct: float) -> np.ndarray:
    """(n,) time from the pour until a share is frozen [s]; the longest if never."""
    after = of.t_s >= 0.0
    t, share = of.t_s[after], of.frozen_pct[after]
    return np.array(
        [
            float(np.interp(frozen_pct, np.maximum.accumulate(column), t))
            if column.max() >= frozen_pct
            else _LONGEST_S
            for column in share.T
        ]
    )


def reached_after_s(run: Measures, frozen_pct: float) -> float | None:
    """Time from the pour until a share of the water was first frozen [s]; None if never."""
    before: tuple[float, float] | None = None
    for point in run.course:
        share = point.frozen_pct
        if share is None or point.after_s < 0.0:
            continue
        if share >= frozen_pct:
            if before is None or share == before[1]:
                return point.after_s
            part = (frozen_pct - before[1]) / (share - before[1])
            return before[0] + part * (point.after_s - before[0])
        before = point.after_s, share
    return None


def _most_pct(run: Measures) -> float:
    return max((one.frozen_pct for one in run.course if one.frozen_pct is not None), default=0.0)


def _why_not(
    run: Measures, start: Start | None, took_s: float | None, mixes: Mapping[str, Composition]
) -> str:
    if start is None:
        return "mix, ice or salt not weighed"
    if run.run not in mixes:
        return "no recipe"
    if took_s is None:
        return "never frozen so far"
    recharged = [at_s for at_s in run.bath.recharges if at_s > (run.poured_s or 0.0)]
    if recharged and recharged[0] < (run.poured_s or 0.0) + took_s:
        return "recharged before"
    return ""
