"""One verb and one reason."""

from __future__ import annotations

import pytest

from rigmon.records import Alarm, AlarmState, Estimate, Event, Forecast, Priority, Stage, State
from rigmon.run.alarms import RULES
from rigmon.run.headline import Headline, headline, span
from rigmon.run.speech import Speech
from rigmon.units import TemperatureUnit

SOON = Forecast(0.0, Event.PLATEAU, 1, 300.0, 420.0, 660.0)
UNSAID = Forecast(0.0, Event.PLATEAU, 1)


def state(stage: Stage, bath_c: float | None = -15.0, round_: int = 1) -> State:
    """A state with nothing but a bath in it."""
    return State(60.0, stage, round_, Estimate(60.0, bath_c=bath_c), {})


def shown(
    stage: Stage,
    bath_c: float | None = -15.0,
    forecast: Forecast | None = None,
    round_: int = 1,
    unit: TemperatureUnit = "C",
) -> Headline:
    """The headline with no alarm."""
    forecasts = {} if forecast is None else {forecast.event: forecast}
    speech = Speech(temperature_unit=unit)
    return headline(state(stage, bath_c, round_), forecasts, (), -9.0, speech)


@pytest.mark.parametrize(
    ("stage", "bath_c", "forecast", "round_", "verb", "reason"),
    [
        (Stage.BASE, None, None, 0, "Cool the base", "until it is cold"),
        (Stage.READY, None, None, 0, "Make up the bath", "ice and salt into the outer bowl"),
        (Stage.READY, 18.0, None, 0, "Make up the bath", "ice and salt into the outer bowl"),
        (Stage.READY, -6.0, None, 0, "Wait for the bath", "the bath is at −6.0 °C, on its way "),
        (Stage.READY, -12.0, None, 0, "Pour the mix", "the bath is ready at −12.0 °C"),
        (Stage.BEAT, -15.0, SOON, 1, "Keep beating", "stiff in 4–10 min"),
        (Stage.BEAT, -15.0, UNSAID, 1, "Keep beating", "too early to say for how long"),
        (Stage.BEAT, -15.0, None, 1, "Keep beating", "until it gets no stiffer"),
        (Stage.BEAT, -15.0, None, 2, "Keep beating", "a few minutes, to the first gloss"),
        (Stage.REST, -15.0, None, 1, "Let it rest", "covered, in the freezer"),
        (Stage.PACK, None, None, 2, "Pack", "into cold tubs, quickly"),
        (Stage.HARDEN, None, None, 2, "Leave it", "freezer closed"),
        (Stage.DONE, None, None, 2, "Done", "the run has ended"),
    ],
)
def test_every_stage_has_its_verb(
    stage: Stage,
    bath_c: float | None,
    forecast: Forecast | None,
    round_: int,
    verb: str,
    reason: str,
) -> None:
    """Each row is what a maker sees when nothing is wrong."""
    found = shown(stage, bath_c, forecast, round_)

    assert found.verb == verb
    assert found.reason.startswith(reason)
    assert found.priority is None


def test_before_the_first_reading_the_program_waits() -> None:
    """An empty screen says why it is empty."""
    assert headline(None, {}, ()) == Headline("Waiting", "no reading yet")


def test_temperatures_are_in_the_makers_unit() -> None:
    """Fahrenheit where it was asked for."""
    assert shown(Stage.READY, -12.0, unit="F").reason == "the bath is ready at 10.4 °F"


def alarm(code: str, state: AlarmState) -> Alarm:
    """An alarm as it stands."""
    return Alarm(50.0, code, RULES[code].priority, state, f"{RULES[code].call}. About {code}.")


@pytest.mark.parametrize("code", list(RULES))
def test_an_alarm_that_sounds_is_the_headline(code: str) -> None:
    """Its verb, its sentence and its priority, whatever else goes on."""
    sounding = alarm(code, AlarmState.UNACKNOWLEDGED)
    found = headline(state(Stage.BEAT), {Event.PLATEAU: SOON}, (sounding,))

    assert found == Headline(RULES[code].call, f"About {code}.", RULES[code].priority)


def test_an_acknowledged_stop_stays_the_thing_to_do() -> None:
    """Silencing the alarm does not make the mix stiffen; it only stops being loud."""
    stop = alarm("plateau-reached", AlarmState.ACKNOWLEDGED)
    found = headline(state(Stage.BEAT), {}, (stop,))

    assert (found.verb, found.priority) == ("Stop: to the freezer", None)


def test_other_alarms_step_back_once_acknowledged_or_shelved() -> None:
    """A maker on the way to fetch ice goes on beating."""
    for code, standing in (
        ("bath-limit-near", AlarmState.ACKNOWLEDGED),
        ("plateau-reached", AlarmState.SHELVED),
    ):
        found = headline(state(Stage.BEAT), {Event.PLATEAU: SOON}, (alarm(code, standing),))
        assert found.verb == "Keep beating"


def test_the_most_urgent_alarm_wins() -> None:
    """The first of those that stand is shown."""
    sounding = [
        alarm(code, AlarmState.UNACKNOWLEDGED) for code in ("plateau-reached", "log-stopped")
    ]

    assert headline(state(Stage.BEAT), {}, sounding).priority is Priority.HIGH


@pytest.mark.parametrize(
    ("p10", "p90", "text"),
    [
        (None, None, None),
        (300.0, 660.0, "4–10 min"),
        (3660.0, None, "over 60 min"),
        (60.0, None, "a minute or more"),
        (110.0, None, "a minute or more"),
        (121.0, None, "over 1 min"),
        (340.0, 345.0, "about 5 min"),
        (50.0, 90.0, "less than a minute"),
        (30.0, 180.0, "0–2 min"),
    ],
)
def test_a_forecast_is_a_range_in_minutes(
    p10: float | None, p90: float | None, text: str | None
) -> None:
    """From now on, and never a bare number of seconds."""
    assert span(Forecast(0.0, Event.PLATEAU, 1, p10, None, p90), 60.0) == text
