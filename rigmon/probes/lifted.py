"""Telling that a probe was lifted out of the mix: it warms as no mix in a cold bowl can.

A litre of mix would need a kilowatt to warm by a kelvin in four seconds; a tip in air does so by
itself. Only a mix that supercooled and begins to freeze jumps as well, and it stops short of
freezing point, so that a rise counts only above that. The figures are own choices, on simulated
probes.
"""

from __future__ import annotations

from collections import deque
from statistics import median

LEAST_C = -1.0
"""A tip in the mix may jump to here by itself [°C]: a sweet mix freezes below it."""
RISE_K = 2.0
"""A rise by so much [K] ..."""
BEFORE_S, MEMORY_S = 8.0, 30.0
"""... above the level of readings between 8 and 30 s old [s] is that of a tip in air."""
NEWEST = 3
"""Readings that must agree, in order that no spike counts."""
BACK_K, SETTLED = 1.0, 5
"""A tip is back in the mix once this many readings in a row lie within so much of each other, and
no farther above the level at which it was lifted [K]."""


class Lifted:
    """Whether one probe is out of the mix, from its readings."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, float]] = deque()
        self._level_c: float | None = None

    @property
    def out(self) -> bool:
        """Whether it is out."""
        return self._level_c is not None

    def forget(self) -> None:
        """Begin anew: nobody expects the probe in the mix."""
        self._seen.clear()
        self._level_c = None

    def feed(self, t: float, c: float) -> bool:
        """Take in a reading [°C] that is no spike, taken at `t` [s]; returns whether it is out.

        >>> probe = Lifted()
        >>> any(probe.feed(t, -4.0) for t in range(30))
        False
        >>> [probe.feed(30 + t, -4.0 + 0.6 * t) for t in (2, 4, 6, 8, 10)]
        [False, False, False, False, True]
        """
        self._seen.append((t, c))
        while t - self._seen[0][0] > MEMORY_S:
            self._seen.popleft()
        last = [c for _, c in self._seen][-SETTLED:]
        if self._level_c is None:
            before = [c for at, c in self._seen if t - at >= BEFORE_S]
            risen_c = min(last[-NEWEST:])
            if len(before) >= NEWEST and risen_c > max(median(before) + RISE_K, LEAST_C):
                self._level_c = median(before)
        elif len(last) == SETTLED and max(last) < min(self._level_c, *last) + BACK_K:
            self.forget()
        return self.out
