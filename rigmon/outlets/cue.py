"""What the board at the bowl is to sound: the most urgent alarm that nobody has answered."""

from __future__ import annotations

import math

from rigmon.records import Alarm, AlarmState, Priority, Said, State, Summary

OFF = "off"


class Cue:
    """Follows the alarms of one rig; among equals the one that sounded first is meant."""

    def __init__(self) -> None:
        self._sounding: dict[str, Priority] = {}
        self._at = -math.inf
        self._told = (OFF, "")

    def tell(self, said: Said) -> tuple[str, str] | None:
        """Take in one thing said; returns level and code if the board is to sound otherwise."""
        if isinstance(said, Alarm):
            if said.state is AlarmState.UNACKNOWLEDGED:
                self._sounding.setdefault(said.code, said.priority)
            else:
                self._sounding.pop(said.code, None)
        elif isinstance(said, Summary):
            self._sounding.clear()
        elif isinstance(said, State):
            if said.at < self._at:
                # Another run: what sounded in the one before is over.
                self._sounding.clear()
            self._at = said.at
        return self._changed()

    def _changed(self) -> tuple[str, str] | None:
        order = list(Priority)
        code = max(self._sounding, key=lambda c: order.index(self._sounding[c]), default=None)
        wanted = (OFF, self._told[1]) if code is None else (self._sounding[code].value, code)
        if wanted == self._told:
            return None
        self._told = wanted
        return wanted
