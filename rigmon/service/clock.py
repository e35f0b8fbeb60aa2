"""The service's wall clock: the computer's own, or a faster one for the virtual rig."""

from __future__ import annotations

import time

AFTER_TICK_S = 0.001
"""Times are kept to this [s]: a run's clock that far past a second has closed it."""


def _steady_s() -> float:
    """Seconds that only go forward, and also while the computer sleeps: ice melts then too."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


class Clock:
    """Seconds since 1970 that only go forward, `speed` times as fast as the clock on the wall.

    A jump of the computer's clock (network time arriving) does not reach a run: the clock is read
    once and then carried on by a steady counter.

    Args:
        speed: run seconds a second.
    """

    def __init__(self, speed: float = 1.0) -> None:
        self._origin = (time.time(), _steady_s(), speed)

    @property
    def speed(self) -> float:
        """Run seconds a second."""
        return self._origin[2]

    def now(self) -> float:
        """The time [s, Unix]."""
        unix, steady, speed = self._origin
        return unix + (_steady_s() - steady) * speed

    def run_at(self, speed: float) -> None:
        """Go on at another speed from now on."""
        self._origin = (self.now(), _steady_s(), speed)


def time_of_day(unix: float) -> str:
    """A time [s, Unix] as the maker's own clock shows it, with the day if that is not today."""
    moment, today = time.localtime(unix), time.localtime()
    same_day = moment[:3] == today[:3]
    return time.strftime("%H:%M" if same_day else "%Y-%m-%d %H:%M", moment)
