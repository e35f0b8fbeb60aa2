"""How the maker is spoken to."""

from __future__ import annotations

import copy
import pickle

from rigmon.probes.screen import Screen
from rigmon.records import (
    Alarm,
    AlarmState,
    Fault,
    Mark,
    MarkWord,
    Place,
    Priority,
    Problem,
    Reading,
    RigSetup,
    Stage,
)
from rigmon.run.alarmbook import AlarmBook
from rigmon.run.alarms import RULES, Cause
from rigmon.run.headline import parted
from rigmon.run.monitor import Monitor
from rigmon.run.speech import Speech
from rigmon.texts import Sentence, catalogue
from rigmon.units import Figure

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


def test_what_another_room_found_is_said_again_in_the_makers_language_and_units() -> None:
    """Sentence within sentence, temperatures and figures; in English it reads as it stands."""
    screen = Screen(Place.MIX, "left")
    for t in range(4):
        screen.feed(float(t), 4.0)
    for t in range(4, 400):
        screen.feed(float(t), 200.5)
    found = screen.reason(399.0)
    assert found.startswith("The mix probe 'left' reads 200.5 °C, outside −45 °C to 110 °C: look")
    assert Speech().retold(found) == found
    assert GERMAN.retold(found).startswith(
        "Der Fühler in der Masse 'left' zeigt 392,9 °F, außerhalb von −49 °F bis 230 °F: nachsehen"
    )
    assert GERMAN.retold("words of nobody's") == "words of nobody's"
    scatter = Sentence("{who} scatters by {k} K", who="It", k=Figure(1.25))
    assert GERMAN.retold(scatter) == "It scatters by 1,2 K"


def test_a_sentence_may_be_copied_and_sent_on() -> None:
    """With its figures, braces among them; a run that is taken back is a copy of itself."""
    found = Sentence("{who}: {said}", who=Sentence("{n} of {n}", n=2), said="{odd}")
    for copied in (copy.deepcopy(found), pickle.loads(pickle.dumps(found))):  # noqa: S301 - our own
        assert (copied, copied.text, copied.figures) == (found, found.text, found.figures)
    assert found == "2 of 2: {odd}"


def test_a_mark_that_is_refused_and_a_lost_probe_are_told_in_german() -> None:
    """As they reach every screen."""
    monitor = Monitor(RigSetup(), None, speech=GERMAN)
    said = [*monitor.feed(Mark(0.0, MarkWord.ICE_IN)), *monitor.feed(Mark(1.0, MarkWord.REST_STOP))]
    for t in range(2, 12):
        said += monitor.feed(Reading(float(t), "bath", None, fault=Fault.OPEN))
    texts = {one.what: one.text for one in said if isinstance(one, Problem)}
    assert texts["mark-refused"] == "Die Marke rest-stop wurde nicht angenommen: nichts ruht."
    assert texts["probe-fault"] == (
        "Der Fühler im Bad hat eine Unterbrechung: Stecker und Drähte ansehen."
    )


def test_a_call_may_hold_a_decimal_point() -> None:
    """Only a full stop before a space ends it."""
    text = "Recharge: 2.5 lb ice. The bath is warm. Gloves."
    alarm = Alarm(0.0, "ice-gone", Priority.LOW, AlarmState.NORMAL, text)

    assert parted(alarm) == ("Recharge: 2.5 lb ice", "The bath is warm. Gloves.")
