"""One verb and one reason: what the maker is to do now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rigmon.records import Alarm, AlarmState, Event, Forecast, Priority, Stage, State
from rigmon.run.advice import degrees


@dataclass(frozen=True, slots=True)
class Headline:
    """What to do now.

    Args:
        verb: what to do, in a word or three.
        reason: why, or for how long.
        priority: that of the alarm behind it; None while all is well.
    """

    verb: str
    reason: str
    priority: Priority | None = None


_VERBS: Mapping[str, str] = {
    "plateau-reached": "Stop beating",
    "bath-limit-near": "Recharge the bath",
    "probe-silent": "Check the probe",
    "probe-fault": "Check the probe",
    "log-stopped": "Make room on the disk",
}


def span(forecast: Forecast | None, now: float) -> str | None:
    """A forecast as the maker reads it, from `now` [s]: a range in minutes; None if there is none.

    >>> span(Forecast(0.0, Event.PLATEAU, 1, 420.0, 600.0, 780.0), 60.0)
    '6–12 min'
    >>> span(Forecast(0.0, Event.BATH_LIMIT, 1, 3600.0, None, None), 0.0)
    'over 60 min'
    """
    if forecast is None or forecast.p10 is None:
        return None
    low = max(forecast.p10 - now, 0.0) / 60.0
    if forecast.p90 is None:
        return f"over {low:.0f} min"
    high = max(forecast.p90 - now, 0.0) / 60.0
    if high < 1.0:
        return "less than a minute"
    return f"{low:.0f}–{high:.0f} min" if round(low) != round(high) else f"about {high:.0f} min"


def headline(
    state: State | None,
    forecasts: Mapping[Event, Forecast],
    alarms: Sequence[Alarm],
    limit_c: float | None = None,
) -> Headline:
    """What to do now, from the newest state, the forecasts, and the alarms that stand.

    Args:
        state: the newest state; None before the first reading.
        forecasts: the newest forecasts.
        alarms: those that stand, the most urgent first.
        limit_c: the bath limit [°C], if known.
    """
    for alarm in alarms:
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            return Headline(_VERBS[alarm.code], alarm.text, alarm.priority)
    if state is None:
        return Headline("Waiting", "no reading yet")
    bath_c = state.estimate.bath_c
    if state.stage is Stage.READY:
        if bath_c is None or bath_c > -3.0:
            return Headline("Make up the bath", "ice and salt into the outer bowl")
        if limit_c is not None and bath_c > limit_c:
            reason = f"the bath is at {degrees(bath_c)}, on its way below {degrees(limit_c)}"
            return Headline("Wait for the bath", reason)
        return Headline("Pour the mix", f"the bath is ready at {degrees(bath_c)}")
    if state.stage is Stage.BEAT:
        left = span(forecasts.get(Event.PLATEAU), state.at)
        if left is None:
            return Headline("Keep beating", "too early to say for how long")
        return Headline("Keep beating", f"stiff in {left}")
    return _QUIET[state.stage]


_QUIET: Mapping[Stage, Headline] = {
    Stage.BASE: Headline("Cool the base", "to 5 °C"),
    Stage.REST: Headline("Let it rest", "covered, in the freezer"),
    Stage.PACK: Headline("Pack", "into cold tubs, quickly"),
    Stage.HARDEN: Headline("Leave it", "freezer closed"),
    Stage.DONE: Headline("Done", "the run has ended"),
}
