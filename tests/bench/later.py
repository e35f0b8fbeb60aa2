"""After round 1: a rest until its work is truly done, and a second round until the mix melts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from batches import Played, alone, feed_of, heard, played
from rigmon.estimate.laterrounds import REST_OVER_PCT
from rigmon.records import Event, MarkWord, Place
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.maker import Rest
from rigmon.virtual.scenario import Channel, Scenario
from scoring import Times

MELT_ALARM = "melt-onset"
ALL, ALONE = "bath and mix probe, mixer's power", "mix probe alone"
SHARES = (0.25, 0.5, 0.75)
_LONGEST_S = 7200.0
_SHORTEST_S = 300.0
_ROUND_2_S = 900.0


@dataclass(frozen=True, slots=True)
class Later:
    """A batch's rest and second round, and what was said of them.

    Args:
        rest_s: run times at which the rest began and at which its work was truly done [s].
        onset_s: run time from which round 2 truly only melted the mix [s]; None where it gained
            ice to its end.
        rest: forecasts of its end at shares of the rest, by what was known.
        alarm_s: run time of the alarm that the mix melts, likewise [s]; None where it was silent.
    """

    rest_s: tuple[float, float]
    onset_s: float | None
    rest: Mapping[str, tuple[Times, ...]]
    alarm_s: Mapping[str, float | None]


def _scenario(seed: int, beat_for_s: float, rest_for_s: float) -> Scenario:
    usual = drawn_scenario(seed)
    where = "bowl" if np.random.default_rng((35, seed)).uniform() < 0.5 else "rig"
    rest = Rest(where, for_s=rest_for_s, round_2_s=_ROUND_2_S)
    return replace(
        usual,
        plan=replace(usual.plan, beat_for_s=beat_for_s, rest=rest),
        channels=(*usual.channels, Channel("mixer", Place.MIXER)),
    )


def _marked(batch: Played, word: MarkWord) -> float:
    """Run time at which something was last done [s]."""
    return [item.t for item in batch.items if getattr(item, "word", None) is word][-1]


def later(seed: int) -> Later | None:
    """Play and forecast a drawn rig beyond its plateau.

    None where there is no plateau, or no rest of five minutes to two hours.
    """
    first = played(drawn_scenario(seed), seed)
    if first.plateau_s is None or not first.stiffens:
        return None
    beat_for_s = first.plateau_s - first.pour_s
    resting = played(_scenario(seed, beat_for_s, _LONGEST_S), seed, beat_for_s + _LONGEST_S)
    began_s = _marked(resting, MarkWord.REST_START)
    done = np.flatnonzero(resting.mean_frozen_pct[round(began_s) :] >= REST_OVER_PCT)
    if not done.size or done[0] < _SHORTEST_S:
        return None
    over_s = began_s + float(done[0])
    scenario = _scenario(seed, beat_for_s, float(done[0]) + 60.0)
    batch = played(scenario, seed, beat_for_s + float(done[0]) + _ROUND_2_S + 300.0)
    begin_s, end_s = (_marked(batch, word) for word in (MarkWord.BEAT_START, MarkWord.BEAT_STOP))
    second = batch.mean_frozen_pct[round(begin_s) : round(end_s)]
    most = int(np.argmax(second))
    feeds = {ALL: feed_of(batch), ALONE: alone(batch, Place.MIX)}
    said = {way: heard(batch, feed, end_s) for way, feed in feeds.items()}
    asked = [began_s + share * (over_s - began_s) for share in SHARES]
    return Later(
        (began_s, over_s),
        begin_s + most if most < second.size - 1 else None,
        {way: tuple(one.times(Event.REST_OVER, at) for at in asked) for way, one in said.items()},
        {way: one.alarms.get(MELT_ALARM) for way, one in said.items()},
    )
