"""A picture says what every other face says, as data."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.outlets.glance import Glance
from rigmon.outlets.page.history import Counter
from rigmon.outlets.page.picture import NEWS, RigPage
from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Event,
    Forecast,
    MarkHeard,
    MarkWord,
    Notice,
    Priority,
    Problem,
    RigSetup,
    Stage,
    Summary,
)
from rigmon.run.choices import at_first
from rigmon.run.speech import Speech

if TYPE_CHECKING:
    from tests.outlets.page.conftest import MakeFull

RUN = "rig-a-20261130T100000Z"
RECHARGE = Alarm(
    312.0,
    "bath-limit-near",
    Priority.MEDIUM,
    AlarmState.UNACKNOWLEDGED,
    "Recharge: 900 g ice, 180 g salt. The bath gives out.",
    {"do": "recharge", "ice_g": 900.0, "salt_g": 180.0},
)
POUR = MarkHeard(180.0, MarkWord.POUR, By.MAKER, {}, "Mix poured; round 1.")


@pytest.fixture
def rig() -> RigPage:
    """A rig that nothing was said of."""
    return RigPage(Glance("rig-a", virtual=True), Counter())


def test_before_anything_is_said_all_is_unknown(rig: RigPage) -> None:
    """Nothing is made up: null, or the word for waiting."""
    picture = rig.picture()

    assert picture["verb"] == "Waiting"
    assert picture["run"] is picture["at"] is picture["stage"] is picture["next"] is None
    assert set(picture["bath"].values()) == set(picture["mix"].values()) == {None}
    assert picture["probes"] == picture["alarms"] == picture["choices"] == picture["news"] == []


def test_a_run_can_be_begun_before_any_reading(full_state: MakeFull) -> None:
    """By a maker with a thermometer in the hand, and again once a run has ended."""
    begin = at_first(RigSetup(), None, Speech())
    rig = RigPage(Glance("rig-a", first=begin), Counter())
    wanted = ["ice-in", "pour", "start stage=base"]

    assert [one["word"] for one in rig.picture()["choices"]] == wanted
    rig.tell(RUN, full_state())
    rig.tell(RUN, Summary(1485.0, {}))
    assert [one["word"] for one in rig.picture()["choices"]] == wanted


def test_figures_of_the_state(rig: RigPage, full_state: MakeFull) -> None:
    """Bath, mix, wall and probes are those of the state, rounded for a kitchen."""
    rig.tell(RUN, full_state())
    picture = rig.picture()

    assert picture["virtual"] is True
    assert (picture["run"], picture["at"], picture["round"]) == (RUN, 312.0, 1)
    assert picture["bath"] == {
        "c": -16.8,
        "sd": 0.2,
        "limit_c": -9.5,
        "brine_pct": 21.9,
        "brine_sd": 0.4,
        "ice_left_g": 2010,
        "ice_sd": 160,
        "ice_put_g": 2600,
    }
    assert picture["mix"]["freezing_c"] == -2.4
    assert picture["mix"]["stiffening_pct_min"] == 1.84
    assert picture["why"] == "stiffening 1.8 %/min"
    assert picture["wall"] == {"ice_g": 35, "sd": 20}
    bath, mix = picture["probes"]
    assert (bath["value_c"], bath["age_s"], bath["quality_text"]) == (-16.75, 0.4, "good")
    assert (mix["place"], mix["quality"], mix["why"]) == (
        "mix",
        "noisy",
        "It jumps: look at its plug.",
    )


def test_the_next_action_is_the_soonest(rig: RigPage, full_state: MakeFull) -> None:
    """It has a range of run times, and says in how long; a bath that may well last is none."""
    rig.tell(RUN, full_state())
    rig.tell(RUN, Forecast(312.0, Event.PLATEAU, 1, 690.04, 742.0, 815.0))
    rig.tell(RUN, Forecast(312.0, Event.BATH_LIMIT, 1, 400.0, 700.0, None))
    assert rig.picture()["next"] == {
        "event": "plateau",
        "text": "stop in 6–8 min",
        "p10": 690.0,
        "p50": 742.0,
        "p90": 815.0,
    }
    rig.tell(RUN, Forecast(312.0, Event.BATH_LIMIT, 1, 400.0, 500.0, 600.0))
    assert rig.picture()["next"]["text"] == "recharge in 1–5 min"
    assert set(rig.picture()["forecasts"]) == {"plateau", "bath-limit"}


def test_an_alarm_leads_and_its_grams_are_filled_in(rig: RigPage, full_state: MakeFull) -> None:
    """What the alarm calls for comes first, with the very grams that the maker reads."""
    rig.tell(RUN, full_state())
    assert [one["word"] for one in rig.picture()["choices"]] == ["beat-stop", "recharge"]
    rig.tell(RUN, RECHARGE)
    picture = rig.picture()

    assert (picture["verb"], picture["priority"]) == ("Recharge: 900 g ice, 180 g salt", "medium")
    assert picture["alarms"][0]["call"] == picture["verb"]
    assert picture["alarms"][0]["why"] == "The bath gives out."
    first = picture["choices"][0]
    assert (first["word"], first["fields"][0]["value"]) == ("recharge", 900.0)


def test_news_are_the_last_dozen_and_marks_are_flags_of_the_trend(rig: RigPage) -> None:
    """The newest stands last; a mark says by whom."""
    for i in range(20):
        rig.tell(RUN, Problem(float(i), "probe-silent", "mix", f"Silent {i}."))
    rig.tell(RUN, POUR)
    rig.tell(RUN, Notice(200.0, "plateau-near", "Soon stiff."))
    news = rig.picture()["news"]

    assert len(news) == NEWS
    assert news[-2] == {
        "kind": "mark",
        "at": 180.0,
        "word": "pour",
        "text": "Mix poured; round 1.",
        "by": "maker",
    }
    assert news[-1]["kind"] == "notice"
    assert [flag["word"] for flag in rig.marks] == ["pour"]


def test_undo_is_offered_for_half_a_minute(
    rig: RigPage, full_state: MakeFull, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the clock on the wall, from when the mark is first seen."""
    now = [1000.0]
    monkeypatch.setattr("rigmon.outlets.page.picture.time.monotonic", lambda: now[0])
    rig.tell(RUN, full_state())
    assert rig.picture()["undo"] == {"text": "Mix is poured", "left_s": 30.0}
    now[0] += 29.0
    rig.tell(RUN, full_state(341.0))
    assert rig.picture()["undo"]["left_s"] == 1.0
    now[0] += 1.5
    assert rig.picture()["undo"] is None


