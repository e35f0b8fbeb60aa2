"""The service's wall clock: the computer's own, or a faster one for the virtual rig."""

from __future__ import annotations

import time


class Clock:
    """Seconds since 1970 that only go forward, `speed` times as fast as the clock on the wall.

    A jump of the computer's clock (network time arriving) does not reach a run: the clock is read
    once and then carried on by the monotonic counter.

    Args:
        speed: run seconds a second.
    """

    def __init__(self, speed: float = 1.0) -> None:
        self._origin = (time.time(), time.monotonic(), speed)

    @property
    def speed(self) -> float:
        """Run seconds a second."""
        return self._origin[2]

    def now(self) -> float:
        """The time [s, Unix]."""
        unix, monotonic, speed = self._origin
        return unix + (time.monotonic() - monotonic) * speed

    def run_at(self, speed: float) -> None:
        """Go on at another speed from now on."""
        self._origin = (self.now(), time.monotonic(), speed)
