"""One drawn rig forecast in every way that is scored, and the scores of many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

import peers
from batches import Heard, Played, alone, feed_of, heard, misnamed, played, typed, wandering
from rigmon.physics.mix import freezing_curve
from rigmon.records import Event, Place, PlateauSetting, Reading
from rigmon.virtual.drawn import drawn_scenario
from scoring import Array, Figure, Times, filled, holds, over_rigs, part, pinball_s, ratio, told

SHARES = (0.25, 0.5, 0.75, 0.9)
MINUTES = (4, 6, 8, 10, 12)
BY_SHARE = tuple(f"{100 * share:.0f} %" for share in SHARES)
BY_CLOCK = tuple(f"{minutes} min" for minutes in MINUTES)
FIRST = "bath and mix probe"
TYPED = "typed every 2 min, sd 0.5 °C"
WAYS = {
    FIRST: feed_of,
    "wander of 0.2 °C more": wandering,
    "mix probe alone": lambda batch: alone(batch, Place.MIX),
    "bath probe alone": lambda batch: alone(batch, Place.BATH),
    "wrong recipe": misnamed,
    TYPED: typed,
}


@dataclass(frozen=True, slots=True)
class Rig:
    """One drawn rig's batch and what was forecast of it.

    Args:
        seed: all chance in it.
        pour_s: run time of the pour [s].
        plateau_s: true run time of the plateau [s]; None where there is none, or where the mix
            never stiffened as fast as a plateau asks for.
        begun_s: true run time at which ice first forms [s]; None where it never does.
        heard: what the monitor said, by what it was given.
        fitted: the plain fit's forecasts, by question.
        others_s: plateau times of other rigs [s from the pour].
    """

    seed: int
    pour_s: float
    plateau_s: float | None
    begun_s: float | None
    heard: Mapping[str, Heard]
    fitted: Mapping[str, Times]
    others_s: Sequence[float] = ()

    def questions(self) -> dict[str, float]:
        """Run times at which the plateau, still ahead, is asked for [s]."""
        return questions(self.pour_s, self.plateau_s)


def questions(pour_s: float, plateau_s: float | None) -> dict[str, float]:
    """Run times [s] at shares of the round and at minutes from the pour, by name."""
    if plateau_s is None:
        return {}
    since = plateau_s - pour_s
    clock = {name: 60.0 * m for name, m in zip(BY_CLOCK, MINUTES, strict=True) if 60.0 * m < since}
    share = {name: share * since for name, share in zip(BY_SHARE, SHARES, strict=True)}
    return {name: pour_s + at for name, at in {**share, **clock}.items()}


def rig_of(
    batch: Played, said: Mapping[str, Heard], plain: Mapping[str, Times] | None = None
) -> Rig:
    """A rig from its batch and what was said of it."""
    frozen = np.flatnonzero(batch.frozen_pct > 0.0)
    return Rig(
        batch.seed,
        batch.pour_s,
        batch.plateau_s if batch.stiffens else None,
        float(frozen[0]) if frozen.size else None,
        said,
        plain or {},
    )


def forecast(seed: int, ways: Sequence[str]) -> Rig:
    """Play a drawn rig's batch and forecast it in so many ways.

    What never has a plateau, or never stiffened, is forecast in the first way alone.
    """
    batch = played(drawn_scenario(seed), seed)
    if batch.plateau_s is None:
        return rig_of(batch, {})
    if not batch.stiffens:
        return rig_of(batch, {way: heard(batch, WAYS[way](batch)) for way in ways[:1]})
    return rig_of(batch, {way: heard(batch, WAYS[way](batch)) for way in ways}, _fitted(batch))


def _fitted(batch: Played) -> dict[str, Times]:
    composition = feed_of(batch).recipe.composition
    assert composition is not None
    plain = peers.CoolingCurve(freezing_curve(composition), PlateauSetting())
    readings = [
        (item.t, item.value)
        for item in batch.items
        if isinstance(item, Reading) and item.probe == "mix" and item.value is not None
    ]
    t, mix_c = np.array(readings).T
    asked = questions(batch.pour_s, batch.plateau_s)
    return {name: plain.times(t, mix_c, batch.pour_s, at) for name, at in asked.items()}


Forecaster = Callable[[Rig, str, float], Times]
"""Times of a rig's plateau, for a question's name and its run time [s]."""


def monitor(way: str = FIRST) -> Forecaster:
    """The monitor, given this."""
    return lambda rig, _, at_s: rig.heard[way].times(Event.PLATEAU, at_s)


def timer(rig: Rig, name: str, at_s: float) -> Times:
    """A kitchen timer."""
    return peers.timer(rig.pour_s)


def not_yet(rig: Rig, name: str, at_s: float) -> Times:
    """Other rigs that were not over by then."""
    p10, p50, p90 = (
        rig.pour_s + (value or 0.0) for value in peers.not_yet(at_s - rig.pour_s, rig.others_s)
    )
    return p10, p50, p90


def fitted(rig: Rig, name: str, at_s: float) -> Times:
    """The plain fit."""
    return rig.fitted[name]


PEERS: Mapping[str, Forecaster] = {
    "timer": timer,
    "not yet": not_yet,
    "exponential": fitted,
}


@dataclass(frozen=True, slots=True)
class Scores:
    """Forecasts against truths; sums over the questions of each rig.

    Args:
        asked: number of questions.
        loss_s: (n,) pinball losses [s].
        count: (n,) forecasts made.
        held: (n,) those whose interval held.
        parts: (n, 4) how many truths fell below p10, below p50, below p90, above.
    """

    asked: int
    loss_s: Array
    count: Array
    held: Array
    parts: Array

    @property
    def said(self) -> float:
        """Share of questions that had an answer."""
        return float(self.count.sum()) / max(self.asked, 1)

    def loss(self) -> Figure:
        """Mean loss [s]."""
        return over_rigs(ratio, self.loss_s, self.count)

    def holding(self) -> Figure:
        """Share of intervals that held."""
        return over_rigs(ratio, self.held, self.count)


def scores(
    rigs: Sequence[Rig], names: Sequence[str], mine: Forecaster, *besides: Forecaster
) -> Scores:
    """Score a forecaster on those questions that it and all others besides have answered."""
    asked = 0
    found = []
    for rig in rigs:
        questions = [(name, at) for name, at in rig.questions().items() if name in names]
        asked += len(questions)
        row = np.zeros(7)
        for name, at in questions:
            times = mine(rig, name, at)
            if not all(told(other(rig, name, at)) for other in (mine, *besides)):
                continue
            assert rig.plateau_s is not None
            three = filled(times, at)
            row[0] += pinball_s(three, rig.plateau_s)
            row[1] += 1.0
            row[2] += holds(three, rig.plateau_s)
            row[3 + part(three, rig.plateau_s)] += 1.0
        found.append(row)
    rows = np.array([row for row in found if row[1] > 0.0]).reshape(-1, 7)
    return Scores(asked, rows[:, 0], rows[:, 1], rows[:, 2], rows[:, 3:])


def against(
    rigs: Sequence[Rig], names: Sequence[str], mine: Forecaster, peer: Forecaster
) -> Figure:
    """Loss of a forecaster over that of a peer, on the questions that both have answered."""
    own, other = scores(rigs, names, mine, peer), scores(rigs, names, peer, mine)
    return over_rigs(ratio, own.loss_s, other.loss_s)


def jumps(rigs: Sequence[Rig], way: str = FIRST) -> tuple[int, int]:
    """How often the median moved by more than half its interval, and of how many refreshes."""
    moved = count = 0
    for rig in rigs:
        made = [one for one in rig.heard[way].forecasts.get(Event.PLATEAU, ()) if one.p50]
        for before, after in pairwise(made):
            p10, p50, p90 = filled((before.p10, before.p50, before.p90), before.at)
            count += 1
            moved += abs((after.p50 or 0.0) - p50) > 0.5 * (p90 - p10)
    return moved, count
