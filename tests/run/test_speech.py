"""How the maker is spoken to."""

from __future__ import annotations

from rigmon.records import Alarm, AlarmState, Priority, Stage
from rigmon.run.alarmbook import AlarmBook
from rigmon.run.alarms import RULES, Cause
from rigmon.run.headline import parted
from rigmon.run.speech import Speech
from rigmon.texts import catalogue

GERMAN = Speech("de", "F", "oz")


def test_an_alarm_speaks_the_makers_language() -> None:
    """Its call too, and call and reason can still be told apart."""
    book = AlarmBook({}, GERMAN)
    causes = {code: Cause("So ist es.") for code in RULES}
    told = {
        alarm.code: alarm
        for stage in Stage
        for t in range(4000)
        for alarm in book.update(float(t), stage, causes)
        if alarm.state is AlarmState.UNACKNOWLEDGED
    }

    assert set(told) == set(RULES)
    for code, alarm in told.items():
        assert parted(alarm) == (catalogue("de")[RULES[code].call], "So ist es.")


def test_figures_have_the_languages_decimal_point_and_the_makers_unit() -> None:
    """A comma in German, with Fahrenheit and ounces all the same."""
    assert GERMAN.temperature(-12.0) == "10,4 °F"
    assert GERMAN.kelvin(2.5) == "4,5 °F"
    assert GERMAN.mass(912.4) == "32,2 oz"
    assert Speech().mass(912.4) == "912 g"


def test_a_text_that_a_language_lacks_is_said_in_english() -> None:
    """Better a foreign word than none."""
    assert GERMAN.say("The {what} is new.", what="salt") == "The salt is new."


def test_a_call_may_hold_a_decimal_point() -> None:
    """Only a full stop before a space ends it."""
    text = "Recharge: 2.5 lb ice. The bath is warm. Gloves."
    alarm = Alarm(0.0, "ice-gone", Priority.LOW, AlarmState.NORMAL, text)

    assert parted(alarm) == ("Recharge: 2.5 lb ice", "The bath is warm. Gloves.")
