"""What a round's first minutes could tell: `python tests/bench/reachable.py [--quick]`.

A plain regression is taught the plateau's time by hundreds of the very virtual rigs that the
forecasts are judged on, with their true plateaus; no estimator of a kitchen's rig has such a
teacher. It sees what a maker says and what both probes read until then. What it gains over the
plateaus of all those rigs is about what readings and amounts hold, and what it gains by a rig's
earlier days about what a memory can.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from typing import TypeVar

import numpy as np

from batches import Played, played
from days import day_of
from rigmon.records import IceKind, SaltKind
from rigmon.virtual.drawn import RECIPES, drawn_scenario
from scoring import LEVELS, Array, over_rigs, pinball_s, ratio
from showing import heading, is_quick, table

Asked = TypeVar("Asked")

FIRST_SEED = 20_000
RIGS, DAYS = 500, 60
MINUTES = (4, 6, 8, 10, 12)
TAUGHT_AT = 8
"""Minutes from the pour at which a rig's days are forecast."""
EARLIER = 3
"""Earlier days of a rig."""
LOOKING_BACK = 20
"""Minutes from the pour that are read on each of them: the usual round is over by then."""
_WINDOW_S = 30.0
_FOLDS = 10
_RIDGES = (3.0, 10.0, 30.0, 100.0, 300.0, 1000.0)
_FEW = 5


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as the regression sees it.

    Args:
        seen: what is said and read by each of `MINUTES`, then by `LOOKING_BACK`.
        plateau_s: true plateau [s from the pour]; None where there is none.
    """

    seen: tuple[tuple[float, ...], ...]
    plateau_s: float | None


def batch_of(batch: Played) -> Batch:
    """What the regression sees of a batch."""
    said = _said(batch)
    plateau = batch.plateau_s - batch.pour_s if batch.plateau_s and batch.stiffens else None
    by = (*MINUTES, LOOKING_BACK)
    return Batch(tuple((*said, *_read(batch, 60.0 * minutes)) for minutes in by), plateau)


def _said(batch: Played) -> tuple[float, ...]:
    plan, recipe = batch.scenario.plan, batch.scenario.recipe
    ice, pour = plan.ice_in, plan.pour
    ice_g, salt_g, mix_g = float(ice["ice_g"]), float(ice["salt_g"]), float(pour["mix_g"])
    return (
        np.log(ice_g / mix_g),
        np.log(ice_g / salt_g),
        np.log(mix_g),
        float(pour["mix_c"]),
        float(ice["ice_c"]),
        plan.pour_s,
        plan.slow_s,
        float(ice["ice_kind"] == IceKind.CRUSHED),
        *(float(ice["salt_kind"] == kind) for kind in (SaltKind.FINE, SaltKind.ROCK)),
        *(float(recipe == name) for name in RECIPES[1:]),
    )


def _read(batch: Played, until_s: float) -> tuple[float, ...]:
    ends = np.arange(_WINDOW_S, until_s + 1.0, _WINDOW_S) + batch.pour_s
    found: list[float] = []
    for probe in ("bath", "mix"):
        t, c = batch.read(probe)
        for end in ends:
            within = (t >= end - _WINDOW_S) & (t < end)
            found.append(float(np.median(c[within])) if within.any() else np.nan)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Line:
    """A ridge regression of the logarithm of the plateau's time."""

    middle: Array
    scale: Array
    slopes: Array
    level: float

    def at(self, seen: Array) -> Array:
        """(n,) logarithms for (n, k) of what is seen."""
        known = np.where(np.isnan(seen), self.middle, seen)
        return np.asarray(self.level + (known - self.middle) / self.scale @ self.slopes)


def taught(seen: Array, log_s: Array, ridge: float) -> Line:
    """A regression by (n, k) of what is seen and (n,) logarithms of the plateau's time."""
    middle, scale = np.nanmean(seen, axis=0), np.nanstd(seen, axis=0) + 1e-9
    known = (np.where(np.isnan(seen), middle, seen) - middle) / scale
    normal = known.T @ known + ridge * np.eye(known.shape[1])
    level = float(log_s.mean())
    return Line(middle, scale, np.linalg.solve(normal, known.T @ (log_s - level)), level)


def best_taught(seen: Array, log_s: Array) -> tuple[float, Array]:
    """The ridge that foretells the best what was held back, and (n,) what it then foretells."""
    fold = np.random.default_rng(1).permutation(log_s.size) % _FOLDS
    found = []
    for ridge in _RIDGES:
        told = np.empty(log_s.size)
        for part in range(_FOLDS):
            kept = fold != part
            told[~kept] = taught(seen[kept], log_s[kept], ridge).at(seen[~kept])
        found.append((float(np.std(log_s - told)), ridge, told))
    _, ridge, told = min(found, key=lambda one: one[0])
    return ridge, told


def losses_s(told: Array, off: Array, log_s: Array, from_s: float) -> Array:
    """(n,) pinball loss of what is foretold, spread as the others were off [s]."""
    found = []
    for n in range(log_s.size):
        times = np.exp(told[n] + np.delete(off, n) if off.size == log_s.size else told[n] + off)
        ahead = times[times > from_s]
        times = ahead if ahead.size >= _FEW else times
        found.append(pinball_s(np.quantile(times, LEVELS).tolist(), float(np.exp(log_s[n]))))
    return np.array(found)


