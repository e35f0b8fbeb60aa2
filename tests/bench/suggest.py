"""How good the suggestions are on rigs never seen: `python tests/bench/suggest.py [--quick]`.

Each virtual rig is run on eight days, twice: by a maker who does what rigmon suggests, and by one
who tries amounts at random. What either then holds best, what a quadratic response surface makes
of the second maker's runs, and the practice of 4 : 1, are held against the virtual rig's own best
within the same reach. rigmon sees what its probes see; the others are told the true times.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from forecast_skill import mapped
from kitchens import (
    kinds_of,
    kitchen,
    on_a_day,
    reached_min,
    setup_of,
    true_frozen,
    watched,
    with_design,
)
from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import remember
from rigmon.physics.course import Start
from rigmon.records import RigSetup, RunFit
from rigmon.review.designs import Design, candidates, most_ice_g
from rigmon.review.designs import Reach as Box
from rigmon.review.judging import Goal, Wish
from rigmon.review.suggesting import Suggestion, Verdict, suggest
from rigmon.review.tried import Tried
from rigmon.virtual.scenario import Scenario
from showing import heading, table

Array = NDArray[np.float64]

FIRST_SEED, WORKING_SEED = 12_000, 9_700
RUNS = 8
TARGETS_PCT = (20.0, 15.0, 10.0)
"""Frozen shares that are aimed at: the most that practice truly reaches in time [%]."""
_IN_TIME_MIN = 22.0
RATIOS = (3.3, 8.0)
"""Reach of the ratio in this bench."""
ICE_PER_MIX = (1.5, 3.5)
"""And of the ice, times the mix, as far as it fits."""
PRACTICE = 4.0, 2.5
"""Ice to salt, and ice to mix, of common practice."""
LATER = 1.25
"""The time by which the share must be reached where salt is to be spared, over the best time."""
_GRID = 6, 5
LATE_MIN = 0.5
"""Later than this is too late [min]."""
FLAT_MIN = 0.5
"""Where no amounts in reach save so much there is nothing to be gained [min]."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """What one way of choosing comes to on one rig.

    Args:
        minutes: true time with the amounts held fastest, over the least [min].
        salt_g: salt of the amounts held sparing enough, over the least that do [g].
        late_min: by how much those amounts are too late [min].
    """

    minutes: float
    salt_g: float
    late_min: float


@dataclass(frozen=True, slots=True)
class Odds:
    """A probability that was given, and the truth of it.

    Args:
        beats: the probability that amounts beat the best so far by a minute.
        did: whether they truly do.
        verdict: what came of it.
        after: after how many runs.
        most_min: true time that the best amounts in reach save over the best so far [min].
    """

    beats: float
    did: bool
    verdict: Verdict
    after: int
    most_min: float


@dataclass(frozen=True, slots=True)
class Found:
    """One rig.

    Args:
        seed: of the rig.
        chosen: by way of choosing.
        odds: every probability that was given on the way.
        least_min: the least time that is possible [min].
        same: true times with the ratios of the reach and the usual ice, least and most [min].
    """

    seed: int
    chosen: dict[str, Chosen]
    odds: tuple[Odds, ...]
    least_min: float
    same: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """The virtual rig's own times over ratio and ice, on the usual day.

    Args:
        of: the rig and its usual batch.
        target_pct: frozen share that is aimed at [%].
        ratios: ratios of the grid.
        ices: masses of ice of the grid [g].
        minutes: (ratios, ices) times [min].
    """

    of: Scenario
    target_pct: float
    ratios: Array
    ices: Array
    minutes: Array

    def at(self, design: Design) -> float:
        """Time with any amounts; on straight lines between the grid's logarithms [min]."""
        if (design.ice_kind, design.salt_kind) != kinds_of(self.of):
            return reached_min(*true_frozen(with_design(self.of, design)), self.target_pct)
        by_ice = [np.interp(np.log(design.ice_g), np.log(self.ices), row) for row in self.minutes]
        return float(np.interp(np.log(design.ratio), np.log(self.ratios), by_ice))


def target_of(of: Scenario, practice: Design) -> float | None:
    """The share that is aimed at; None for a rig that freezes next to nothing."""
    t, frozen = true_frozen(with_design(of, practice))
    reached = [share for share in TARGETS_PCT if reached_min(t, frozen, share) <= _IN_TIME_MIN]
    return max(reached, default=None)


def truth_of(of: Scenario, target_pct: float, ices: tuple[float, float]) -> Truth:
    """Play the whole grid."""
    ratios, masses = np.geomspace(*RATIOS, _GRID[0]), np.geomspace(*ices, _GRID[1])
    minutes = [
        [
            reached_min(*true_frozen(with_design(of, _design(of, ratio, ice_g))), target_pct)
            for ice_g in masses
        ]
        for ratio in ratios
    ]
    return Truth(of, target_pct, ratios, masses, np.array(minutes))


