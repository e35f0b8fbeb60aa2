"""Readings of one place gathered into blocks of five seconds, so that noise averages out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCK_S = 5.0
"""Length of a block [s]: shorter than what happens in the bowl, longer than motor noise."""


class Blocks:
    """Block means of the accepted readings of one place; late readings find their own block."""

    def __init__(self) -> None:
        self._sums: dict[int, list[float]] = {}

    def add(self, t: float, c: float, weight: float = 1.0) -> None:
        """Take in one accepted temperature [°C] taken at `t` [s]."""
        index = int(t // BLOCK_S)
        sums = self._sums.setdefault(index, [0.0, 0.0])
        sums[0] += weight
        sums[1] += weight * c

    def usual_gap_s(self) -> float:
        """Mean distance of the last few blocks that hold readings [s]; 0 with fewer than two."""
        last = list(self._sums)[-6:]
        return (last[-1] - last[0]) * BLOCK_S / (len(last) - 1) if len(last) > 1 else 0.0

    def since(self, t: float) -> tuple[Array, Array, Array]:
        """Blocks from `t` [s] on.

        Returns:
            (n,) middles [s], (n,) means [°C], (n,) weights, in order of time.
        """
        first = int(t // BLOCK_S)
        order = sorted(i for i in self._sums if i >= first)
        middles = (np.array(order, dtype=float) + 0.5) * BLOCK_S
        weights = np.array([self._sums[i][0] for i in order])
        means = np.array([self._sums[i][1] / self._sums[i][0] for i in order])
        return middles, means, weights

    def mean_of_last(self, t: float, over_s: float) -> float | None:
        """Mean [°C] of the blocks that reach into the last `over_s` [s] before `t`, if any."""
        first, last = int((t - over_s) // BLOCK_S), int(t // BLOCK_S)
        weight = total = 0.0
        for index in range(first, last + 1):
            sums = self._sums.get(index)
            if sums is not None:
                weight += sums[0]
                total += sums[1]
        return total / weight if weight else None

    def trend(self, t: float, over_s: float) -> tuple[float, float] | None:
        """Straight line through the last `over_s` [s], newest blocks counting most.

        Returns:
            value at `t` [°C] and slope [K/s]; None with fewer than four blocks.
        """
        middles, means, _ = self.since(t - over_s)
        if middles.size < 4:
            return None
        age = middles - t
        weights = np.exp(age / (0.5 * over_s))
        centre = float(np.average(age, weights=weights))
        level = float(np.average(means, weights=weights))
        spread = float(np.sum(weights * (age - centre) ** 2))
        slope = float(np.sum(weights * (age - centre) * (means - level)) / spread)
        return level - slope * centre, slope
