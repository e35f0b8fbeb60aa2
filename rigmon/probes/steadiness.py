"""Whether a probe's readings stand still: how far they drift, scatter and step, and how surely.

A stretch of readings is cut into eight blocks of equal length, and everything is asked of the
blocks' means: neighbouring readings share the wander of the bath, blocks of 15 s hardly do. A
straight line through the means is the drift; what they leave over beside it says how surely the
drift and the mean are known. Figures without a source are own choices.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

BLOCKS = 8
LEAST_BLOCKS = 6
LEAST_READINGS = 24
"""Fewer readings, or a stretch with more than two blocks empty, say nothing."""

WINDOWS_S = (120.0, 240.0, 480.0)
"""Stretches that are tried, the newest readings first [s]: a noisy or coarse probe takes longer."""

DRIFT_LIMIT_K, DRIFT_LIMIT_STEPS = 0.1, 0.6
"""A bath stands still if, within its uncertainty (two standard deviations), the reading moves by no
more than this over the whole stretch [K], or by no more than this share of a coarse step."""

_SPIKE_MADS = 6.0
_SPIKE_K = 0.5
_MAD_TO_SD = 1.4826


@dataclass(frozen=True, slots=True)
class Steadiness:
    """What a stretch of readings shows.

    Args:
        readings: how many of them count.
        spikes: how many were left out as spikes.
        over_s: length of the stretch [s].
        mean_c: their mean [°C].
        mean_sd_k: standard uncertainty of the mean, by the blocks [K] (GUM type A).
        drift_k: how far a straight line through them goes over the stretch [K].
        drift_sd_k: its standard uncertainty [K].
        scatter_k: standard deviation of single readings about that line [K].
        step_k: smallest step between two readings, the resolution [K]; 0 where all are the same.
    """

    readings: int
    spikes: int
    over_s: float
    mean_c: float
    mean_sd_k: float
    drift_k: float
    drift_sd_k: float
    scatter_k: float
    step_k: float

    @property
    def limit_k(self) -> float:
        """How far readings that stand still may drift [K]."""
        return max(DRIFT_LIMIT_K, DRIFT_LIMIT_STEPS * self.step_k)

    @property
    def still(self) -> bool:
        """Whether the readings stand still."""
        return abs(self.drift_k) + 2.0 * self.drift_sd_k <= self.limit_k

    @property
    def moves(self) -> bool:
        """Whether they surely move: a longer look would not help."""
        return abs(self.drift_k) - 2.0 * self.drift_sd_k > self.limit_k


def step_k(values: Sequence[float]) -> float:
    """Smallest step between two values [K]; 0 where all are the same.

    Steps below 0.1 mK are rounding of the arithmetic, no resolution.

    >>> step_k((0.25, 0.5, 0.25, 1.0)), step_k((3.0, 3.0))
    (0.25, 0.0)
    """
    rising = sorted(set(values))
    steps = [b - a for a, b in pairwise(rising) if b - a > 1e-4]
    return min(steps, default=0.0)


def steadiness(times_s: Sequence[float], values_c: Sequence[float]) -> Steadiness | None:
    """What a stretch of readings shows; None where there are too few.

    Args:
        times_s: when each was taken [s], in order.
        values_c: temperatures [°C].

    >>> still = steadiness(range(120), [0.3 + 0.05 * (k % 2) for k in range(120)])
    >>> round(still.mean_c, 3), round(still.step_k, 2), still.still
    (0.325, 0.05, True)
    >>> steadiness(range(120), [20.0 - 0.01 * k for k in range(120)]).moves
    True
    """
    if len(values_c) < LEAST_READINGS or times_s[-1] <= times_s[0]:
        return None
    kept = _without_spikes(times_s, values_c)
    over_s = times_s[-1] - times_s[0]
    blocks: list[list[tuple[float, float]]] = [[] for _ in range(BLOCKS)]
    for t, c in kept:
        blocks[min(int(BLOCKS * (t - times_s[0]) / over_s), BLOCKS - 1)].append((t, c))
    full = [block for block in blocks if block]
    if len(full) < LEAST_BLOCKS:
        return None
    at = [fmean(t for t, _ in block) for block in full]
    mean = [fmean(c for _, c in block) for block in full]
    at_mean, mean_c = fmean(at), fmean(mean)
    spread = sum((t - at_mean) ** 2 for t in at)
    slope = sum((t - at_mean) * (c - mean_c) for t, c in zip(at, mean, strict=True)) / spread
    left = [c - mean_c - slope * (t - at_mean) for t, c in zip(at, mean, strict=True)]
    freedom = len(full) - 2
    of_block_k = math.sqrt(sum(k * k for k in left) / freedom)
    about = [c - mean_c - slope * (t - at_mean) for t, c in kept]
    scatter_k = math.sqrt(sum(k * k for k in about) / max(len(about) - 2, 1))
    step = step_k([c for _, c in kept])
    # Where the readings hardly leave one step, the drift hides in it.
    hidden_k = step / math.sqrt(12.0) if scatter_k < 0.5 * step else 0.0
    return Steadiness(
        readings=len(kept),
        spikes=len(values_c) - len(kept),
        over_s=over_s,
        mean_c=mean_c,
        # A deviation found from few blocks is itself unsure: Student's t is so much wider.
        mean_sd_k=of_block_k * math.sqrt(freedom / (freedom - 2) / len(full)),
        drift_k=slope * over_s,
        drift_sd_k=math.hypot(of_block_k / math.sqrt(spread) * over_s, 0.3 * hidden_k),
        scatter_k=scatter_k,
        step_k=step,
    )


def settled(times_s: Sequence[float], values_c: Sequence[float]) -> Steadiness | None:
    """What the newest readings show, over the shortest stretch that stands still.

    Args:
        times_s: when each was taken [s], in order.
        values_c: temperatures [°C].

    Returns:
        The stretch that stands still; where none does the shortest; None where all are too short.
    """
    first: Steadiness | None = None
    for window_s in WINDOWS_S:
        if times_s and times_s[-1] - times_s[0] >= 0.98 * window_s:
            since = times_s[-1] - window_s
            begin = next(i for i, t in enumerate(times_s) if t >= since)
            seen = steadiness(times_s[begin:], values_c[begin:])
            if seen is not None and seen.still:
                return seen
            first = first or seen
    return first


def _without_spikes(
    times_s: Sequence[float], values_c: Sequence[float]
) -> list[tuple[float, float]]:
    """Readings near the middle of their fifteen neighbours; a drift leaves them all in."""
    kept = []
    for i, (t, c) in enumerate(zip(times_s, values_c, strict=True)):
        near = values_c[max(0, i - 7) : i + 8]
        middle = median(near)
        sd_k = _MAD_TO_SD * median(abs(one - middle) for one in near)
        if abs(c - middle) <= max(_SPIKE_MADS * sd_k, _SPIKE_K):
            kept.append((t, c))
    return kept
