"""Readings of one place gathered into blocks of five seconds, so that noise averages out."""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

BLOCK_S = 5.0
"""Length of a block [s]: shorter than what happens in the bowl, longer than motor noise."""


class Blocks:
    """Block means of the accepted readings of one place; late readings find their own block."""

    def __init__(self) -> None:
        self._number: list[int] = []
        self._weight: list[float] = []
        self._sum: list[float] = []

    def add(self, t: float, c: float, weight: float = 1.0) -> None:
        """Take in one accepted temperature [°C] taken at `t` [s]."""
        number = int(t // BLOCK_S)
        newest = not self._number or number > self._number[-1]
        place = len(self._number) if newest else bisect_left(self._number, number)
        if newest or self._number[place] != number:
            self._number.insert(place, number)
            self._weight.insert(place, 0.0)
            self._sum.insert(place, 0.0)
        self._weight[place] += weight
        self._sum[place] += weight * c

    def exchange(self, other: Blocks, since_s: float) -> None:
        """Give all blocks from `since_s` [s] on to another place, and take its own for them."""
        mine, its = (bisect_left(b._number, since_s // BLOCK_S) for b in (self, other))
        a, b = self, other
        a._number[mine:], b._number[its:] = b._number[its:], a._number[mine:]
        a._weight[mine:], b._weight[its:] = b._weight[its:], a._weight[mine:]
        a._sum[mine:], b._sum[its:] = b._sum[its:], a._sum[mine:]

    def usual_gap_s(self) -> float:
        """Mean distance of the last few blocks that hold readings [s]; 0 with fewer than two."""
        last = self._number[-6:]
        return (last[-1] - last[0]) * BLOCK_S / (len(last) - 1) if len(last) > 1 else 0.0

    def since(self, t: float) -> tuple[Array, Array, Array]:
        """Blocks from `t` [s] on.

        Returns:
            (n,) middles [s], (n,) means [°C], (n,) weights, in order of time.
        """
        first = bisect_left(self._number, int(t // BLOCK_S))
        middles = (np.array(self._number[first:], dtype=float) + 0.5) * BLOCK_S
        weights = np.array(self._weight[first:])
        return middles, np.array(self._sum[first:]) / weights, weights

    def mean_of_last(self, t: float, over_s: float) -> float | None:
        """Mean [°C] of the blocks that reach into the last `over_s` [s] before `t`, if any."""
        first = bisect_left(self._number, int((t - over_s) // BLOCK_S))
        end = bisect_left(self._number, int(t // BLOCK_S) + 1)
        weight = sum(self._weight[first:end])
        return sum(self._sum[first:end]) / weight if weight else None

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
        weights /= weights.sum()
        centre, level = float(weights @ age), float(weights @ means)
        slope = float(weights @ ((age - centre) * (means - level)))
        slope /= float(weights @ (age - centre) ** 2)
        return level - slope * centre, slope
