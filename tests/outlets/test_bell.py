"""The terminal's bell."""

from __future__ import annotations

import io
import queue
from collections.abc import Callable

from rigmon.outlets.bell import Bell
from rigmon.records import Alarm, AlarmState, Priority
from rigmon.run.alarms import SOUNDS

MakeAlarm = Callable[..., Alarm]
PATIENCE_S = 10.0


class Waits:
    """Time that passes when the test lets it: each wait of the bell is answered by hand."""

    def __init__(self) -> None:
        self.asked: queue.Queue[float | None] = queue.Queue()
        self.answers: queue.Queue[bool] = queue.Queue()

    def __call__(self, seconds: float | None) -> bool:
        """The bell waits."""
        self.asked.put(seconds)
        return self.answers.get(timeout=PATIENCE_S)

    def next(self, *, changed: bool) -> float | None:
        """How long the bell waits now; then its time is over, or something has changed."""
        seconds = self.asked.get(timeout=PATIENCE_S)
        self.answers.put(changed)
        return seconds


def test_an_alarm_rings_its_pattern_until_it_is_answered(make_alarm: MakeAlarm) -> None:
    """As many bursts as the table says, a beat apart, and again; then it is still."""
    terminal, waits = io.StringIO(), Waits()
    bell = Bell(terminal, waits)
    sound = SOUNDS[Priority.HIGH]
    bell.tell("rig-a", make_alarm("plateau-reached"))
    assert waits.next(changed=True) is None
    once = [waits.next(changed=False) for _ in range(sound.bursts)]
    again_s = waits.next(changed=False)
    first = waits.asked.get(timeout=PATIENCE_S)
    rung = terminal.getvalue()
    bell.tell("rig-a", make_alarm("plateau-reached", AlarmState.ACKNOWLEDGED))
    waits.answers.put(True)
    still = waits.asked.get(timeout=PATIENCE_S)
    waits.answers.put(True)
    bell.close()

    assert once == [(sound.on_ms + sound.off_ms) / 1000.0] * sound.bursts
    assert (again_s, first, still) == (sound.again_s, once[0], None)
    assert rung == "\a" * (sound.bursts + 1)


def test_a_low_alarm_rings_once(make_alarm: MakeAlarm) -> None:
    """Nobody is pressed for what can wait."""
    terminal, waits = io.StringIO(), Waits()
    bell = Bell(terminal, waits)
    bell.tell("rig-a", make_alarm("ice-gone"))
    waits.next(changed=True)
    waits.next(changed=False)
    after = waits.asked.get(timeout=PATIENCE_S)
    bell.tell("rig-a", make_alarm("ice-gone", AlarmState.ACKNOWLEDGED))
    waits.answers.put(True)
    waits.next(changed=True)
    bell.close()

    assert after is None
    assert terminal.getvalue() == "\a"
