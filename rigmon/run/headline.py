"""One verb and one reason: what the maker is to do now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigmon.records import Alarm, AlarmState, Event, Forecast, Priority, Stage, State
from rigmon.run.alarms import RULES
from rigmon.units import TemperatureUnit, temperature

_BATH_AT_WORK_C = -3.0
_HOURS_FROM_MIN = 180.0


@dataclass(frozen=True, slots=True)
class Headline:
    """What to do now.

    Args:
        verb: what to do, in a word or three.
        reason: why, or for how long.
        priority: that of the alarm behind it; None while none sounds.
    """

    verb: str
    reason: str
    priority: Priority | None = None


def span(forecast: Forecast | None, now: float) -> str | None:
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
    low = max(forecast.p10 - now, 0.0) / 60.0
    if forecast.p90 is None:
        return f"over {low:.0f} min"
    high = max(forecast.p90 - now, 0.0) / 60.0
    if high < 1.0:
        return "less than a minute"
    unit = "min"
    if high >= _HOURS_FROM_MIN:
        low, high, unit = low / 60.0, high / 60.0, "h"
    same = round(low) == round(high)
    return f"about {high:.0f} {unit}" if same else f"{low:.0f}–{high:.0f} {unit}"


def headline(
    state: State | None,
    forecasts: Mapping[Event, Forecast],
    alarms: Sequence[Alarm],
    limit_c: float | None = None,
    unit: TemperatureUnit = "C",
) -> Headline:
    """What to do now, from the newest state, the forecasts, and the alarms that stand.

    An alarm that is acknowledged sounds no more, but what ends the round stays the thing to do.

    Args:
        state: the newest state; None before the first reading.
        forecasts: the newest forecasts.
        alarms: those that stand, the most urgent first.
        limit_c: the bath limit [°C], if known.
        unit: for temperatures.
    """
    for alarm in alarms:
        verb = RULES[alarm.code].verb
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            return Headline(verb, alarm.text, alarm.priority)
        if alarm.state is AlarmState.ACKNOWLEDGED and alarm.priority is Priority.HIGH:
            return Headline(verb, alarm.text)
    if state is None:
        return Headline("Waiting", "no reading yet")
    if state.stage is Stage.READY:
        return _ready(state.estimate.bath_c, limit_c, unit)
    if state.stage is Stage.BEAT:
        return Headline("Keep beating", _for_how_long(state, forecasts))
    quiet = _QUIET[state.stage]
    event, words = _QUIET_UNTIL.get(state.stage, (None, ""))
    left = None if event is None else span(forecasts.get(event), state.at)
    return quiet if left is None else Headline(quiet.verb, f"{quiet.reason}: {words} {left}")


def _ready(bath_c: float | None, limit_c: float | None, unit: TemperatureUnit) -> Headline:
    if bath_c is None or bath_c > _BATH_AT_WORK_C:
        return Headline("Make up the bath", "ice and salt into the outer bowl")
    if limit_c is not None and bath_c > limit_c:
        on_its_way = f"{temperature(bath_c, unit)}, on its way below {temperature(limit_c, unit)}"
        return Headline("Wait for the bath", f"the bath is at {on_its_way}")
    return Headline("Pour the mix", f"the bath is ready at {temperature(bath_c, unit)}")


def _for_how_long(state: State, forecasts: Mapping[Event, Forecast]) -> str:
    if state.round > 1:
        left = span(forecasts.get(Event.MELT_ONSET), state.at)
        until = "a few minutes, to the first gloss"
        return until if left is None else f"to the first gloss: it softens in {left}"
    plateau = forecasts.get(Event.PLATEAU)
    if plateau is None:
        return "until it gets no stiffer"
    left = span(plateau, state.at)
    return "too early to say for how long" if left is None else f"stiff in {left}"


_QUIET: Mapping[Stage, Headline] = {
    Stage.BASE: Headline("Cool the base", "to 5 °C"),
    Stage.REST: Headline("Let it rest", "covered, in the freezer"),
    Stage.PACK: Headline("Pack", "into cold tubs, quickly"),
    Stage.HARDEN: Headline("Leave it", "freezer closed"),
    Stage.DONE: Headline("Done", "the run has ended"),
}

_QUIET_UNTIL: Mapping[Stage, tuple[Event, str]] = {
    Stage.REST: (Event.REST_OVER, "rested in"),
    Stage.HARDEN: (Event.HARDENED, "hard in"),
}
"""Events that a quiet stage waits for."""
