"""Whether the mixer runs, from its power or from the scatter that its motor puts on the probes.

The figures are own choices, on simulated probes.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field

from rigmon.records import Place

WINDOW_S, LEAST_READINGS = 30.0, 20
"""Scatter is that of the last half minute, if there are so many readings."""
MOST_GAP_S, MOST_STEP_K = 2.5, 1.0
"""Readings farther apart tell of the mix and not of the motor; a greater step is a spike."""
SEEN_SHARE = 0.8
"""Share of that half minute that has passed before a change is seen in it."""
LEAST_SCATTER_K = 0.13
"""A motor that scatters the probes by less is not told from none [K]."""
STOPS_BELOW, RUNS_ABOVE = 0.5, 0.7
"""Shares of the scatter while beating below which it stands, and above which it runs."""
LEARNED_S = 120.0
"""The scatter while beating is learned for this long before it is believed [s]."""
STOPPED_FOR_S, RUNNING_FOR_S = 15.0, 10.0
"""So long it stands, or runs, before that is told [s]."""
RUNNING_W = 10.0
"""A mixer that draws less stands [W]."""
_SHAKEN = frozenset({Place.BATH, Place.MIX})


@dataclass(slots=True)
class Motor:
    """The mixer's motor, reading by reading."""

    _before: dict[str, tuple[float, float]] = field(default_factory=dict)
    _squares: deque[tuple[float, float]] = field(default_factory=deque)
    _beaten_s: float = 0.0
    _beaten_k2: float = 0.0
    _newest_s: float = -math.inf
    _since: tuple[bool, float] | None = None
    _by_power: bool = False

    def feed(self, probe: str, place: Place, t: float, value: float, *, beating: bool) -> None:
        """Take in an accepted reading [°C, of the mixer W]; `beating` is what the run believes."""
        if place is Place.MIXER:
            self._by_power = True
            self._tell(t, running=value >= RUNNING_W)
            return
        before = self._before.get(probe)
        self._before[probe] = t, value
        if self._by_power or place not in _SHAKEN or before is None:
            return
        if not 0.0 < t - before[0] <= MOST_GAP_S or abs(value - before[1]) > MOST_STEP_K:
            return
        self._squares.append((t, 0.5 * (value - before[1]) ** 2))
        while t - self._squares[0][0] > WINDOW_S:
            self._squares.popleft()
        self._judge(t, beating=beating)

    def _judge(self, t: float, *, beating: bool) -> None:
        if len(self._squares) < LEAST_READINGS or t - self._squares[0][0] < 0.8 * WINDOW_S:
            self._since = None
            return
        now_k2 = sum(square for _, square in self._squares) / len(self._squares)
        passed_s = min(max(t - self._newest_s, 0.0), MOST_GAP_S)
        self._newest_s = t
        stands = now_k2 < STOPS_BELOW**2 * self._beaten_k2
        if beating and not stands:
            self._beaten_s = min(self._beaten_s + passed_s, LEARNED_S)
            share = passed_s / max(self._beaten_s, passed_s, 1.0)
            self._beaten_k2 += share * (now_k2 - self._beaten_k2)
        if self._beaten_s < LEARNED_S or self._beaten_k2 < LEAST_SCATTER_K**2:
            self._since = None
        elif stands:
            self._tell(t, running=False)
        elif now_k2 > RUNS_ABOVE**2 * self._beaten_k2:
            self._tell(t, running=True)

    def _tell(self, t: float, *, running: bool) -> None:
        if self._since is None or self._since[0] is not running:
            self._since = running, t
        self._newest_s = t

    def stopped_s(self) -> float | None:
        """Run time at which it stopped [s]; None while it runs, or where it cannot be told."""
        return self._began_s(False, STOPPED_FOR_S)

    def started_s(self) -> float | None:
        """Run time at which it started [s]; None while it stands, or where it cannot be told."""
        return self._began_s(True, RUNNING_FOR_S)

    def _began_s(self, running: bool, for_s: float) -> float | None:
        if self._since is None or self._since[0] is not running:
            return None
        since_s = self._since[1]
        if self._newest_s - since_s < for_s:
            return None
        return since_s if self._by_power else since_s - SEEN_SHARE * WINDOW_S