def _design(of: Scenario, ratio: float, ice_g: float) -> Design:
    return Design(ice_g, ice_g / ratio, *kinds_of(of))


def _rounded(of: Scenario, ratio: float, ice_g: float) -> Design:
    ice_g = round(ice_g, -2)
    one = _design(of, ratio, ice_g)
    return replace(one, salt_g=max(round(one.salt_g - 4.9, -1), 10.0))


def _ices(of: Scenario) -> tuple[float, float]:
    mix_g = float(of.plan.pour["mix_g"])
    usual = Start(mix_g, 1.0, 1.0, ice_kind=kinds_of(of)[0])
    most_g = min(ICE_PER_MIX[1] * mix_g, most_ice_g(RigSetup().bowls, usual))
    return ICE_PER_MIX[0] * mix_g, most_g


def one(seed: int, runs: int = RUNS) -> Found | None:
    """Everything on one rig; None if it freezes next to nothing."""
    of = kitchen(seed)
    ices = _ices(of)
    mix_g = float(of.plan.pour["mix_g"])
    practice = _rounded(of, PRACTICE[0], min(PRACTICE[1] * mix_g, ices[1]))
    target_pct = target_of(of, practice)
    if target_pct is None:
        return None
    truth = truth_of(of, target_pct, ices)
    least = float(truth.minutes.min())
    within_min = LATER * least
    box = Box(RATIOS, ices, (kinds_of(of),))
    allowed = candidates(box, Start(mix_g, 1.0, 1.0), RigSetup().bowls)
    in_time = [design for design in allowed if truth.at(design) <= within_min]
    spare_g = min(design.salt_g for design in in_time)
    chosen: dict[str, Chosen] = {}

    def judge(way: str, fastest: Design, sparing: Design) -> None:
        late = max(truth.at(sparing) - within_min, 0.0)
        chosen[way] = Chosen(truth.at(fastest) - least, sparing.salt_g - spare_g, late)

    judge("practice, 4 : 1", practice, practice)
    rng = default_rng((39, seed))
    designs = [
        _rounded(of, float(np.exp(rng.uniform(*np.log(RATIOS)))), float(rng.uniform(*ices)))
        for _ in range(runs)
    ]
    seen = [
        reached_min(
            *true_frozen(on_a_day(with_design(of, design), 100 * seed + day), 100 * seed + day),
            target_pct,
        )
        for day, design in enumerate(designs)
    ]
    tried = list(zip(designs, seen, strict=True))
    doing = [design for design, minutes in tried if minutes <= within_min]
    quickest = min(tried, key=lambda run: run[1])[0]
    judge(
        "best of random runs",
        quickest,
        min(doing, key=lambda design: design.salt_g) if doing else quickest,
    )
    surface = _surface(tried, allowed)
    doing = [
        design for design, minutes in zip(allowed, surface, strict=True) if minutes <= within_min
    ]
    top = allowed[int(np.argmin(surface))]
    judge("quadratic response surface", top, min(doing, key=lambda d: d.salt_g) if doing else top)
    fastest, sparing, odds = _by_suggestion(of, truth, seed, runs, within_min)
    judge("rigmon suggest", fastest, sparing)
    row = [truth.at(_design(of, ratio, ices[0] * 1.4)) for ratio in truth.ratios]
    return Found(seed, chosen, tuple(odds), least, (min(row), max(row)))


def _surface(tried: Sequence[tuple[Design, float]], allowed: Sequence[Design]) -> Array:
    """What a quadratic in ln ratio and ln ice, fitted to runs, makes of amounts [min]."""

    def terms(designs: Sequence[Design]) -> Array:
        x = np.log([design.ratio for design in designs])
        y = np.log([design.ice_g for design in designs])
        return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])

    known = terms([design for design, _ in tried])
    fitted, *_ = np.linalg.lstsq(known, np.log([minutes for _, minutes in tried]), rcond=1e-8)
    return np.exp(terms(allowed) @ fitted)


