"""Telling a motor's spikes from what a probe really feels, reading by reading.

A reading is judged as it comes, against the few accepted before it, and is never held back: it is
taken as it is, or not at all. The course so far gives two guesses, its last level and its straight
continuation; a reading near either, or between them, is good. What lies farther off is a spike,
until enough readings in a row agree that the temperature has stepped.

The figures are common practice and were tuned on simulated probes; no source. Readings that are
no spikes are lost in fewer than 1 of 100 cases; a spike that gets through lies hardly farther off
than the scatter that the mixer makes anyway.
"""

from __future__ import annotations

from statistics import median
from typing import NamedTuple

WINDOW = 15
"""Accepted readings that a new one is judged by: 15 s of a board that sends once a second."""

LEVEL = 5
"""Accepted readings whose median is the last level."""

LEAST_SCATTER_K = 0.22
"""A probe that looks quieter is not trusted to stay so [K]: the mixer may start at any time, and
a converter with steps of 0.25 K may be three steps off."""

SPIKE_SCATTERS = 3.5
MOST_LIMIT_K = 3.0
"""A spike lies farther off than this many scatters, or than this many K."""

STEP_READINGS = 4
STEP_S = 3.0
"""A step is this many agreeing readings over this long [s]; a motor's bursts are 2 or 3."""

STEP_READINGS_AT_MOST = 40
"""Agreeing readings that are a step however soon they came."""

SLOW_STEP_READINGS = 2
"""The same where readings are so seldom that no mixer can be running."""

START_READINGS = 2
START_LIMIT_K = 1.5
"""Readings that must agree, and how closely [K], before there is a course at all; slow boards,
where much happens between two readings, may use `MOST_LIMIT_K`."""

ON_THE_WAY = 0.6
"""Two readings on the way to a new level may differ by this share of the step so far."""

MEMORY = 20.0
"""Readings over which the usual scatter is learnt."""


class _Off(NamedTuple):
    t: float
    c: float
    off_k: float


class Despiker:
    """The course of one probe: its usual scatter, and what is a spike against it."""

    def __init__(self) -> None:
        self._scatter_k = LEAST_SCATTER_K
        self._t: list[float] = []
        self._c: list[float] = []
        self._step: list[_Off] = []
        self._strays = 0

    @property
    def scatter_k(self) -> float:
        """Usual scatter of the readings about their course [K], at least `LEAST_SCATTER_K`."""
        return self._scatter_k

    def accepts(self, t: float, c: float, slow: bool = False) -> bool:
        """Judge one reading, and learn from it.

        Args:
            t: when it was taken [s], not before the one before it.
            c: temperature [°C].
            slow: readings come so seldom that no mixer can be running.

        >>> probe = Despiker()
        >>> [probe.accepts(t, c) for t, c in enumerate((4.0, 4.0, 4.0, 17.5, 3.9))]
        [False, True, True, False, True]
        """
        if not self._t:
            near_k = MOST_LIMIT_K if slow else START_LIMIT_K
            agrees = not self._step or abs(c - self._step[-1].c) <= near_k
            return self._steps(_Off(t, c, 0.0), agrees, START_READINGS, 0.0)
        level_c = median(self._c[-LEVEL:])
        straight_c = self._straight_c(t)
        low_c, high_c = min(level_c, straight_c), max(level_c, straight_c)
        now = _Off(t, c, c - min(max(c, low_c), high_c))
        limit_k = min(SPIKE_SCATTERS * self._scatter_k, MOST_LIMIT_K)
        agrees = self._agrees(now, limit_k, slow)
        if abs(now.off_k) <= limit_k:
            self._learn(min(abs(c - level_c), abs(c - straight_c)))
            if abs(now.off_k) < 0.5 * limit_k:
                self._step.clear()
            elif agrees:
                self._step.append(now)
            self._keep(t, c)
            return True
        if not (self._step and agrees):
            self._learn(abs(now.off_k))
        if slow:
            return self._steps(now, agrees, SLOW_STEP_READINGS, 0.0)
        return self._steps(now, agrees, STEP_READINGS, STEP_S)

    def _keep(self, t: float, c: float) -> None:
        self._t.append(t)
        self._c.append(c)
        if len(self._t) > WINDOW:
            del self._t[0], self._c[0]

    def _learn(self, off_k: float) -> None:
        # For normal scatter the mean of |x|, cut at 2.5 scatters, is the scatter over 1.26. The
        # cut keeps a spike of 30 K from counting for more than one that is just off.
        seen_k = 1.26 * min(off_k, 2.5 * self._scatter_k)
        self._scatter_k = max(
            self._scatter_k + (seen_k - self._scatter_k) / MEMORY, LEAST_SCATTER_K
        )

    def _straight_c(self, t: float) -> float:
        """Straight continuation of the course, through the medians of its outer thirds [°C]."""
        times, values = self._t, self._c
        third = max(1, len(times) // 3)
        first_t, last_t = times[third // 2], times[-1 - third // 2]
        run_s = last_t - first_t
        if run_s <= 0.0 or t - last_t > run_s:
            # A slope is carried on no farther than it was seen, so not over a gap.
            return median(values)
        slope = (median(values[-third:]) - median(values[:third])) / run_s
        return median([c + slope * (t - at) for at, c in zip(times, values, strict=True)])

    def _agrees(self, now: _Off, limit_k: float, slow: bool) -> bool:
        """Whether a reading goes on where those in `_step` went."""
        if not self._step:
            return True
        before = self._step[-1]
        if now.off_k * before.off_k < 0.0:
            return False
        # Between two slow readings much may happen: a freezer's air falls back after its door.
        on_the_way = slow or abs(now.off_k) > abs(before.off_k)
        way_k = max(abs(now.off_k), abs(before.off_k)) if on_the_way else 0.0
        return abs(now.c - before.c) <= max(limit_k, ON_THE_WAY * way_k)

    def _steps(self, now: _Off, agrees: bool, readings: int, seconds: float) -> bool:
        """Count a reading towards a step; with enough of them the course begins anew there."""
        if not agrees:
            self._strays += 1
            if 2 * self._strays > len(self._step):
                self._step = [now]
                self._strays = 0
            return False
        self._step.append(now)
        lasted = now.t - self._step[0].t >= seconds or len(self._step) >= STEP_READINGS_AT_MOST
        if len(self._step) < readings or not lasted:
            return False
        self._t = [off.t for off in self._step[-WINDOW:]]
        self._c = [off.c for off in self._step[-WINDOW:]]
        self._step = []
        self._strays = 0
        return True
