"""How good the forecasts are on rigs never seen: `python tests/bench/forecast_skill.py [--quick]`.

Virtual rigs, whose model is richer than the estimator's and another, are drawn at random, played
and fed to the monitor; nothing else forecasts. Truth is the virtual rig's own: when its mix off
the wall really stops stiffening if it is beaten on, and when the mean of its brine really crosses
the bath limit of the recipe.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from typing import TypeVar

import numpy as np

import othertables
import plateautables
from batches import feed_of, heard, played, weak_bath
from days import remembered
from later import later
from rigmon.virtual.drawn import drawn_scenario
from showing import heading
from skill import FIRST, POWER, SIGNALS, TYPED, WAYS, Rig, forecast
from speed import times_ms

Found = TypeVar("Found")

WORKING_SEED = 9000
"""Rigs from here on may be looked at while the estimator is worked on."""
KEPT_APART_SEED = 10_000
"""The hundred rigs from here on are for the table that is published, and for nothing else."""


@dataclass(frozen=True, slots=True)
class Size:
    """How much is played.

    Args:
        first_seed: of the drawn rigs.
        rigs: drawn rigs that are forecast in each of these ways.
        ways: what is known of them.
        signals: so many of them are also forecast with each further signal.
        others: further rigs of which only the plateau's time is taken, for the peer that knows
            other rigs.
        weak: batches whose bath gives out.
        later: batches that go on to a rest and a second round.
        days: rigs that are followed over many days.
        runs: numbers of earlier runs.
        alike: those of them whose days are also played with one recipe and its amounts.
        timed: batches that are timed.
        cores: how many are used at once.
    """

    first_seed: int
    rigs: int
    ways: tuple[str, ...]
    signals: int
    others: int
    weak: int
    later: int
    days: int
    runs: tuple[int, ...]
    alike: int
    timed: int
    cores: int


EARLIEST_S = 600.0
"""A bath that gives out sooner after the pour is none whose end could be forecast [s]."""

QUICK = Size(
    WORKING_SEED, 4, (FIRST, TYPED, POWER), 0, 8, 3, 0, 2, (1, 3), alike=0, timed=1, cores=1
)
FULL = Size(
    KEPT_APART_SEED,
    100,
    tuple(way for way in WAYS if way not in SIGNALS),
    30,
    0,
    30,
    60,
    40,
    (1, 3, 6),
    alike=30,
    timed=5,
    cores=len(os.sched_getaffinity(0)),
)


def asked_for() -> Size:
    """What the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="few rigs, one core, two minutes")
    parser.add_argument("--working", type=int, metavar="N", help="N rigs that may be looked at")
    options = parser.parse_args()
    if not options.working:
        return QUICK if options.quick else FULL
    n = int(options.working)
    less = {
        kind: min(n, getattr(FULL, kind))
        for kind in ("rigs", "signals", "weak", "later", "days", "alike")
    }
    return replace(FULL, first_seed=WORKING_SEED, **less)


def weak(seed: int) -> othertables.Crossed | None:
    """What was said of a batch whose bath gives out; None if it does not, or does so early."""
    batch = played(weak_bath(seed), seed)
    true_s, seen_s = batch.crossing_s(), batch.seen_crossing_s()
    if true_s is None or seen_s is None or min(true_s, seen_s) < batch.pour_s + EARLIEST_S:
        return None
    said = heard(batch, feed_of(batch), max(true_s, seen_s))
    return othertables.Crossed(true_s, seen_s, said)


def plateau_since_s(seed: int) -> float | None:
    """True plateau time of a drawn rig, from the pour [s]; None where there is none."""
    batch = played(drawn_scenario(seed), seed)
    known = batch.plateau_s is not None and batch.stiffens
    return batch.plateau_s - batch.pour_s if known and batch.plateau_s is not None else None


def with_others(rigs: Sequence[Rig], others_s: Sequence[float]) -> list[Rig]:
    """Each rig told of the plateau times of all the others."""
    since = {rig.seed: rig.plateau_s - rig.pour_s for rig in rigs if rig.plateau_s is not None}
    return [
        replace(rig, others_s=[*others_s, *(s for seed, s in since.items() if seed != rig.seed)])
        for rig in rigs
    ]


def mapped(what: str, do: Callable[[int], Found], seeds: Sequence[int], cores: int) -> list[Found]:
    """Do the same with many seeds, on so many cores, and tell stderr how far it is."""
    found: list[Found] = []
    began_s = time.monotonic()

    def keep(results: Iterable[Found]) -> None:
        for result in results:
            found.append(result)
            far = f"{what}: {len(found)} of {len(seeds)}, {time.monotonic() - began_s:.0f} s"
            print(f"\r{far} ", end="", file=sys.stderr, flush=True)

    if cores > 1:
        with get_context("spawn").Pool(cores) as pool:
            keep(pool.imap(do, seeds))
    else:
        keep(map(do, seeds))
    print(file=sys.stderr)
    return found


def main() -> None:
    """Play, forecast, and print the tables."""
    size = asked_for()
    first, cores = size.first_seed, size.cores
    heading(first)
    if cores == 1:
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    timed = []
    for seed in range(first, first + size.timed):
        batch = played(drawn_scenario(seed), seed)
        timed.append(times_ms(batch, feed_of(batch)))
    blocks, words = (np.concatenate(column) for column in zip(*timed, strict=True))

    def many(what: str, do: Callable[[int], Found], count: int, skip: int = 0) -> list[Found]:
        return mapped(what, do, range(first + skip, first + skip + count), cores)

    every = partial(forecast, ways=(*size.ways, *SIGNALS))
    rigs = many("rigs with further signals", every, size.signals)
    alone = partial(forecast, ways=size.ways)
    rigs += many("rigs", alone, size.rigs - size.signals, size.signals)
    others = many("other rigs", plateau_since_s, size.others, size.rigs)
    rigs = with_others(rigs, [s for s in others if s is not None])
    baths = [one for one in many("weak baths", weak, size.weak) if one is not None]
    rests = [one for one in many("rests", later, size.later) if one is not None]
    kinds = {"other mixes": (False, size.days), "the same mix": (True, size.alike)}
    days = {
        kind: many(kind, partial(remembered, runs=size.runs, alike=alike), count)
        for kind, (alike, count) in kinds.items()
        if count
    }
    plateautables.what_was_played(rigs, len(others))
    plateautables.plateau(rigs)
    plateautables.calibration(rigs)
    plateautables.told_more(rigs)
    plateautables.alarms(rigs)
    plateautables.other_ways(rigs)
    plateautables.memory(days)
    othertables.bath_limit(baths, size.weak)
    othertables.rests(rests, size.later)
    othertables.speed(blocks, words)
    othertables.reach(othertables.Measured(rigs, days, baths, rests, blocks, words))


if __name__ == "__main__":
    main()
