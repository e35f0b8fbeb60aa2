"""What the board at the bowl is to sound."""

from __future__ import annotations

from collections.abc import Callable

from rigmon.outlets.cue import Cue
from rigmon.records import Alarm, AlarmState, State, Summary

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]


def test_the_most_urgent_unanswered_alarm_sounds(make_alarm: MakeAlarm) -> None:
    """It changes with the highest of them, is told once, and is off when none is left."""
    cue = Cue()
    told = [
        cue.tell(make_alarm(code, state))
        for code, state in [
            ("bath-limit-near", AlarmState.UNACKNOWLEDGED),
            ("plateau-reached", AlarmState.UNACKNOWLEDGED),
            ("probe-silent", AlarmState.UNACKNOWLEDGED),
            ("plateau-reached", AlarmState.ACKNOWLEDGED),
            ("bath-limit-near", AlarmState.RETURNED_UNACKNOWLEDGED),
            ("probe-silent", AlarmState.SHELVED),
            ("probe-silent", AlarmState.RETURNED),
        ]
    ]
    assert told == [
        ("medium", "bath-limit-near"),
        ("high", "plateau-reached"),
        None,
        ("medium", "bath-limit-near"),
        ("medium", "probe-silent"),
        ("off", "probe-silent"),
        None,
    ]


def test_nothing_sounds_on_after_its_run(make_state: MakeState, make_alarm: MakeAlarm) -> None:
    """The end of a run, or time that goes back, is the end of its alarms."""
    ended, another = Cue(), Cue()
    for cue in (ended, another):
        cue.tell(make_state(at=400.0))
        cue.tell(make_alarm())
    assert ended.tell(Summary(500.0, {})) == ("off", "plateau-reached")
    assert another.tell(make_state(at=401.0)) is None
    assert another.tell(make_state(at=0.0)) == ("off", "plateau-reached")
