"""Plain lines for pipes and screen readers."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest

from rigmon.outlets.glance import Glance
from rigmon.outlets.plain import PlainView, state_line, summary_line
from rigmon.records import (
    Alarm,
    By,
    MarkHeard,
    MarkWord,
    Notice,
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

FIGURES = {
    "poured_s": 180.0,
    "plateau_s": 900.0,
    "frozen_pct": 41.3,
    "bath_min_c": -17.2,
    "readings": 2400,
    "rejected": 3,
}


def lines(
    *said: Said,
    glances: dict[str, Glance] | None = None,
    run_every_s: int = 1,
    speech: Speech | None = None,
) -> list[str]:
    """What the view writes of rig-a, whole seconds of the wall not waited for."""
    stream = io.StringIO()
    view = PlainView(
        stream,
        glances or {"rig-a": Glance("rig-a", speech=speech or Speech())},
        every_s=0.0,
        run_every_s=run_every_s,
    )
    for one in said:
        view.tell("rig-a", one)
    view.close()
    return stream.getvalue().splitlines()


def test_a_state_reads_from_left_to_right_as_it_matters(
    make_state: MakeState, ahead: tuple[Said, ...]
) -> None:
    """Time, stage, temperatures, share, ice, and what is ahead."""
    glance = Glance("rig-a")
    for one in (make_state(), *ahead):
        glance.tell(one)

    assert state_line(glance) == (
        " 5:12  beat 1  bath −16.8 °C  mix −2.6 °C  frozen 7 ± 2 %  ice 2.01 kg"
        "  stiff in 6–8 min  bath good for over 61 min"
    )


def test_units_are_the_makers(make_state: MakeState) -> None:
    """Fahrenheit and ounces, in the summary too."""
    american = Speech(temperature_unit="F", mass_unit="oz")
    (state, end) = lines(make_state(), Summary(1300.0, FIGURES), speech=american)

    assert "bath 1.7 °F  mix 27.3 °F" in state
    assert "ice 70.9 oz" in state
    assert "bath at best 1.0 °F" in end
    assert "°C" not in state + end


@pytest.mark.parametrize("stage", list(Stage))
@pytest.mark.parametrize("empty", [False, True])
def test_every_stage_can_be_told(make_state: MakeState, stage: Stage, empty: bool) -> None:
    """With figures or without, and no bath where there is none any more."""
    (line,) = lines(make_state(stage, empty=empty))

    assert stage.value in line
    assert ("bath" in line) == (stage not in {Stage.PACK, Stage.HARDEN, Stage.DONE})


def test_a_probe_that_is_not_good_is_named(make_state: MakeState) -> None:
    """And a good one is not."""
    (line,) = lines(make_state(quality=Quality.SILENT))

    assert line.endswith("mix probe silent")
    assert "bath probe" not in line


def test_what_happens_is_told_at_once(make_state: MakeState, make_alarm: MakeAlarm) -> None:
    """Between two states of a minute, alarms, notices, marks and problems come through."""
    heard = MarkHeard(30.0, MarkWord.SCRAPE, By.MAKER, {}, "Noted: scrape.")
    told = lines(
        make_state(at=0.0),
        make_state(at=10.0),
        heard,
        make_alarm(at=40.0),
        Notice(45.0, "plateau-near", "Soon stiff."),
        Problem(50.0, "probe-silent", "mix", "The mix probe has said nothing for 6 s."),
        make_state(at=60.0),
        run_every_s=60,
    )

    assert [line[:5].strip() for line in told] == ["0:00", "0:30", "0:40", "0:45", "0:50", "1:00"]
    assert told[2].endswith("ALARM, high: Stop: to the freezer. About plateau-reached.")


def test_a_virtual_rig_says_so_in_every_line(
    make_state: MakeState, make_alarm: MakeAlarm, ahead: tuple[Said, ...]
) -> None:
    """Nobody who reads one line of it takes it for a kitchen."""
    glances = {"rig-a": Glance("rig-a", virtual=True), "rig-b": Glance("rig-b")}
    told = lines(make_state(), *ahead, make_alarm(), Summary(9.0, FIGURES), glances=glances)

    assert len(told) == 3
    assert all(line.startswith("rig-a, virtual rig: ") for line in told)


def test_a_summary_leaves_out_what_is_not_known() -> None:
    """A run without pour, recipe or bath ends in a sentence all the same."""
    full = summary_line(Summary(1300.0, FIGURES))
    bare = summary_line(Summary(60.0, dict.fromkeys(FIGURES) | {"readings": 5, "rejected": 0}))

    assert full == (
        "Run of 21:40, plateau 12:00 after the pour, 41 % of the water frozen by beating, "
        "bath at best −17.2 °C, 2400 readings, 3 rejected."
    )
    assert bare == "Run of 1:00, 5 readings, 0 rejected."


def test_the_language_is_the_makers(make_state: MakeState, ahead: tuple[Said, ...]) -> None:
    """All words and the decimal comma, in the state and at the end."""
    glance = Glance("rig-a", speech=Speech("de"))
    for one in (make_state(quality=Quality.SILENT), *ahead):
        glance.tell(one)

    assert state_line(glance) == (
        " 5:12  schlagen 1  Bad −16,8 °C  Masse −2,6 °C  gefroren 7 ± 2 %  Eis 2,01 kg"
        "  fest in 6–8 min  Bad reicht über 61 min  Fühler mix stumm"
    )
    assert summary_line(Summary(1300.0, FIGURES), Speech("de")) == (
        "Lauf von 21:40, nicht mehr fester 12:00 nach dem Eingießen, 41 % des Wassers beim "
        "Schlagen gefroren, Bad bestenfalls −17,2 °C, 2400 Messwerte, 3 verworfen."
    )


def hours(stage: Stage, count: int, make_state: MakeState, step_s: float = 60.0) -> list[str]:
    """Lines of a stage in which a state is said every minute."""
    return lines(*(make_state(stage, at=step_s * n) for n in range(count)))


def test_a_night_in_the_freezer_is_a_line_in_two_hours(make_state: MakeState) -> None:
    """Where the same would be said again and again; the first is said at once."""
    told = hours(Stage.HARDEN, 12 * 60 + 1, make_state)

    assert [line.partition("  ")[0].strip() for line in told] == [
        "0:00",
        *(f"{hour} h 00 min" for hour in range(2, 13, 2)),
    ]


def test_what_changes_in_the_freezer_is_told_each_half_hour(make_state: MakeState) -> None:
    """And a stage that begins is told at once."""
    states = [make_state(Stage.HARDEN, at=60.0 * n) for n in range(121)]
    states = [
        replace(one, estimate=replace(one.estimate, frozen_pct=40.0 + n / 10))
        for n, one in enumerate(states)
    ]
    told = lines(*states, make_state(Stage.DONE, at=7201.0))

    assert len(told) == 6
    assert told[1].startswith("30:00")
    assert "done" in told[-1]


def test_beating_is_told_each_second_and_rest_each_minute(make_state: MakeState) -> None:
    """A maker at the bowl looks every moment, one who waits does not; what is the same waits."""
    assert len(hours(Stage.BEAT, 61, make_state, step_s=1.0)) == 61
    rest = [make_state(Stage.REST, at=float(n)) for n in range(181)]
    rest = [
        replace(one, estimate=replace(one.estimate, frozen_pct=30.0 + n / 10))
        for n, one in enumerate(rest)
    ]
    assert len(lines(*rest)) == 4