def test_another_run_begins_afresh(rig: RigPage, full_state: MakeFull) -> None:
    """Rows, marks, news and the story of the run before are gone once another begins."""
    for said in (full_state(), POUR, RECHARGE, Summary(1485.0, {"rounds": 1})):
        rig.tell(RUN, said)
    rig.tell("rig-a-2", full_state(0.0, Stage.READY))
    picture = rig.picture()

    assert picture["run"] == "rig-a-2"
    assert picture["summary"] is None
    assert picture["news"] == picture["alarms"] == list(rig.marks) == []
    assert len(rig.history) == 1


def test_a_run_that_ended_says_so_until_another_begins(rig: RigPage, full_state: MakeFull) -> None:
    """Nothing is to be done any more and nothing alarms; the story stays."""
    for said in (full_state(), RECHARGE, Summary(1485.0, {"rounds": 1})):
        rig.tell(RUN, said)
    rig.tell(None, Problem(0.0, "page-open", "", "The run is over."))
    picture = rig.picture()

    assert picture["verb"] == "Done"
    assert picture["alarms"] == picture["choices"] == []  # A virtual kitchen is gone.
    assert picture["summary"] == {"run": RUN, "figures": {"rounds": 1}}
    assert picture["run"] is None


def test_a_program_that_leaves_ends_no_run(rig: RigPage, full_state: MakeFull) -> None:
    """Its summary so far is no end: the run can be gone on with."""
    rig.tell(RUN, full_state())
    rig.tell(None, Summary(312.0, {}))

    assert rig.picture()["summary"] is None
    assert rig.picture()["verb"] == "Keep beating"


def test_words_are_the_makers(full_state: MakeFull) -> None:
    """What a person reads is in the maker's language already."""
    rig = RigPage(Glance("rig-a", speech=Speech("de")), Counter())
    rig.tell(RUN, full_state())
    picture = rig.picture()

    assert picture["verb"] == "Weiterschlagen"
    assert picture["why"] == "wird fester: 1,8 %/min"
    assert picture["probes"][0]["quality_text"] == "gut"
    assert picture["undo"]["text"] == "Masse ist eingegossen"
