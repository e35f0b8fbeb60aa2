"""The two bowls: how deep a fill stands, what it wets, and how much room is left for ice.

A hemisphere follows from its volume alone. A cylinder is taken to be as deep as its radius, as
steel mixing bowls roughly are (common practice, no source). The metal's own volume is neglected.
"""

from __future__ import annotations

import math

import numpy as np

from rigmon.physics.numbers import Number, clip
from rigmon.records import BowlSetup, BowlShape

_ML_PER_M3 = 1e6


def radius_m(bowl_ml: float, shape: BowlShape) -> float:
    """Radius [m] of a bowl that holds `bowl_ml` [ml] to its rim.

    Hemisphere: V = 2/3 pi R³; cylinder as deep as its radius: V = pi R³.

    >>> round(radius_m(4000.0, BowlShape.HEMISPHERE), 3)
    0.124
    """
    full_m3 = bowl_ml / _ML_PER_M3
    share = 2.0 / 3.0 if shape is BowlShape.HEMISPHERE else 1.0
    return math.cbrt(full_m3 / (share * math.pi))


def depth_m(fill_ml: Number, bowl_ml: float, shape: BowlShape) -> Number:
    """Depth [m] at which `fill_ml` [ml] stands in the middle of a bowl of `bowl_ml` [ml].

    Hemisphere: V = pi h² (R - h/3), solved for h by the cosine form of the cubic; cylinder:
    V = pi R² h. A fill beyond the rim stands at the rim.

    >>> [round(depth_m(ml, 4000.0, BowlShape.HEMISPHERE), 3) for ml in (1000.0, 1500.0, 2000.0)]
    [0.055, 0.069, 0.081]
    """
    radius = radius_m(bowl_ml, shape)
    share = clip(fill_ml / bowl_ml, 0.0, 1.0)
    if shape is BowlShape.CYLINDER:
        return radius * share
    third = _arccos(1.0 - share) / 3.0
    return radius * (1.0 - 2.0 * _cos(third + math.pi / 3.0))


def wetted_area_m2(fill_ml: Number, bowl_ml: float, shape: BowlShape) -> Number:
    """Area of the wall [m²] that `fill_ml` [ml] wets in a bowl of `bowl_ml` [ml].

    Hemisphere: A = 2 pi R h; cylinder: A = pi R² + 2 pi R h, the bottom wet from the first drop.

    >>> [round(wetted_area_m2(ml, 4000.0, BowlShape.HEMISPHERE), 3)
    ...  for ml in (1000.0, 1500.0, 2000.0)]
    [0.043, 0.054, 0.063]
    """
    radius = radius_m(bowl_ml, shape)
    bottom_m2 = 0.0 if shape is BowlShape.HEMISPHERE else math.pi * radius * radius
    return bottom_m2 + 2.0 * math.pi * radius * depth_m(fill_ml, bowl_ml, shape)


def room_for_ice_ml(bowls: BowlSetup) -> float:
    """Volume [ml] between the bowls when their rims are level: outer less inner, never negative.

    Ice fits if its mass over its bulk density, voids included, is no more than this.

    >>> room_for_ice_ml(BowlSetup(inner_ml=4000.0, outer_ml=9500.0))
    5500.0
    """
    return max(bowls.outer_ml - bowls.inner_ml, 0.0)


def _cos(x: Number) -> Number:
    return np.cos(x) if isinstance(x, np.ndarray) else math.cos(x)


def _arccos(x: Number) -> Number:
    return np.arccos(x) if isinstance(x, np.ndarray) else math.acos(x)