def _by_suggestion(
    of: Scenario, truth: Truth, seed: int, runs: int, within_min: float
) -> tuple[Design, Design, list[Odds]]:
    """Two runs of a maker's habit, then what is suggested; in the end the amounts held best."""
    rng = default_rng((40, seed))
    mix_g = float(of.plan.pour["mix_g"])
    ices = _ices(of)
    habit = float(rng.uniform(4.0, 7.0)), min(float(rng.uniform(2.0, 3.0)) * mix_g, ices[1])
    plan = [_rounded(of, *habit), _rounded(of, habit[0] - 0.5, habit[1])]
    setup = setup_of(of)
    fits: list[RunFit] = []
    heard: list[Tried] = []
    odds: list[Odds] = []
    wish = Wish(Goal.FASTEST, truth.target_pct, same_grain=True)
    said: Suggestion | None = None
    for day in range(runs):
        design = plan[day] if day < len(plan) else _next(of, said, plan[0], day)
        memory = remember(fits, PRIOR)
        number = 100 * seed + 50 + day
        run = watched(
            on_a_day(with_design(of, design), number), number, truth.target_pct, memory.prior
        )
        fits += [run.fit] if run.fit is not None else []
        heard += [run.tried] if isinstance(run.tried, Tried) else []
        if len(heard) >= len(plan):
            said = suggest(heard, remember(fits, PRIOR), setup, wish, with_levers=False)
            odds += _odds(said, truth, day + 1)
    if said is None:
        return plan[0], plan[0], odds
    spare = Wish(Goal.LEAST_SALT, truth.target_pct, within_s=60.0 * within_min, same_grain=True)
    sparing = suggest(heard, remember(fits, PRIOR), setup, spare, with_levers=False)
    return _held(said), _held(sparing), odds


def _held(said: Suggestion) -> Design:
    if said.verdict is Verdict.TRY and said.likeliest is not None:
        return said.likeliest.design
    return said.best.design


def _next(of: Scenario, said: Suggestion | None, habit: Design, day: int) -> Design:
    """What the maker who follows suggestions does on a day."""
    if said is None:
        return habit
    if said.verdict is Verdict.UNCLEAR and said.telling is not None:
        telling = said.telling
        return _rounded(of, telling.ratios[day % 2], telling.ice_g)
    return _held(said)


def _odds(said: Suggestion, truth: Truth, after: int) -> list[Odds]:
    if said.likeliest is None:
        return []
    best = truth.at(said.best.design)
    saved = best - truth.at(said.likeliest.design)
    within = candidates(said.reach, said.usual, RigSetup().bowls)
    alike = [one for one in within if (one.ice_kind, one.salt_kind) == kinds_of(truth.of)]
    most = best - min((truth.at(one) for one in alike), default=best)
    return [Odds(said.beats, saved >= said.margin, said.verdict, after, most)]


def tables(every: Sequence[Found | None], runs: int) -> None:
    """Print what came of it."""
    found = [one for one in every if one is not None]
    print(f"{len(found)} rigs, {runs} runs each; {len(every) - len(found)} rigs froze too little.")
    rows = []
    for way in found[0].chosen:
        mine = [rig.chosen[way] for rig in found]
        minutes = np.array([row.minutes for row in mine])
        late = np.array([row.late_min for row in mine])
        spare = [row.salt_g for row in mine if row.late_min <= LATE_MIN]
        too_late = late[late > LATE_MIN]
        rows.append(
            (
                way,
                f"{minutes.mean():.2f}",
                f"{np.quantile(minutes, 0.9):.2f}",
                f"{np.mean(spare):.0f}" if spare else "–",
                f"{100.0 * too_late.size / late.size:.0f} %",
                f"{too_late.mean():.1f}" if too_late.size else "–",
            )
        )
    over = "min over the least", "worst tenth", "g of salt over the least", "too late", "by min"
    table(("way of choosing", *over), rows)
    odds = [one for rig in found for one in rig.odds]
    bins = ((0.0, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.01))
    held = [(low, high, [one.did for one in odds if low <= one.beats < high]) for low, high in bins]
    print()
    table(
        ("chance given that it saves a minute", "times", "it did"),
        [
            (f"{100 * low:.0f} to {100 * min(high, 1.0):.0f} %", f"{len(did)}", _share(did))
            for low, high, did in held
            if did
        ],
    )
    flat = [one.verdict is not Verdict.TRY for one in odds if one.most_min < FLAT_MIN]
    print(f"\nNothing in reach truly saves {FLAT_MIN} min: {len(flat)} times; ", end="")
    print(f"not enough evidence was said in {_share(flat)} of them.")
    said = {verdict: sum(one.verdict is verdict for one in odds) for verdict in Verdict}
    print("; ".join(f"{verdict}: {count}" for verdict, count in said.items()))


def _share(of: Sequence[bool]) -> str:
    return f"{100.0 * sum(of) / len(of):.0f} %" if of else "–"


def main() -> None:
    """Play, choose, and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="two rigs, four runs, one core")
    parser.add_argument("--working", type=int, metavar="N", help="N rigs that may be looked at")
    options = parser.parse_args()
    rigs, runs, first, cores = 50, RUNS, FIRST_SEED, len(os.sched_getaffinity(0))
    if options.working:
        rigs, first = options.working, WORKING_SEED
    if options.quick:
        rigs, runs, first, cores = 2, 4, WORKING_SEED, 1
    heading(first)
    tables(mapped("rigs", partial(one, runs=runs), range(first, first + rigs), cores), runs)


if __name__ == "__main__":
    main()
