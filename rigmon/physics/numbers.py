"""Floats in, floats out; arrays in, arrays out: what every formula of this room shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
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
