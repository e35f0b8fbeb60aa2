"""What speaks for the alarms of a round just now, from the estimate, the forecasts, the probes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import (
    BowlSetup,
    Estimate,
    Event,
    Forecast,
    Place,
    Quality,
    Slowdown,
    Stage,
)
from rigmon.run import advice
from rigmon.run.alarmrule import Trip
from rigmon.run.alarms import Cause, trips
from rigmon.run.probebank import ProbeBank
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages
from rigmon.texts import marked

BATH_CLEAR_K = 0.5
"""A bath that had passed its limit is back once it is this far below it [K]."""
NEVER_COLD_S = 300.0
"""A bath still above its limit this long after the pour will not get there by itself [s]."""
LOAD_SEEN_S = 120.0
"""What the mix asks of its bath shows only so long after the pour [s] (own choice, on simulated
rigs): sooner the forecast of the bath's limit jumps about."""
RECHARGE_WORKS_S = 240.0
"""Ice and salt have this long to work before more is asked for [s] (common practice, no source:
three to five minutes)."""

_PROBE_ALARMS: Mapping[str, Mapping[Quality, str]] = {
    "probe-silent": {
        Quality.SILENT: marked(
            "Nothing comes from {name}: look at the board's power, its cable, the plug."
        ),
    },
    "probe-fault": {
        Quality.FAULT: marked(
            "A circuit is broken or shorted: {name}. Look at its plug and its tip."
        ),
        Quality.IMPLAUSIBLE: marked(
            "What {name} reads cannot be: look where the probe sits, and at its plug."
        ),
    },
}
_BAD = frozenset(quality for texts in _PROBE_ALARMS.values() for quality in texts)


def of_probes(qualities: Mapping[str, Quality], speech: Speech) -> dict[str, Cause]:
    """What speaks for the alarms about probes."""
    found = {}
    for code, texts in _PROBE_ALARMS.items():
        names = tuple(name for name, quality in qualities.items() if quality in texts)
        if names:
            text = " ".join(
                speech.say(sentence, name=", ".join(n for n in names if qualities[n] is quality))
                for quality, sentence in texts.items()
                if quality in {qualities[name] for name in names}
            )
            found[code] = Cause(text, {"probe": ", ".join(names)}, names)
    return found


def lost_places(qualities: Mapping[str, Quality], bank: ProbeBank) -> frozenset[Place]:
    """Places where probes are looked at, and none can be trusted."""
    good: dict[Place, bool] = {}
    for name, quality in qualities.items():
        place = bank.place(name)
        if place is not None:
            good[place] = good.get(place, False) or quality not in _BAD
    return frozenset(place for place, any_good in good.items() if not any_good)


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known at a tick.

    Args:
        t: run time [s].
        estimate: mix and bath.
        stages: where the run stands.
        forecasts: the newest forecasts.
        p_over: probability that the plateau is here.
        p_rested: probability that the rest has done its work.
        p_melting: probability that what is beaten in a later round has passed its stiffest.
        why: what slows the stiffening; None if it cannot be said.
        limit_c: the bath limit [°C], if known.
        bowls: the two bowls.
        speech: the maker's language and units.
    """

    t: float
    estimate: Estimate
    stages: Stages
    forecasts: Mapping[Event, Forecast] = field(default_factory=dict)
    p_over: float = 0.0
    p_rested: float = 0.0
    p_melting: float = 0.0
    why: Slowdown | None = None
    limit_c: float | None = None
    bowls: BowlSetup = field(default_factory=BowlSetup)
    speech: Speech = field(default_factory=Speech)

    def until(self, event: Event) -> float | None:
        """Median time to an event [s]; None where nothing can be said."""
        ahead = self.forecasts.get(event)
        return None if ahead is None or ahead.p50 is None else ahead.p50 - self.t


@dataclass(slots=True)
class RoundCauses:
    """What speaks for the alarms about plateau and bath limit; it remembers, so none flickers.

    Args:
        trips: figures held against their set points, by code.
        told_round: the last round whose plateau was announced.
        recharged_s: run time of the last recharge [s].
    """

    trips: Mapping[str, Trip] = field(default_factory=lambda: trips({}))
    told_round: int = 0
    recharged_s: float | None = None
    _gives_out: bool = False
    _adviser: advice.Adviser = field(default_factory=advice.Adviser)

    def told(self, stages: Stages) -> bool:
        """Whether the plateau of the round that is going on has been announced."""
        return stages.round > 0 and self.told_round == stages.round

    def recharged(self, t: float) -> None:
        """Take in that ice or salt went into the bath."""
        self.recharged_s, self._gives_out = t, False
        self._adviser.forget()
        self.trips["bath-limit-near"].holds = False

    def at(self, seen: Seen) -> dict[str, Cause]:
        """What speaks just now."""
        found = {}
        speech, stages = seen.speech, seen.stages
        over = self.trips["plateau-reached"].past(seen.p_over)
        if over or self.told(stages):
            found["plateau-reached"] = self._stop(seen)
        elif self.trips["plateau-near"].past(seen.p_over):
            found["plateau-near"] = Cause(
                speech.say("Soon stiff: make room in the freezer, and have a lid at hand.")
            )
        if seen.limit_c is not None:
            self._gives_out = self._bath_gives_out(seen, seen.limit_c)
            if self._gives_out:
                ahead = seen.forecasts.get(Event.BATH_LIMIT)
                stiff = seen.forecasts.get(Event.PLATEAU)
                amount = self._adviser.amount(
                    seen.estimate, seen.limit_c, seen.bowls, None if stiff is None else stiff.p90
                )
                found["bath-limit-near"] = advice.add_ice_and_salt(
                    seen.estimate, seen.limit_c, ahead, amount, speech
                )
            elif "plateau-reached" not in found:
                self._adviser.forget()
        return found

    def _stop(self, seen: Seen) -> Cause:
        """The plateau, and what would carry it further where it is the bath that gave out."""
        amount = None
        weak = seen.why is not None and advice.held_by(seen.why) == "bath"
        if weak and seen.limit_c is not None:
            amount = self._adviser.amount(seen.estimate, seen.limit_c, seen.bowls)
        return advice.stop_beating(seen.estimate, seen.why, amount, seen.speech)

    def _bath_gives_out(self, seen: Seen, limit_c: float) -> bool:
        """Whether the bath will be too warm before the maker can have fetched ice and salt."""
        t, stages, bath_c = seen.t, seen.stages, seen.estimate.bath_c
        poured_s = stages.batch.poured_s
        if bath_c is None or poured_s is None or not stages.batch.in_bath:
            return False
        if stages.stage is Stage.BEAT and self.told(stages):
            return False
        if self.recharged_s is not None and t - self.recharged_s < RECHARGE_WORKS_S:
            return False
        if bath_c >= limit_c - (BATH_CLEAR_K if self._gives_out else 0.0):
            return t - poured_s > NEVER_COLD_S
        ahead = seen.forecasts.get(Event.BATH_LIMIT)
        plateau = seen.forecasts.get(Event.PLATEAU)
        if t - poured_s < LOAD_SEEN_S:
            return False
        if ahead is None or ahead.p50 is None:
            return False
        soonest = ahead.p50 if ahead.p10 is None else ahead.p10
        if plateau is not None and plateau.p90 is not None and plateau.p90 < soonest:
            return False
        trip = self.trips["bath-limit-near"]
        trip.holds = self._gives_out
        return trip.past(ahead.p50 - t)
