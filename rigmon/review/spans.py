"""Ranges of estimated figures."""

from __future__ import annotations

import math

from rigmon.review.measures import Span

P90 = 1.2816
"""The 90 % quantile of the standard normal."""


def spread(mean: float, sd: float, low: float = -math.inf, high: float = math.inf) -> Span:
    """The range of a normal figure, cut to what is possible.

    >>> spread(1.0, 1.0, low=0.0)
    Span(p10=0.0, p50=1.0, p90=2.2816)
    """
    p10, p50, p90 = (min(max(mean + z * sd, low), high) for z in (-P90, 0.0, P90))
    return Span(p10, p50, p90)
