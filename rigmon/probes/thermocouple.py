"""Thermocouples: emf from temperature and back, types T, K, J, E and N on the ITS-90.

Each function takes a number or an array, and a type letter. A value outside the type's range, or
one that is no number, is refused with a ValueError, and a whole array with it: no temperature is
made up. The ranges are those for which NIST gives both directions: T −200 to 400 °C, K −200 to
1372 °C, J −210 to 1200 °C, E −200 to 1000 °C, N −200 to 1300 °C.

Source: NIST Monograph 175 (1993) and NIST Standard Reference Database 60; see `its90`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from rigmon.probes.its90 import CURVES, Curve, Piece

Array = NDArray[np.float64]
X = TypeVar("X", float, Array)

ROUNDING_MV = 1e-9
"""Of two temperatures a hair apart the lower may round to the larger emf; the ends allow for it."""

NEWTON_STEPS = 2
"""From 0.06 K, the worst of the inverse polynomials, two steps end far below 1e-6 K."""


def _value(piece: Piece, x: X) -> X:
    value = 0.0 * x
    for a in reversed(piece.coefficients):
        value = value * x + a
    return value if piece.bump is None else value + _bump(piece.bump, x)


def _slope(piece: Piece, x: X) -> X:
    slope = value = 0.0 * x
    for a in reversed(piece.coefficients):
        slope = slope * x + value
        value = value * x + a
    if piece.bump is None:
        return slope
    _, a1, a2 = piece.bump
    return slope + 2.0 * a1 * (x - a2) * _bump(piece.bump, x)


def _bump(bump: tuple[float, float, float], x: X) -> X:
    a0, a1, a2 = bump
    power = a1 * (x - a2) * (x - a2)
    return a0 * (np.exp(power) if isinstance(power, np.ndarray) else math.exp(power))


def _by_piece(function: Callable[[Piece, X], X], pieces: tuple[Piece, ...], x: X) -> X:
    if isinstance(x, np.ndarray):
        result = np.empty(x.shape)
        number = np.searchsorted([piece.upto for piece in pieces[:-1]], x)
        for i, piece in enumerate(pieces):
            result[number == i] = function(piece, x[number == i])
        return result
    for piece in pieces[:-1]:
        if x <= piece.upto:
            return function(piece, x)
    return function(pieces[-1], x)


def _inverse(curve: Curve, mv: X) -> X:
    t_c = _by_piece(_value, curve.inverse, mv)
    for _ in range(NEWTON_STEPS):
        too_much_mv = _by_piece(_value, curve.emf, t_c) - mv
        t_c = t_c - too_much_mv / _by_piece(_slope, curve.emf, t_c)
    if isinstance(t_c, np.ndarray):
        return np.clip(t_c, curve.low_c, curve.high_c)
    return min(max(t_c, curve.low_c), curve.high_c)


EMF_RANGE_MV: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        kind: (
            _by_piece(_value, curve.emf, curve.low_c),
            _by_piece(_value, curve.emf, curve.high_c),
        )
        for kind, curve in CURVES.items()
    }
)
"""Lowest and highest emf of each type [mV], at the ends of its temperature range."""


def _curve(kind: str) -> Curve:
    try:
        return CURVES[kind]
    except KeyError:
        raise ValueError(
            f"{kind!r} is no thermocouple type known here; take one of {', '.join(CURVES)}."
        ) from None


def _refuse_outside(x: float | Array, low: float, high: float, kind: str, unit: str) -> None:
    inside = (x >= low) & (x <= high)
    if isinstance(inside, np.ndarray):
        if inside.all():
            return
        x = float(np.asarray(x)[~inside].flat[0])
    elif inside:
        return
    raise ValueError(
        f"{x:.6g} {unit} is outside the range of type {kind}, {low:.6g} to {high:.6g} {unit}."
    )


def emf_mv(t_c: X, kind: str) -> X:
    """Emf of a thermocouple whose cold junction is at 0 °C.

    Below 0 °C, and for most types above it, E = sum of c_i t^i; type K above 0 °C has
    E = sum of c_i t^i + a0 exp(a1 (t − a2)²).

    Args:
        t_c: temperature of the hot junction [°C], within the type's range.
        kind: type letter, T, K, J, E or N.

    Returns:
        The emf [mV].

    Raises:
        ValueError: a temperature outside the type's range, or an unknown type.

    Source: NIST Monograph 175 (1993); its table for type K gives −0.778 mV at −20 °C.

    >>> round(emf_mv(-20.0, "K"), 3)
    -0.778
    >>> emf_mv(500.0, "T")
    Traceback (most recent call last):
    ValueError: 500 °C is outside the range of type T, -200 to 400 °C.
    """
    curve = _curve(kind)
    _refuse_outside(t_c, curve.low_c, curve.high_c, kind, "°C")
    return _by_piece(_value, curve.emf, t_c)


def temperature_c(emf_mv: X, kind: str) -> X:
    """Temperature of the hot junction from the emf against a cold junction at 0 °C.

    The NIST inverse polynomial t = sum of d_i E^i gives the first value; Newton steps on E(t)
    refine it, so that E(t(E)) = E well within 1e-6 K.

    Args:
        emf_mv: emf [mV], within `EMF_RANGE_MV`.
        kind: type letter, T, K, J, E or N.

    Returns:
        The temperature [°C].

    Raises:
        ValueError: an emf outside the type's range, or an unknown type.

    Source: NIST Monograph 175 (1993); its table for type T gives 4.279 mV at 100 °C.

    >>> round(temperature_c(4.279, "T"), 1)
    100.0
    """
    curve = _curve(kind)
    low_mv, high_mv = EMF_RANGE_MV[kind]
    _refuse_outside(emf_mv, low_mv - ROUNDING_MV, high_mv + ROUNDING_MV, kind, "mV")
    return _inverse(curve, emf_mv)


def seebeck_uv_per_k(t_c: X, kind: str) -> X:
    """Sensitivity of a thermocouple, S = dE/dt.

    Args:
        t_c: temperature of the hot junction [°C], within the type's range.
        kind: type letter, T, K, J, E or N.

    Returns:
        The Seebeck coefficient [µV/K].

    Raises:
        ValueError: a temperature outside the type's range, or an unknown type.

    Source: derivative of the functions of NIST Monograph 175 (1993).

    >>> round(seebeck_uv_per_k(-15.0, "T"), 1)
    37.4
    """
    curve = _curve(kind)
    _refuse_outside(t_c, curve.low_c, curve.high_c, kind, "°C")
    return 1000.0 * _by_piece(_slope, curve.emf, t_c)
