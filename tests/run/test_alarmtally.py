"""The alarms of a run counted."""

from __future__ import annotations

from rigmon.records import AlarmState
from rigmon.run.alarmtally import tallied


def alarm(at: float, code: str, state: AlarmState) -> dict[str, object]:
    """An alarm's JSON line."""
    return {"type": "alarm", "at": at, "code": code, "priority": "low", "state": state.value}


def raised(*times: float) -> list[dict[str, object]]:
    """An alarm that is raised at these times, and over a second later each time."""
    return [
        alarm(at + later, "door-open", state)
        for at in times
        for later, state in (
            (0.0, AlarmState.UNACKNOWLEDGED),
            (1.0, AlarmState.RETURNED_UNACKNOWLEDGED),
        )
    ]


def test_the_alarm_that_stood_longest_comes_first() -> None:
    """One that stands at the end counts to the last word of the run."""
    lines = [
        *raised(10.0),
        alarm(20.0, "ice-gone", AlarmState.UNACKNOWLEDGED),
        {"type": "summary", "at": 320.0},
    ]
    assert [(one.code, one.stood_s) for one in tallied(lines)] == [
        ("ice-gone", 300.0),
        ("door-open", 1.0),
    ]


def test_an_answer_is_counted_with_who_gave_it() -> None:
    """By whom, and how long after it was raised."""
    lines = [
        alarm(20.0, "ice-gone", AlarmState.UNACKNOWLEDGED),
        {"type": "mark", "at": 32.0, "mark": "ack", "by": "maker"},
        alarm(32.0, "ice-gone", AlarmState.ACKNOWLEDGED),
        alarm(50.0, "ice-gone", AlarmState.RETURNED),
    ]
    (one,) = tallied(lines)

    assert (one.answered, one.stood_s, one.raised_s) == ([("maker", 12.0)], 30.0, [20.0])


def test_three_times_within_a_minute_is_chatter() -> None:
    """Twice, or three times over more than a minute, is not."""
    assert tallied(raised(0.0, 30.0, 60.0))[0].chattered
    assert not tallied(raised(0.0, 30.0, 61.0))[0].chattered
    assert not tallied(raised(0.0, 1.0))[0].chattered


def test_what_never_sounded_is_not_counted() -> None:
    """Shelved before it could."""
    assert tallied([alarm(5.0, "ice-gone", AlarmState.SHELVED)]) == ()