def of_readings(batches: Sequence[Batch]) -> None:
    """Loss at minutes from the pour against the plateaus of all the others."""
    rows = []
    for place, minutes in enumerate(MINUTES):
        from_s = 60.0 * minutes
        ahead = [b for b in batches if b.plateau_s is not None and b.plateau_s > from_s]
        seen = np.array([b.seen[place] for b in ahead])
        log_s = np.log([b.plateau_s or 0.0 for b in ahead])
        _, told = best_taught(seen, log_s)
        mine = losses_s(told, log_s - told, log_s, from_s)
        level = np.full(log_s.size, log_s.mean())
        theirs = losses_s(level, log_s - level, log_s, from_s)
        rows.append(
            (
                f"{minutes} min",
                str(len(ahead)),
                f"{np.std(log_s):.3f}",
                f"{np.std(log_s - told):.3f}",
                f"{mine.mean():.0f}",
                over_rigs(ratio, mine, theirs).text(),
            )
        )
    table(("plateau", "rigs", "sd of ln", "sd left", "loss s", '/ "not yet"'), rows)


def of_days(
    batches: Sequence[Batch], rigs: Sequence[Sequence[Batch]], kind: str
) -> tuple[str, ...]:
    """What the true plateaus of a rig's earlier days are worth on its day 0."""
    from_s = 60.0 * TAUGHT_AT
    known = [b for b in batches if b.plateau_s is not None and b.plateau_s > from_s]
    log_s = np.log([b.plateau_s or 0.0 for b in known])
    ahead, back = (_line(known, log_s, place) for place in (MINUTES.index(TAUGHT_AT), -1))
    whole = [days for days in rigs if all(d.plateau_s and d.plateau_s > from_s for d in days)]
    truths = np.log([[d.plateau_s or 0.0 for d in days] for days in whole])
    told, read = (
        np.array([line.at(np.array([d.seen[place] for d in days])) for days in whole])
        for line, place in ((ahead, MINUTES.index(TAUGHT_AT)), (back, -1))
    )
    off = truths - told
    within = float(np.mean(np.var(off, axis=1, ddof=1)))
    between = max(float(np.var(off.mean(axis=1), ddof=1)) - within / off.shape[1], 0.0)
    first = losses_s(told[:, 0], off[:, 0], truths[:, 0], from_s)
    ratios = []
    for earlier in (off[:, 1:].mean(axis=1), (read - told)[:, 1:].mean(axis=1)):
        moved = told[:, 0] + _leave_one_out(earlier, off[:, 0])
        later = losses_s(moved, truths[:, 0] - moved, truths[:, 0], from_s)
        ratios.append(over_rigs(ratio, later, first).text())
    sds = f"{np.sqrt(between):.3f}", f"{np.sqrt(within):.3f}"
    return kind, str(len(whole)), *sds, *ratios


def _line(known: Sequence[Batch], log_s: Array, place: int) -> Line:
    seen = np.array([b.seen[place] for b in known])
    return taught(seen, log_s, best_taught(seen, log_s)[0])


def _leave_one_out(earlier: Array, off: Array) -> Array:
    """(n,) what is foretold of `off` by `earlier`, on a line through the other rigs."""
    found = []
    for place in range(off.size):
        slope, level = np.polyfit(np.delete(earlier, place), np.delete(off, place), 1)
        found.append(level + slope * earlier[place])
    return np.array(found)


def drawn(seed: int) -> Batch:
    """A drawn rig's batch."""
    return batch_of(played(drawn_scenario(seed), seed))


def day(rig_and_day: tuple[int, int], *, alike: bool) -> Batch:
    """A day of a drawn rig."""
    seed, number = rig_and_day
    return batch_of(played(day_of(seed, number, alike=alike), 1000 * seed + number))


def mapped(do: Callable[[Asked], Batch], asked: Sequence[Asked]) -> list[Batch]:
    """Play many batches on all cores."""
    with get_context("spawn").Pool(len(os.sched_getaffinity(0))) as pool:
        return pool.map(do, asked, chunksize=4)


def main() -> None:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading(FIRST_SEED)
    count, followed = (60, 0) if quick else (RIGS, DAYS)
    batches = mapped(drawn, range(FIRST_SEED, FIRST_SEED + count))
    of_readings(batches)
    print(f"""
Taught by nine tenths of {count} drawn rigs at a time, asked of the rest. "Not yet": the plateaus of
all the other rigs that are not over by then.
""")
    if not followed:
        return
    numbers = range(EARLIER + 1)
    rows = []
    for alike in (False, True):
        seeds = range(FIRST_SEED, FIRST_SEED + followed)
        asked = [(seed, number) for seed in seeds for number in numbers]
        days = mapped(partial(day, alike=alike), asked)
        rigs = [days[n : n + len(numbers)] for n in range(0, len(days), len(numbers))]
        kind = "one recipe and its amounts" if alike else "each day its own batch"
        rows.append(of_days(batches, rigs, kind))
    head = (
        f"{EARLIER} earlier days",
        "rigs",
        "sd of rigs",
        "sd of days",
        "/ first run: true plateaus",
        "as read",
    )
    table(head, rows)
    print(f"""
Asked {TAUGHT_AT} min after the pour, by the same regression put right by how far off it was on the
rig's earlier days, on a line through the other rigs. True plateaus: those days' are told. As read:
a regression so taught says them by all that was read in {LOOKING_BACK} min.
""")


if __name__ == "__main__":
    main()
