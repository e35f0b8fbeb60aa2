"""One verb and one reason: what the maker is to do now."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigmon.records import Alarm, AlarmState, Event, Forecast, Priority, Stage, State
from rigmon.run.speech import Speech
from rigmon.texts import marked

_BATH_AT_WORK_C = -3.0
_HOURS_FROM_MIN = 180.0
_LEAST_PCT_MIN = 0.05
_NOW_MIN = 1.0


@dataclass(frozen=True, slots=True)
class Headline:
    """What to do now.

    Args:
        verb: what to do, read at a glance.
        reason: why, or for how long.
        priority: that of the alarm behind it; None while none sounds.
    """

    verb: str
    reason: str
    priority: Priority | None = None


def span(forecast: Forecast | None, now: float, speech: Speech | None = None) -> str | None:
    """A forecast as the maker reads it, from `now` [s]: a range; None if there is none.

    >>> span(Forecast(0.0, Event.PLATEAU, 1, 420.0, 600.0, 780.0), 60.0)
    '6–12 min'
    >>> span(Forecast(0.0, Event.BATH_LIMIT, 1, 3600.0, None, None), 0.0)
    'over 60 min'
    >>> span(Forecast(0.0, Event.HARDENED, 2, 7200.0, 10800.0, 21600.0), 0.0)
    '2–6 h'
    """
    if forecast is None or forecast.p10 is None:
        return None
    speech = speech or Speech()
    low = max(forecast.p10 - now, 0.0) / 60.0
    if forecast.p90 is None:
        if low < _NOW_MIN:
            return speech.say("a minute or more")
        return speech.say("over {n} min", n=f"{low:.0f}")
    high = max(forecast.p90 - now, 0.0) / 60.0
    if high < 1.0:
        return speech.say("less than a minute")
    unit = "min"
    if high >= _HOURS_FROM_MIN:
        low, high, unit = low / 60.0, high / 60.0, "h"
    if round(low) == round(high):
        return speech.say("about {n} {unit}", n=f"{high:.0f}", unit=unit)
    return f"{low:.0f}–{high:.0f} {unit}"


def parted(alarm: Alarm) -> tuple[str, str]:
    """What an alarm says to do, and why.

    >>> parted(Alarm(0.0, "ice-gone", Priority.LOW, AlarmState.NORMAL, "Add ice. None is left."))
    ('Add ice', 'None is left.')
    """
    call, _, why = alarm.text.partition(". ")
    return call.removesuffix("."), why


def stiffening(state: State | None, speech: Speech | None = None) -> str | None:
    """How fast the mix stiffens, as the maker reads it; None where it is not known or not beaten.

    >>> from rigmon.records import Estimate
    >>> stiffening(State(60.0, Stage.BEAT, 1, Estimate(60.0), {}, stiffening_pct_min=1.84))
    'stiffening 1.8 %/min'
    """
    rate = None if state is None else state.stiffening_pct_min
    if rate is None or rate < _LEAST_PCT_MIN:
        return None
    speech = speech or Speech()
    return speech.say("stiffening {rate} %/min", rate=speech.decimal(rate))


def headline(
    state: State | None,
    forecasts: Mapping[Event, Forecast],
    alarms: Sequence[Alarm],
    limit_c: float | None = None,
    speech: Speech | None = None,
) -> Headline:
    """What to do now, from the newest state, the forecasts, and the alarms that stand.

    An alarm that is acknowledged sounds no more, but what ends the round stays the thing to do.

    Args:
        state: the newest state; None before the first reading.
        forecasts: the newest forecasts.
        alarms: those that stand, the most urgent first.
        limit_c: the bath limit [°C], if known.
        speech: the maker's language and units.
    """
    speech = speech or Speech()
    for alarm in alarms:
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            return Headline(*parted(alarm), alarm.priority)
        if alarm.state is AlarmState.ACKNOWLEDGED and alarm.priority is Priority.HIGH:
            return Headline(*parted(alarm))
    if state is None:
        return Headline(speech.say("Waiting"), speech.say("no reading yet"))
    if state.stage is Stage.READY:
        return _ready(state.estimate.bath_c, limit_c, speech)
    if state.stage is Stage.BEAT:
        return Headline(speech.say("Keep beating"), _for_how_long(state, forecasts, speech))
    verb, reason = (speech.say(text) for text in _QUIET[state.stage])
    event, words = _QUIET_UNTIL.get(state.stage, (None, ""))
    left = None if event is None else span(forecasts.get(event), state.at, speech)
    return Headline(verb, reason if left is None else f"{reason}: {speech.say(words, time=left)}")


def _ready(bath_c: float | None, limit_c: float | None, speech: Speech) -> Headline:
    if bath_c is None or bath_c > _BATH_AT_WORK_C:
        made = speech.say("ice and salt into the outer bowl")
        return Headline(speech.say("Make up the bath"), made)
    bath = speech.temperature(bath_c)
    if limit_c is not None and bath_c > limit_c:
        on_its_way = speech.say(
            "the bath is at {bath}, on its way below {limit}",
            bath=bath,
            limit=speech.temperature(limit_c),
        )
        return Headline(speech.say("Wait for the bath"), on_its_way)
    ready = speech.say("the bath is ready at {bath}", bath=bath)
    return Headline(speech.say("Pour the mix"), ready)


def _for_how_long(state: State, forecasts: Mapping[Event, Forecast], speech: Speech) -> str:
    if state.round > 1:
        left = span(forecasts.get(Event.MELT_ONSET), state.at, speech)
        if left is None:
            return speech.say("a few minutes, to the first gloss")
        return speech.say("to the first gloss: it softens in {time}", time=left)
    plateau = forecasts.get(Event.PLATEAU)
    if plateau is None:
        return speech.say("until it gets no stiffer")
    left = span(plateau, state.at, speech)
    if left is None:
        return speech.say("too early to say for how long")
    return speech.say("stiff in {time}", time=left)


@dataclass(frozen=True, slots=True)
class Upcoming:
    """What is to be done next, and when.

    Args:
        forecast: of the event that it waits for.
        text: what, and in how long: a range that shrinks as certainty grows.
    """

    forecast: Forecast
    text: str


def upcoming(
    state: State | None, forecasts: Mapping[Event, Forecast], speech: Speech | None = None
) -> Upcoming | None:
    """The action that comes next, if its time can be said; the soonest, where there are several.

    Args:
        state: the newest state; None before the first reading.
        forecasts: the newest forecasts.
        speech: the maker's language and units.

    >>> from rigmon.records import Estimate
    >>> plateau = Forecast(60.0, Event.PLATEAU, 1, 420.0, 600.0, 780.0)
    >>> beating = State(60.0, Stage.BEAT, 1, Estimate(60.0), {})
    >>> upcoming(beating, {Event.PLATEAU: plateau}).text
    'stop in 6–12 min'
    """
    if state is None:
        return None
    speech, soonest = speech or Speech(), None
    for event, words in _NEXT.get(state.stage, ()):
        forecast = forecasts.get(event)
        left = span(forecast, state.at, speech)
        if forecast is None or left is None:
            continue
        if event is Event.BATH_LIMIT and forecast.p90 is None:
            continue  # It may well last.
        if soonest is None or _middle(forecast) < _middle(soonest.forecast):
            soonest = Upcoming(forecast, speech.say(words, time=left))
    return soonest


def _middle(forecast: Forecast) -> float:
    return math.inf if forecast.p50 is None else forecast.p50


_NEXT: Mapping[Stage, tuple[tuple[Event, str], ...]] = {
    Stage.BASE: ((Event.BASE_COLD, marked("cold in {time}")),),
    Stage.BEAT: (
        (Event.PLATEAU, marked("stop in {time}")),
        (Event.MELT_ONSET, marked("pack in {time}")),
        (Event.BATH_LIMIT, marked("recharge in {time}")),
    ),
    Stage.REST: (
        (Event.REST_OVER, marked("rested in {time}")),
        (Event.BATH_LIMIT, marked("recharge in {time}")),
    ),
    Stage.HARDEN: ((Event.HARDENED, marked("hard in {time}")),),
}
"""Events that a stage waits for, and what is done once they come."""

_QUIET: Mapping[Stage, tuple[str, str]] = {
    Stage.BASE: (marked("Cool the base"), marked("until it is cold")),
    Stage.REST: (marked("Let it rest"), marked("covered, in the freezer")),
    Stage.PACK: (marked("Pack"), marked("into cold tubs, quickly")),
    Stage.HARDEN: (marked("Leave it"), marked("freezer closed")),
    Stage.DONE: (marked("Done"), marked("the run has ended")),
}

_QUIET_UNTIL: Mapping[Stage, tuple[Event, str]] = {
    Stage.BASE: (Event.BASE_COLD, marked("cold in {time}")),
    Stage.REST: (Event.REST_OVER, marked("rested in {time}")),
    Stage.HARDEN: (Event.HARDENED, marked("hard in {time}")),
}
"""Events that a quiet stage waits for."""
