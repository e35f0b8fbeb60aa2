"""One drawn rig forecast in every way that is scored, and the scores of many."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

import peers
from batches import (
    USUAL,
    Feed,
    Heard,
    Played,
    feed_of,
    heard,
    misnamed,
    only,
    played,
    typed,
    wandering,
    with_signals,
)
from rigmon.estimate.amounts import amounts_of
from rigmon.estimate.expected import expected_plateau
from rigmon.physics.mix import freezing_curve
from rigmon.records import Event, Mark, MarkWord, PlateauSetting
from rigmon.virtual.drawn import drawn_scenario
from scoring import (
    DECILES,
    Array,
    Figure,
    Times,
    filled,
    holds,
    over_rigs,
    part,
    pinball_s,
    ratio,
    told,
)

SHARES = (0.25, 0.5, 0.75, 0.9)
MINUTES = (4, 6, 8, 10, 12)
BY_SHARE = tuple(f"{100 * share:.0f} %" for share in SHARES)
BY_CLOCK = tuple(f"{minutes} min" for minutes in MINUTES)
_LINE = 5
"""A line of errors is drawn through those of so many other rigs."""
FIRST = "bath and mix probe"
TYPED = "typed every 2 min, sd 0.5 °C"
POWER = "mixer's power too"
WAYS: Mapping[str, tuple[tuple[str, ...], Callable[[Played], Feed]]] = {
    FIRST: (USUAL, feed_of),
    "wander of 0.2 °C more": (USUAL, wandering),
    "mix probe alone": (("mix",), feed_of),
    "bath probe alone": (("bath",), feed_of),
    "wrong recipe": (USUAL, misnamed),
    TYPED: (USUAL, typed),
    "second bath probe too": ((*USUAL, "bath_2"), feed_of),
    "second mix probe too": ((*USUAL, "mix_2"), feed_of),
    "wall probe too": ((*USUAL, "wall"), feed_of),
    "room probe too": ((*USUAL, "room"), feed_of),
    POWER: ((*USUAL, "mixer"), feed_of),
}
"""What is known: which probes there are, and what the program is given of them."""
SIGNALS = tuple(way for way, (probes, _) in WAYS.items() if len(probes) > len(USUAL))
"""Those of them with a further signal."""


@dataclass(frozen=True, slots=True)
class Rig:
    """One drawn rig's batch and what was forecast of it.

    Args:
        seed: all chance in it.
        pour_s: run time of the pour [s].
        plateau_s: true run time of the plateau [s]; None where there is none, or where the mix
            never stiffened as fast as a plateau asks for.
        begun_s: true run time at which ice first forms [s]; None where it never does.
        expected_s: plateau to be expected of mix and bath alone [s from the pour].
        heard: what the monitor said, by what it was given.
        fitted: the plain fit's forecasts, by question.
        others_s: plateau times of other rigs [s from the pour].
    """

    seed: int
    pour_s: float
    plateau_s: float | None
    begun_s: float | None
    expected_s: float
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
        _expected_s(batch),
        said,
        plain or {},
    )


def _expected_s(batch: Played) -> float:
    """Plateau to be expected of a batch's mix and bath in a usual rig [s from the pour]."""
    feed = feed_of(batch)
    marks = {item.word: item for item in reversed(feed.items) if isinstance(item, Mark)}
    composition, mass_g = feed.recipe.composition, feed.recipe.mass_g
    assert composition is not None
    assert mass_g is not None
    made_up = marks[MarkWord.ICE_IN]
    expected = expected_plateau(
        batch.pour_s,
        freezing_curve(composition),
        mass_g,
        float(batch.mix_c[round(batch.pour_s) + 1]),
        amounts_of(made_up, feed.setup),
        batch.pour_s - made_up.t,
        feed.setup,
        feed.prior,
        batch.seed,
    )
    assert expected is not None
    return float(np.exp(expected.mean))


def forecast(seed: int, ways: Sequence[str]) -> Rig:
    """Play a drawn rig's batch and forecast it in so many ways.

    What never has a plateau, or never stiffened, is forecast in the first way alone.
    """
    everything = played(with_signals(drawn_scenario(seed)), seed)
    batch = only(everything, *USUAL)
    if batch.plateau_s is None:
        return rig_of(batch, {})
    said = {}
    for way in ways if batch.stiffens else ways[:1]:
        probes, feed = WAYS[way]
        said[way] = heard(batch, feed(only(everything, *probes)))
    return rig_of(batch, said, _fitted(batch) if batch.stiffens else None)


