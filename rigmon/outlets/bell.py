"""The terminal's bell: an alarm's pattern, again and again until it is answered."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import IO

from rigmon.records import Alarm, AlarmState, Priority
from rigmon.run.alarms import SOUNDS


class Bell:
    """Rings the pattern of the most urgent alarm that nobody has answered.

    A terminal's bell has one length, so that of a pattern only the beat is heard.

    Args:
        stream: the terminal.
        wait: waits so many seconds [s] or until something has changed; for tests.
    """

    def __init__(self, stream: IO[str], wait: Callable[[float | None], bool] | None = None) -> None:
        self._stream = stream
        self._changed = threading.Event()
        self._wait = wait or self._changed.wait
        self._sounding: dict[tuple[str, str], Priority] = {}
        self._closed = False
        self._thread = threading.Thread(target=self._ring, name="bell", daemon=True)
        self._thread.start()

    def tell(self, rig_id: str, alarm: Alarm) -> None:
        """Take in an alarm that changed."""
        key = (rig_id, alarm.code)
        sounding = {k: v for k, v in self._sounding.items() if k != key}
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            sounding[key] = alarm.priority
        self._sounding = sounding
        self._changed.set()

    def close(self) -> None:
        """Ring no more."""
        self._closed = True
        self._changed.set()
        self._thread.join()

    def _ring(self) -> None:
        while not self._closed:
            self._changed.clear()
            loudest = max(self._sounding.values(), key=list(Priority).index, default=None)
            if loudest is None:
                self._wait(None)
                continue
            sound = SOUNDS[loudest]
            if not self._rung(sound.bursts, (sound.on_ms + sound.off_ms) / 1000.0):
                self._wait(sound.again_s or None)

    def _rung(self, bursts: int, beat_s: float) -> bool:
        """Ring a pattern; returns whether something has changed meanwhile."""
        for _ in range(bursts):
            try:
                self._stream.write("\a")
                self._stream.flush()
            except (OSError, ValueError):
                # The terminal has gone, as the view itself will find.
                self._closed = True
                return True
            if self._wait(beat_s):
                return True
        return False
