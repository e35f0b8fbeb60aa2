"""How fast the mix stiffens just now."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import fmean

WINDOW_S = 90.0
"""So much is looked back on: the estimate moves in steps [s] (own choice)."""
_LEAST_S = 60.0


@dataclass(slots=True)
class Stiffening:
    """The frozen share of the last minute and a half of beating."""

    _seen: deque[tuple[float, float]] = field(default_factory=deque)

    def see(self, t: float, frozen_pct: float | None, *, beating: bool) -> None:
        """Take in the frozen share at `t` [s]; what was before a pause does not count."""
        if not beating or frozen_pct is None:
            self._seen.clear()
            return
        self._seen.append((t, frozen_pct))
        while t - self._seen[0][0] > WINDOW_S:
            self._seen.popleft()

    def pct_min(self) -> float | None:
        """Water that turns to ice in a minute [%/min]; None before a minute of beating is known.

        From the means of the first and the last third of the window.

        >>> rising = Stiffening()
        >>> for t in range(91):
        ...     rising.see(float(t), 0.03 * t, beating=True)
        >>> round(rising.pct_min(), 3)
        1.8
        """
        seen = tuple(self._seen)
        if len(seen) < 3 or seen[-1][0] - seen[0][0] < _LEAST_S:
            return None
        third = len(seen) // 3
        (t0, first), (t1, last) = (
            (fmean(t for t, _ in part), fmean(pct for _, pct in part))
            for part in (seen[:third], seen[-third:])
        )
        return 60.0 * (last - first) / (t1 - t0)
