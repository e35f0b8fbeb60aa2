"""Times ahead: by which probabilities a forecast tells them, and how far it looks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LEVELS = (0.1, 0.5, 0.9)
"""Probabilities by which a forecast tells its times."""
HORIZON_S = 7200.0
"""How far ahead rounds, rests and baths are looked at [s]."""


def quantiles(
    times: NDArray[np.float64],
    latest: float,
    weights: NDArray[np.float64] | None = None,
) -> tuple[float | None, ...]:
    """Quantiles of times at `LEVELS`, by weight if given; None where past `latest`.

    >>> quantiles(np.arange(10.0), 6.0)
    (0.0, 4.0, None)
    """
    order = np.argsort(times)
    weight = np.ones(times.size) if weights is None else weights[order]
    reached = np.cumsum(weight) / np.sum(weight)
    found = times[order][np.minimum(np.searchsorted(reached, LEVELS), times.size - 1)]
    return tuple(float(value) if value <= latest else None for value in found)
