"""The seam towards people and machines: what every outlet can do, and nothing more."""

from __future__ import annotations

from typing import Protocol

from rigmon.records import Said


class Outlet(Protocol):
    """Takes what monitors say, each rig's words in order of time; must not block for long."""

    def tell(self, rig_id: str, said: Said) -> None:
        """One thing said of a rig."""

    def close(self) -> None:
        """The program ends."""


class Due:
    """Lets the first state of every so many seconds of a run through.

    Args:
        every_s: so many seconds.

    >>> due = Due(60)
    >>> [due.falls("rig-a", at) for at in (0.0, 1.0, 59.0, 61.0, 62.0)]
    [True, False, False, True, False]
    """

    def __init__(self, every_s: float) -> None:
        self._every_s = every_s
        self._last: dict[str, float] = {}

    def falls(self, rig_id: str, at: float) -> bool:
        """Whether the state of a rig at run time `at` [s] is to be let through."""
        span = at // self._every_s
        if self._last.get(rig_id) == span:
            return False
        self._last[rig_id] = span
        return True
