"""A monitor that fails: who is told, and what goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    MarkHeard,
    Problem,
    Reading,
    Stage,
    State,
    Summary,
    parse_mark,
)
from rigmon.run.core import RunCore
from rigmon.service.rigwatch import RigWatch, understood
from rigmon.service.unfailing import CODE, SOON_S
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from rigmon.service.logkeeper import LogKeeper
    from rigmon.service.prepare import Rig
    from tests.service.conftest import Ears

T0 = 1_783_173_600.25


@pytest.fixture
def watch(rig: Rig, keeper: LogKeeper, ears: Ears) -> RigWatch:
    """A rig in its first round, watched from T0 on."""
    watch = RigWatch(rig, keeper, ears.tell, T0)
    for text in ("ice-in ice_g=2600 salt_g=650", "pour mix_g=900"):
        watch.take(parse_mark(text, T0))
    sample(watch, 1, 20)
    return watch


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> set[float]:
    """Whole seconds of a run at which a tick fails once; none to begin with."""
    seconds: set[float] = set()
    tick = RunCore.tick

    def broken(self: RunCore, t: float, *rest: object) -> object:
        if t in seconds:
            seconds.remove(t)
            raise ZeroDivisionError
        return tick(self, t, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(RunCore, "tick", broken)
    return seconds


def sample(watch: RigWatch, from_s: int, to_s: int) -> None:
    """Hand in a reading of each probe every second, and close the seconds."""
    for t in range(from_s, to_s + 1):
        watch.take(Reading(T0 + t, "bath", -16.0))
        watch.take(Reading(T0 + t, "mix", 4.0))
        watch.pass_time(T0 + t + 0.5)


def test_one_fault_costs_the_forecasts_and_nothing_else(
    watch: RigWatch, failing: set[float], ears: Ears, log: RunLog
) -> None:
    """The stage stands as the marks have it, states go on, every reading is in the log."""
    failing.add(25.0)
    sample(watch, 21, 40)
    (told,) = [one for one in ears.of(Problem) if one.what == CODE]

    assert "ZeroDivisionError" in told.text
    assert "marks" in told.text
    last = ears.of(State)[-1]
    assert (last.at, last.stage) == (40.0, Stage.BEAT)
    assert CODE not in {alarm.code for alarm in ears.of(Alarm)}
    log.commit()
    (row,) = log.runs()
    assert row.readings == 80


def test_alarms_of_the_monitor_that_failed_do_not_stay_on_the_screen(
    watch: RigWatch, failing: set[float], ears: Ears
) -> None:
    """The fresh one raises them again if their cause lasts."""
    watch.fault("log-stopped", "The disk is full.")
    sample(watch, 21, 24)
    failing.add(25.0)
    sample(watch, 25, 30)
    states = [alarm.state for alarm in ears.of(Alarm) if alarm.code == "log-stopped"]

    assert states == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED]


def test_a_rig_that_fails_again_soon_is_set_aside_and_the_maker_called(
    watch: RigWatch, failing: set[float], ears: Ears, log: RunLog
) -> None:
    """One alarm; readings and marks are still logged; a mark is answered; the run can be ended."""
    failing.update({25.0, 30.0})
    sample(watch, 21, 40)
    run_id = watch.run_id
    assert run_id is not None
    (alarm,) = [one for one in ears.of(Alarm) if one.code == CODE]
    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert alarm.text.startswith("Watch it yourself. ")

    mark = parse_mark("recharge ice_g=500 salt_g=100", T0 + 41.0)
    taken, answer = understood(mark, watch.take(mark))
    assert not taken
    assert "logged" in answer
    watch.take(parse_mark("ack", T0 + 42.0))
    assert ears.of(Alarm)[-1].state is AlarmState.ACKNOWLEDGED

    watch.end()
    (row,) = log.runs()
    assert (row.readings, row.marks, row.state) == (80, 4, RunState.ENDED)
    assert log.learned(watch.rig.setup.id) == ()


def test_a_fault_long_after_another_is_mended_like_the_first(
    watch: RigWatch, failing: set[float], ears: Ears
) -> None:
    """Only faults close together mean that going on is no use."""
    late = 25.0 + SOON_S + 5.0
    failing.update({25.0, late})
    sample(watch, 21, round(late) + 5)

    assert ears.of(State)[-1].at == late + 5.0
    assert CODE not in {alarm.code for alarm in ears.of(Alarm)}


def test_marks_after_the_fault_are_heard(watch: RigWatch, failing: set[float], ears: Ears) -> None:
    """And the run's end has its summary."""
    failing.add(25.0)
    sample(watch, 21, 30)
    watch.take(parse_mark("beat-stop", T0 + 31.0))
    watch.take(parse_mark("end", T0 + 32.0))

    assert ears.of(MarkHeard)[-1].word.value == "end"
    assert len(ears.of(Summary)) == 1
