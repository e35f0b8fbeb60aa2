"""The newest words on one rig."""

from __future__ import annotations

from collections.abc import Callable

from rigmon.outlets.glance import (
    ALARM_STATES,
    PRIORITIES,
    QUALITIES,
    STAGES,
    TREND_S,
    Glance,
    alarm_line,
)
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
    Quality,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.speech import Speech

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]


def seen(*said: Said) -> Glance:
    """A glance that has heard some words."""
    glance = Glance("rig-a")
    for one in said:
        glance.tell(one)
    return glance


def test_alarms_stand_until_they_return_to_normal(make_alarm: MakeAlarm) -> None:
    """The most urgent first, each as it was last told."""
    glance = seen(
        make_alarm("probe-silent"),
        make_alarm("plateau-reached"),
        make_alarm("probe-silent", AlarmState.ACKNOWLEDGED),
    )
    standing = [(alarm.code, alarm.state) for alarm in glance.standing()]
    glance.tell(make_alarm("plateau-reached", AlarmState.RETURNED))

    assert standing == [
        ("plateau-reached", AlarmState.UNACKNOWLEDGED),
        ("probe-silent", AlarmState.ACKNOWLEDGED),
    ]
    assert [alarm.code for alarm in glance.standing()] == ["probe-silent"]


def test_a_forecast_that_is_not_said_again_has_ended(
    make_state: MakeState, ahead: tuple[Said, ...]
) -> None:
    """Once the plateau is told it is forecast no more, and no old range is left on the screen."""
    glance = seen(make_state(), *ahead)
    assert set(glance.forecasts) == {Event.PLATEAU, Event.BATH_LIMIT, Event.ICE_GONE}
    glance.tell(make_state(at=317.0))
    glance.tell(Forecast(317.0, Event.BATH_LIMIT, 1, 4000.0))

    assert set(glance.forecasts) == {Event.BATH_LIMIT}


def test_forecasts_go_stale_and_end_with_their_stage(
    make_state: MakeState, ahead: tuple[Said, ...]
) -> None:
    """Neither a stage that is over nor a minute of silence leaves one standing."""
    next_stage = seen(make_state(), *ahead, make_state(Stage.REST, 313.0))
    stale = seen(make_state(), *ahead, make_state(at=330.0))
    fresh = seen(make_state(), *ahead, make_state(at=316.0))

    assert next_stage.forecasts == stale.forecasts == {}
    assert len(fresh.forecasts) == len(ahead)


def test_another_run_begins_with_a_clean_sheet(
    make_state: MakeState, make_alarm: MakeAlarm, ahead: tuple[Said, ...]
) -> None:
    """Time that goes back is a new run: nothing of the old one stands."""
    glance = seen(make_state(), *ahead, make_alarm(), Summary(400.0, {}), make_state(at=0.0))

    assert (glance.forecasts, glance.alarms, glance.summary) == ({}, {}, None)
    assert len(glance.trend) == 1


def test_the_trend_holds_the_last_minutes(make_state: MakeState) -> None:
    """Ten minutes of bath and mix, and no more."""
    glance = seen(*(make_state(at=float(t)) for t in range(1000)))

    assert glance.trend[0][0] == 999.0 - TREND_S
    assert glance.trend[-1] == (999.0, -16.83, -2.614)


def test_what_happened_is_kept_in_few_words(make_alarm: MakeAlarm) -> None:
    """Marks, problems and alarms, the newest six; a quiet change by its call."""
    heard = MarkHeard(1.0, MarkWord.POUR, By.MAKER, {}, "Mix poured; round 1.")
    glance = seen(
        *[Problem(0.0, "x", "", "Old.")] * 9,
        heard,
        make_alarm(),
        make_alarm(state=AlarmState.RETURNED),
    )
    texts = [text for _, text in glance.notes]

    assert len(texts) == 6
    assert texts[-3:] == [
        "Mix poured; round 1.",
        "ALARM, high: Stop: to the freezer. About plateau-reached.",
        "“Stop: to the freezer”: returned to normal",
    ]


def test_one_that_went_unanswered_stays_to_be_seen(make_alarm: MakeAlarm) -> None:
    """It stands, quietly: nothing is left to do, so it is not the headline."""
    glance = seen(make_alarm(), make_alarm(state=AlarmState.RETURNED_UNACKNOWLEDGED))

    assert [alarm.code for alarm in glance.standing()] == ["plateau-reached"]
    assert glance.headline().priority is None


def test_a_notice_is_kept_among_what_happened() -> None:
    """It stands nowhere else: there is nothing to answer."""
    glance = seen(Notice(5.0, "plateau-near", "Soon stiff."))

    assert list(glance.notes) == [(5.0, "Soon stiff.")]
    assert glance.standing() == ()


def test_every_word_for_a_state_has_one_for_the_maker() -> None:
    """No stage, priority, state or quality is shown by its name in the program."""
    assert set(STAGES) == set(Stage)
    assert set(PRIORITIES) == set(Priority)
    assert set(ALARM_STATES) == set(AlarmState)
    assert set(QUALITIES) == set(Quality)


def test_an_alarm_is_told_in_the_makers_language(make_alarm: MakeAlarm) -> None:
    """Its own words come so already; those around it do too."""
    german = Speech("de")

    assert alarm_line(make_alarm(), german).startswith("ALARM, hoch: ")
    quiet = alarm_line(make_alarm(state=AlarmState.ACKNOWLEDGED), german)
    assert quiet == "„Stop: to the freezer“: quittiert"
