"""What a few seconds of readings say of a rig's probes before the batch: rate, noise, board, swap.

Limits without a source are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from rigmon.probes.steadiness import step_k

BOARD_FROM_C, BOARD_TO_C = 5.0, 45.0
"""A board in a kitchen is this warm [°C]; beyond it stands beside the freezer or its regulator."""

QUIET_K, LOUD_K = 0.3, 0.9
"""Scatter at rest that is too much, and scatter beside a mixer that makes a probe noisy [K]."""

SPIKE_K = 1.5
SPIKES_SHARE = 0.1
"""More of the readings than this share lost as spikes is too much."""

SLOW_HZ, FAST_HZ = 0.45, 20.0
"""In the rounds one reading a second is right; slower blunts the forecasts, faster adds nothing."""

COLD_C, APART_K = -6.0, 4.0
"""A mix colder than this while the bath is so much warmer sits in each other's place [°C, K]."""

CLOCK_SHARE = 0.02
"""A board's clock that runs farther off spaces buffered samples wrong."""


@dataclass(frozen=True, slots=True)
class Noise:
    """How the readings of one probe scatter.

    Args:
        readings: how many.
        median_c: their middle [°C].
        scatter_k: standard deviation from one reading to the next, over √2 [K].
        spikes: readings more than 1.5 K from their neighbours.
        step_k: resolution [K]; 0 where all are the same.
    """

    readings: int
    median_c: float
    scatter_k: float
    spikes: int
    step_k: float

    @property
    def spiky(self) -> bool:
        """Whether too many readings are lost."""
        return self.spikes > max(1.0, SPIKES_SHARE * self.readings)


def noise_of(values_c: Sequence[float]) -> Noise | None:
    """How readings scatter, whatever their slow course; None for fewer than five.

    >>> noise = noise_of([4.0, 4.1, 4.0, 17.5, 4.0, 4.1, 4.0])
    >>> noise.spikes, round(noise.scatter_k, 2), round(noise.step_k, 2)
    (1, 0.06, 0.1)
    """
    if len(values_c) < 5:
        return None
    kept, spikes = [], 0
    for i, c in enumerate(values_c):
        near = [*values_c[max(0, i - 4) : i], *values_c[i + 1 : i + 5]]
        if abs(c - median(near)) > SPIKE_K:
            spikes += 1
        else:
            kept.append(c)
    if len(kept) < 3:
        return Noise(len(values_c), median(values_c), math.inf, spikes, 0.0)
    steps = [b - a for a, b in pairwise(kept)]
    scatter_k = math.sqrt(fmean(k * k for k in steps) / 2.0)
    return Noise(len(values_c), median(kept), scatter_k, spikes, step_k(kept))


def swapped(bath_c: float, mix_c: float) -> bool | None:
    """Whether bath and mix are each other's; None where they are too alike to tell.

    >>> swapped(-15.0, 3.5), swapped(3.5, -15.0), swapped(21.0, 21.3)
    (False, True, None)
    """
    if abs(bath_c - mix_c) < APART_K:
        return None
    if mix_c < bath_c:
        return True if mix_c < COLD_C else None
    return False if bath_c < 0.0 else None


def clock_rate(pairs: Sequence[tuple[float, float]]) -> float | None:
    """How fast a board's clock runs against ours, 1 being right; None where too little is known.

    Args:
        pairs: when each line came and the board's own time in it [s].

    >>> round(clock_rate([(t, 1.03 * t + 7.0) for t in range(20)]), 3)
    1.03
    """
    if len(pairs) < 5 or pairs[-1][0] - pairs[0][0] < 1.0:
        return None
    at, board = fmean(t for t, _ in pairs), fmean(s for _, s in pairs)
    spread = sum((t - at) ** 2 for t, _ in pairs)
    return sum((t - at) * (s - board) for t, s in pairs) / spread


def chip_steps(noise: Noise, boards_c: Sequence[float]) -> bool:
    """Whether reading and board come in the steps of a chip that takes wire for a straight line.

    Its words count 0.25 °C for the probe and 0.0625 °C for itself (MAX31855 data sheet). Others
    may, too; it is a reason to look, no proof.
    """
    board = step_k(boards_c)
    return (
        abs(noise.step_k - 0.25) < 1e-6
        and bool(boards_c)
        and (board == 0.0 or abs(board / 0.0625 - round(board / 0.0625)) < 1e-6)
        and all(abs(c / 0.0625 - round(c / 0.0625)) < 1e-6 for c in boards_c)
    )
