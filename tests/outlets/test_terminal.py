"""The live view in a terminal."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from rich.console import Console

from rigmon.outlets.glance import Glance
from rigmon.outlets.terminal import LiveView, render
from rigmon.records import (
    Alarm,
    AlarmState,
    Problem,
    Quality,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.alarms import RULES
from rigmon.run.speech import Speech

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]


def picture(glance: Glance, width: int = 80) -> str:
    """One rig as it is drawn on a terminal."""
    console = Console(record=True, width=width, file=io.StringIO())
    console.print(render(glance))
    return console.export_text()


def seen(*said: Said, virtual: bool = False, speech: Speech | None = None) -> Glance:
    """A glance that has heard some words."""
    glance = Glance("rig-a", virtual, -9.0, speech or Speech())
    for one in said:
        glance.tell(one)
    return glance


@pytest.mark.parametrize("stage", list(Stage))
@pytest.mark.parametrize("empty", [False, True])
@pytest.mark.parametrize("width", [30, 80, 160])
def test_every_stage_is_drawn_on_every_terminal(
    make_state: MakeState, stage: Stage, empty: bool, width: int
) -> None:
    """With figures or without, and never wider than the terminal is."""
    glance = seen(make_state(stage, empty=empty))
    drawn = picture(glance, width=width)

    assert glance.headline().verb.upper()[:8] in drawn
    assert max(len(line) for line in drawn.splitlines()) <= width


def test_before_the_first_reading_there_is_a_picture_too() -> None:
    """It says that it waits."""
    assert "WAITING" in picture(seen())


def test_the_picture_has_verb_figures_and_what_is_ahead(
    make_state: MakeState, ahead: tuple[Said, ...]
) -> None:
    """What a maker looks for is there, with its spread."""
    drawn = picture(seen(make_state(), *ahead))

    for words in (
        "KEEP BEATING",
        "stiff in 6–8 min",
        "−16.8 °C",
        "22 % salt",
        "2.01 kg ± 320 g",
        "7 ± 2 % of its water",
        "148 ± 45 W out of the mix",
        "over 61 min",
        "beat 1",
        "5:12",
    ):
        assert words in drawn
    assert "virtual" not in drawn


def test_a_virtual_rig_says_so(make_state: MakeState) -> None:
    """In the title, where no figure can push it off."""
    assert "virtual rig" in picture(seen(make_state(), virtual=True)).splitlines()[0]


def test_units_are_the_makers(make_state: MakeState) -> None:
    """Fahrenheit and ounces throughout, trend and headline too."""
    american = Speech(temperature_unit="F", mass_unit="oz")
    ready = picture(seen(make_state(Stage.READY), speech=american))

    assert "1.7 °F" in ready
    assert "70.9 oz" in ready
    assert "°C" not in ready
    assert "kg" not in ready


@pytest.mark.parametrize("code", list(RULES))
def test_every_alarm_is_the_first_thing_seen(
    make_state: MakeState, make_alarm: MakeAlarm, code: str
) -> None:
    """Its verb in capitals and its sentence beside it."""
    drawn = picture(seen(make_state(), make_alarm(code)))

    assert RULES[code].call.upper() in drawn
    assert f"About {code}." in drawn


@pytest.mark.parametrize("quality", [q for q in Quality if q is not Quality.GOOD])
def test_a_probe_that_is_not_good_is_named(make_state: MakeState, quality: Quality) -> None:
    """By its own name, wherever it sits."""
    drawn = picture(seen(make_state(quality=quality)))

    assert "mix probe" in drawn
    assert quality.value in drawn
    assert "bath probe" not in drawn


def test_words_that_look_like_markup_are_shown_as_they_are(make_state: MakeState) -> None:
    """A note in brackets is a note."""
    drawn = picture(seen(make_state(), Problem(1.0, "note", "", "Take [bold] care [/nothing].")))

    assert "Take [bold] care [/nothing]." in drawn


def test_the_view_shows_alarms_at_once_and_leaves_the_summaries(
    make_state: MakeState, make_alarm: MakeAlarm
) -> None:
    """An alarm is not kept waiting for the next picture; at the end the run is told in a line."""
    console = Console(record=True, width=80, force_terminal=True, file=io.StringIO())
    view = LiveView({"rig-a": Glance("rig-a", virtual=True)}, console=console)
    figures = {
        "poured_s": None,
        "plateau_s": None,
        "frozen_pct": None,
        "bath_min_c": -17.2,
        "readings": 9,
        "rejected": 0,
    }
    view.tell("rig-a", make_state())
    view.tell("rig-a", make_alarm())
    at_once = console.export_text(clear=False)
    view.tell("rig-a", make_alarm(state=AlarmState.RETURNED))
    view.tell("rig-a", Summary(400.0, figures))
    view.close()

    assert "STOP: TO THE FREEZER" in at_once
    assert (
        console.export_text()
        .rstrip()
        .endswith("rig-a, virtual rig: Run of 6:40, bath at best −17.2 °C, 9 readings, 0 rejected.")
    )
