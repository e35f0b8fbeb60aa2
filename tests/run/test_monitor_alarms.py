"""Alarms as the monitor tells them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rigmon.records import Alarm, AlarmState, Condition, Item, Mark, MarkWord, Reading, Said
from rigmon.run.monitor import Monitor

MakeRun = Callable[..., list[Item]]
MakeMonitor = Callable[..., Monitor]
Play = Callable[[Monitor, Iterable[Item]], list[Said]]


def without(run: Iterable[Item], probe: str, from_s: float) -> list[Item]:
    """A run whose probe falls silent."""
    return [i for i in run if not (isinstance(i, Reading) and i.probe == probe and i.t >= from_s)]


def of_alarm(said: Iterable[Said], code: str) -> list[tuple[float, AlarmState]]:
    """When an alarm changed, and to what."""
    return [(a.at, a.state) for a in said if isinstance(a, Alarm) and a.code == code]


def test_a_log_that_cannot_be_written_is_called(make_monitor: MakeMonitor) -> None:
    """A condition of the program raises its alarm with its own sentence, and ends it."""
    monitor = make_monitor()
    monitor.feed(Reading(0.0, "room", 20.0))
    monitor.feed(Condition(1.0, "log-stopped", True, "The disk is full."))
    said = monitor.advance(5.0)
    monitor.feed(Condition(5.5, "log-stopped", False, ""))
    said += monitor.advance(10.0)
    alarms = [one for one in said if isinstance(one, Alarm)]

    assert [alarm.state for alarm in alarms] == [
        AlarmState.UNACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
    ]
    assert alarms[0].text == "Make room on the disk. The disk is full."


def test_acknowledging_and_shelving_are_answered(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """By code or all at once; an alarm put aside says nothing for its time."""
    monitor = make_monitor()
    run = make_run(400)
    play(monitor, [item for item in without(run, "mix", 100.0) if item.t < 140.0])
    acknowledged = monitor.feed(Mark(140.5, MarkWord.ACK))
    shelved = monitor.feed(
        Mark(141.5, MarkWord.SHELVE, detail={"code": "probe-silent", "for_min": 1.0})
    )
    later = monitor.advance(230.0)

    assert of_alarm(acknowledged, "probe-silent") == [(140.5, AlarmState.ACKNOWLEDGED)]
    assert of_alarm(shelved, "probe-silent") == [(141.5, AlarmState.SHELVED)]
    assert of_alarm(later, "probe-silent") == [(202.0, AlarmState.UNACKNOWLEDGED)]
    assert [a.code for a in monitor.live_alarms()] == ["probe-silent"]
