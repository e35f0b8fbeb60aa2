"""After round 1: a rest until its work is truly done, and a second round until the mix melts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from batches import Played, feed_of, heard, only, played
from peers import not_yet
from rigmon.estimate.laterrounds import REST_OVER_PCT
from rigmon.records import Event, Mark, MarkWord, Place, Reading
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.maker import Rest
from rigmon.virtual.scenario import Channel, Scenario
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.truth import Truth
from scoring import Times

MELT_ALARM, REST_ALARM = "melt-onset", "rest-over"
ALONE, BOTH = "mix probe alone", "bath and mix probe"
ALL = "bath and mix probe, mixer's power"
PROBES: Mapping[str, tuple[str, ...]] = {
    ALL: ("bath", "mix", "mixer"),
    BOTH: ("bath", "mix"),
    ALONE: ("mix",),
}
REST_TIMER, OTHER_RESTS = "kitchen timer, 45 to 90 min", "other rigs' rests, not yet over"
REST_TIMER_S = (2700.0, 3600.0, 5400.0)
"""What a kitchen timer would be set to for a rest: 10, 50 and 90 % (common practice, no source)
[s]."""
SHARES = (0.25, 0.5, 0.75)
ROUND_2_S = 1500.0
"""Round 2 is beaten for so long that most mixes pass their stiffest in it [s]."""
_LONGEST_S = 7200.0
_SHORTEST_S = 300.0
_STEP_S = 10.0
_REMIXED_S = 5.0


@dataclass(frozen=True, slots=True)
class Later:
    """A batch's rest and second round, and what was said of them.

    Args:
        rest_s: run times at which the rest began and at which its work was truly done [s].
        onset_s: run time at which the share off the wall truly passed its maximum in round 2 [s];
            None where it did not.
        rest: forecasts of its end at shares of the rest, by what was known.
        alarm_s: run time of the alarm that the mix melts, likewise [s]; None where it was silent.
        wasted_pct: share off the wall that was yet to come at that alarm, or had been lost by
            then [percentage points]; NaN where it was silent.
    """

    rest_s: tuple[float, float]
    onset_s: float | None
    rest: Mapping[str, tuple[Times, ...]]
    alarm_s: Mapping[str, float | None]
    wasted_pct: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Second:
    """A batch as it went to the end of its second round, which nobody was told of.

    Args:
        batch: all of it.
        rest_s: run times at which the rest began and at which its work was truly done [s].
        begin_s: run time at which round 2 began [s].
        end_s: run time at which it ended [s].
        onset_s: run time at which the share off the wall truly passed its maximum in it [s]; None
            where it did not.
        most_pct: that maximum [%].
    """

    batch: Played
    rest_s: tuple[float, float]
    begin_s: float
    end_s: float
    onset_s: float | None
    most_pct: float

    def wasted_pct(self, at_s: float) -> float:
        """Share off the wall that is yet to come at a run time, or lost by then [points]."""
        return self.most_pct - float(self.batch.frozen_pct[round(at_s)])


def _scenario(seed: int, beat_for_s: float) -> Scenario:
    """A rest with the bath or without, and after the latter a round in the bath or on the table."""
    usual = drawn_scenario(seed)
    alone, back = np.random.default_rng((35, seed)).uniform(size=2) < 0.5
    rest = Rest(
        "bowl" if alone else "rig", _LONGEST_S, round_2_s=ROUND_2_S, back=bool(alone and back)
    )
    untold = frozenset({MarkWord.BEAT_START})
    return replace(
        usual,
        plan=replace(usual.plan, beat_for_s=beat_for_s, rest=rest, bare=untold),
        channels=(*usual.channels, Channel("mixer", Place.MIXER)),
    )


@dataclass(slots=True)
class _Rested:
    """A batch that was taken out of its rest when that had done its work.

    Args:
        session: the batch.
        items: readings and marks.
        over_s: run time at which the rest had done its work [s].
    """

    session: VirtualSession
    items: list[Reading | Mark]
    over_s: float | None = None

    def at(self, word: MarkWord) -> float | None:
        """Run time at which something was last done [s]."""
        done = [mark.t for mark in self.session.done if mark.word is word]
        return done[-1] if done else None

    def play(self) -> None:
        """Carry it on to the end of round 2, or to the end of its longest rest."""
        t = 0.0
        while self.at(MarkWord.PACK) is None and not self.session.ended:
            t += _STEP_S
            self.items += self.session.items(t)
            resting = self.at(MarkWord.REST_START) is not None and self.over_s is None
            if resting and self.session.truth(t).mean_frozen_pct >= REST_OVER_PCT:
                self.over_s = t
                self.session.hears(REST_ALARM, t=t)
            if resting and self.at(MarkWord.REST_STOP) is not None:
                return


def second_round(seed: int) -> Second | None:
    """Play a drawn rig beyond its plateau.

    None where there is no plateau, or no rest of five minutes to two hours.
    """
    first = played(drawn_scenario(seed), seed)
    if first.plateau_s is None or not first.stiffens:
        return None
    scenario = _scenario(seed, first.plateau_s - first.pour_s)
    rested = _Rested(VirtualSession(scenario, seed), [])
    rested.play()
    began_s, over_s = rested.at(MarkWord.REST_START), rested.over_s
    if began_s is None or over_s is None or over_s - began_s < _SHORTEST_S:
        return None
    begin_s, end_s = rested.at(MarkWord.BEAT_START), rested.at(MarkWord.BEAT_STOP)
    assert begin_s is not None
    assert end_s is not None
    truths = [rested.session.truth(float(second)) for second in range(round(end_s) + 1)]
    batch = _as_played(first, scenario, rested.items, truths)
    remixed_s = begin_s + _REMIXED_S
    second = batch.frozen_pct[round(remixed_s) : round(end_s)]
    most = int(np.argmax(second))
    onset_s = remixed_s + most if most < second.size - 1 else None
    return Second(batch, (began_s, over_s), begin_s, end_s, onset_s, float(second.max()))


def later(seed: int) -> Later | None:
    """Play and forecast a drawn rig beyond its plateau; None as for `second_round`."""
    of = second_round(seed)
    if of is None:
        return None
    began_s, over_s = of.rest_s
    feeds = {way: feed_of(only(of.batch, *probes)) for way, probes in PROBES.items()}
    asked = [began_s + share * (over_s - began_s) for share in SHARES]
    rest, alarms, wasted = {}, {}, {}
    for way, feed in feeds.items():
        said = heard(of.batch, feed, of.end_s)
        rest[way] = tuple(said.times(Event.REST_OVER, at) for at in asked)
        alarm_s = alarms[way] = said.alarms.get(MELT_ALARM)
        wasted[way] = np.nan if alarm_s is None else of.wasted_pct(alarm_s)
    rest[REST_TIMER] = tuple(_timer(began_s) for _ in asked)
    return Later(of.rest_s, of.onset_s, rest, alarms, wasted)


def _timer(began_s: float) -> Times:
    p10, p50, p90 = (began_s + value for value in REST_TIMER_S)
    return p10, p50, p90


def _as_played(
    first: Played, scenario: Scenario, items: Sequence[Reading | Mark], truths: Sequence[Truth]
) -> Played:
    return replace(
        first,
        scenario=scenario,
        items=tuple(items),
        frozen_pct=np.array([truth.frozen_pct for truth in truths]),
        mean_frozen_pct=np.array([truth.mean_frozen_pct for truth in truths]),
        mix_c=np.array([truth.mix_c for truth in truths]),
        bath_c=np.array([truth.bath_c for truth in truths]),
    )


def beside_others(found: Sequence[Later]) -> list[Later]:
    """The same with the rests of all other rigs as one more forecaster."""
    lasted_s = [one.rest_s[1] - one.rest_s[0] for one in found]
    beside = []
    for place, one in enumerate(found):
        others = lasted_s[:place] + lasted_s[place + 1 :]
        began_s = one.rest_s[0]
        over_s = [began_s + lasts_s for lasts_s in others]
        times = tuple(not_yet(began_s + share * lasted_s[place], over_s) for share in SHARES)
        beside.append(replace(one, rest={**one.rest, OTHER_RESTS: times}))
    return beside
