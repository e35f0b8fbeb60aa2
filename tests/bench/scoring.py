"""How forecasts are scored: pinball loss, what intervals hold, and how sure it is over rigs.

A forecast is three times: those by which the event happens with probability 0.1, 0.5 and 0.9. One
that lies beyond the forecaster's horizon is None and counts as the horizon.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Times = tuple[float | None, float | None, float | None]
Statistic = Callable[..., Array]

LEVELS = (0.1, 0.5, 0.9)
DECILES = tuple(n / 10 for n in range(1, 10))
QUARTILES = (0.25, 0.75)
HORIZON_S = 7200.0
SURE = 0.9
"""Intervals of what is measured hold this share of the draws."""
_DRAWS = 4000
_SEED = 1


def told(times: Sequence[float | None]) -> bool:
    """Whether a forecast says anything at all."""
    return any(value is not None for value in times)


def filled(times: Sequence[float | None], at_s: float) -> tuple[float, ...]:
    """Times of a forecast made at `at_s` [s], those beyond its horizon at the horizon [s]."""
    return tuple(at_s + HORIZON_S if value is None else value for value in times)


def pinball_s(times: Sequence[float], truth_s: float) -> float:
    """Pinball loss [s], mean over the levels p: p d where d = truth − time > 0, else (p − 1) d.

    Source: Koenker and Bassett, Regression quantiles, Econometrica 46 (1978), the loss that a
    quantile minimises.
    """
    late = [truth_s - value for value in times]
    return float(np.mean([max(p * d, (p - 1.0) * d) for p, d in zip(LEVELS, late, strict=True)]))


def part(times: Sequence[float], truth_s: float) -> int:
    """Which of the parts that the times cut all time into holds the truth: 0 is before the first.

    Of the deciles it is the bin of the probability integral transform: evenly filled if they hold.
    """
    return sum(truth_s > value for value in times)


def holds(times: Sequence[float], truth_s: float) -> bool:
    """Whether the interval from the first to the last time, its ends included, holds the truth."""
    return times[0] <= truth_s <= times[-1]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure over rigs and how far other rigs of the same kind would have moved it.

    Args:
        value: from the rigs that there are; NaN where there is none.
        low: lower end of its interval.
        high: upper end.
    """

    value: float
    low: float
    high: float

    def text(self, digits: int = 2, unit: str = "") -> str:
        """Value and interval, as in `0.46 (0.41–0.52)`; a dash where there is no value."""
        if np.isnan(self.value):
            return "-"
        low, high = (f"{end:.{digits}f}" for end in (self.low, self.high))
        return f"{self.value:.{digits}f}{unit} ({low}–{high})"


def over_rigs(statistic: Statistic, *columns: ArrayLike) -> Figure:
    """A statistic of columns with a value per rig, with its bootstrap interval over the rigs.

    Args:
        statistic: of arrays whose last axis is the rigs, over that axis.
        columns: (n,) each.
    """
    arrays = [np.asarray(column, dtype=float) for column in columns]
    if not arrays[0].size:
        return Figure(np.nan, np.nan, np.nan)
    count = arrays[0].size
    drawn = np.random.default_rng(_SEED).integers(count, size=(_DRAWS, count))
    with np.errstate(invalid="ignore", divide="ignore"):
        value = float(statistic(*arrays))
        draws = statistic(*(array[drawn] for array in arrays))
    draws = draws[~np.isnan(draws)]
    if not draws.size:
        return Figure(value, np.nan, np.nan)
    tail = 0.5 * (1.0 - SURE)
    low, high = np.quantile(draws, (tail, 1.0 - tail), method="nearest")
    return Figure(value, float(low), float(high))


def ratio(over: Array, under: Array) -> Array:
    """Ratio of two sums over rigs."""
    return np.asarray(over.sum(axis=-1) / under.sum(axis=-1))


def mean(values: Array) -> Array:
    """Mean over rigs."""
    return np.asarray(values.mean(axis=-1))


def median(values: Array) -> Array:
    """Median over rigs; infinite ones count as the largest."""
    return np.asarray(np.quantile(values, 0.5, axis=-1, method="higher"))