def _fitted(batch: Played) -> dict[str, Times]:
    composition = feed_of(batch).recipe.composition
    assert composition is not None
    plain = peers.CoolingCurve(freezing_curve(composition), PlateauSetting())
    t, mix_c = batch.read("mix")
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
    return from_pour(rig, peers.not_yet(at_s - rig.pour_s, rig.others_s))


def from_pour(rig: Rig, since_s: Times) -> Times:
    """Run times from times since the pour [s]."""
    p10, p50, p90 = (rig.pour_s + (value or 0.0) for value in since_s)
    return p10, p50, p90


def fitted(rig: Rig, name: str, at_s: float) -> Times:
    """The plain fit."""
    return rig.fitted[name]


def alike(rigs: Sequence[Rig]) -> Forecaster:
    """Other rigs that were not over by then, made alike by what was to be expected of each."""
    known = {
        rig.seed: (rig.plateau_s - rig.pour_s, rig.expected_s) for rig in rigs if rig.plateau_s
    }

    def of(rig: Rig, _: str, at_s: float) -> Times:
        others = [pair for seed, pair in known.items() if seed != rig.seed]
        return from_pour(rig, peers.alike(at_s - rig.pour_s, rig.expected_s, others))

    return of


def put_right(rigs: Sequence[Rig], mine: Forecaster) -> Forecaster:
    """A forecaster's median put right by how it erred at the same question with other rigs."""
    known: dict[str, dict[int, tuple[float, float]]] = {}
    for rig in rigs:
        for name, at_s in rig.questions().items():
            times = mine(rig, name, at_s)
            if rig.plateau_s is not None and told(times):
                said_s = filled(times, at_s)[1] - rig.pour_s
                known.setdefault(name, {})[rig.seed] = rig.plateau_s - rig.pour_s, said_s

    def of(rig: Rig, name: str, at_s: float) -> Times:
        pairs = known.get(name, {})
        others = [pair for seed, pair in pairs.items() if seed != rig.seed]
        if rig.seed not in pairs or len(others) < _LINE:
            return None, None, None
        return from_pour(rig, peers.put_right(at_s - rig.pour_s, pairs[rig.seed][1], others))

    return of


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
    """

    asked: int
    loss_s: Array
    count: Array
    held: Array

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
        row = np.zeros(3)
        for name, at in questions:
            times = mine(rig, name, at)
            if not all(told(other(rig, name, at)) for other in (mine, *besides)):
                continue
            assert rig.plateau_s is not None
            three = filled(times, at)
            row[0] += pinball_s(three, rig.plateau_s)
            row[1] += 1.0
            row[2] += holds(three, rig.plateau_s)
        found.append(row)
    rows = np.array([row for row in found if row[1] > 0.0]).reshape(-1, 3)
    return Scores(asked, *rows.T)


@dataclass(frozen=True, slots=True)
class Whole:
    """The monitor's whole distributions against truths; sums over the questions of each rig.

    Args:
        count: (n,) forecasts made.
        half: (n,) those whose quartiles held the truth between them.
        bins: (n, 10) truths by the tenth of the distribution that they fell into.
    """

    count: Array
    half: Array
    bins: Array


def whole(rigs: Sequence[Rig], names: Sequence[str], way: str = FIRST) -> Whole:
    """Hold the monitor's whole distributions to the truth."""
    rows = np.zeros((len(rigs), 2 + len(DECILES) + 1))
    for row, rig in zip(rows, rigs, strict=True):
        for name, at in rig.questions().items():
            times = rig.heard[way].whole_times(at)
            if name not in names or not told(times):
                continue
            assert rig.plateau_s is not None
            all_s = filled(times, at)
            deciles, quartiles = all_s[: len(DECILES)], all_s[len(DECILES) :]
            row[0] += 1.0
            row[1] += holds(quartiles, rig.plateau_s)
            row[2 + part(deciles, rig.plateau_s)] += 1.0
    rows = rows[rows[:, 0] > 0.0]
    return Whole(rows[:, 0], rows[:, 1], rows[:, 2:])


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
