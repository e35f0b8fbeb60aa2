"""Floats in, floats out; arrays in, arrays out: what every formula of this room shares."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Number = TypeVar("Number", float, Array)
"""A float or an array of floats; a function given several wants them all of one kind."""


def polynomial(x: Number, coefficients: Sequence[float]) -> Number:
    """Sum of `coefficients[k] * x**k`.

    >>> polynomial(2.0, (1.0, 0.0, 3.0))
    13.0
    """
    y = 0.0 * x
    for c in reversed(coefficients):
        y = y * x + c
    return y


def clip(x: Number, low: float, high: float) -> Number:
    """The nearest value within `low` to `high`.

    >>> clip(-3.0, 0.0, 1.0)
    0.0
    """
    if isinstance(x, np.ndarray):
        return np.minimum(np.maximum(x, low), high)
    return min(max(x, low), high)


def exponential(x: Number) -> Number:
    """The exponential of `x`.

    >>> exponential(0.0)
    1.0
    """
    return np.exp(x) if isinstance(x, np.ndarray) else math.exp(x)


def interpolate(x: Number, xs: Array, ys: Array) -> Number:
    """`ys` at `x` on straight lines between the rising points `xs`; the end value outside them.

    >>> interpolate(0.5, np.array([0.0, 1.0]), np.array([10.0, 20.0]))
    15.0
    """
    y = np.interp(x, xs, ys)
    return y if isinstance(x, np.ndarray) else float(y)


def crossing(f: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising `f` of the order of 1 crosses 0 between `low` and `high`; else the nearer end.

    False position with pulled-in ends (Illinois), to 1e-15 of `f` or the last digit.

    >>> crossing(lambda x: x * x - 2.0, 0.0, 2.0)
    1.41421356237
    """
    below, above = f(low), f(high)
    if below >= 0.0 or above <= 0.0:
        return low if below >= 0.0 else high
    side = 0
    for _ in range(100):
        middle = (low * above - high * below) / (above - below)
        value = f(middle)
        if abs(value) < 1e-15 or not low < middle < high:
            break
        # An end that stays twice is pulled in, or the other one would creep.
        if value < 0.0:
            low, below, above, side = middle, value, above * (0.5 if side < 0 else 1.0), -1
        else:
            high, above, below, side = middle, value, below * (0.5 if side > 0 else 1.0), 1
    return middle
