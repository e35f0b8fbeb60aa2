"""One bowl: how deep a fill stands in it, what it wets, and what it holds to a given depth.

A hemisphere follows from its volume alone. A cylinder is taken to be as deep as its radius, as
steel mixing bowls roughly are (common practice, no source). A frustum's depth follows from its
volume and its two diameters. Of a measured bowl straight lines run between the points of its table.
The metal's own volume is neglected.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rigmon.physics.numbers import Array, Number, clip, interpolate
from rigmon.records import BowlSetup, BowlShape

_ML_PER_M3 = 1e6
_MM_PER_M = 1e3


@dataclass(frozen=True, slots=True)
class Bowl:
    """One bowl.

    Args:
        ml: volume to the rim [ml].
        shape: shape of its inside.
        rim_mm: diameter at the rim of a frustum [mm].
        base_mm: diameter at the base of a frustum [mm].
        table: depth [mm] and volume [ml] of a measured bowl, rising to the rim; an empty bowl at
            depth 0 goes without saying.
    """

    ml: float
    shape: BowlShape = BowlShape.HEMISPHERE
    rim_mm: float | None = None
    base_mm: float | None = None
    table: tuple[tuple[float, float], ...] | None = None


def inner_bowl(bowls: BowlSetup) -> Bowl:
    """The bowl that holds the mix."""
    return Bowl(
        bowls.inner_ml,
        bowls.inner_shape,
        bowls.inner_rim_mm,
        bowls.inner_base_mm,
        bowls.inner_table,
    )


def outer_bowl(bowls: BowlSetup) -> Bowl:
    """The bowl that holds the ice."""
    return Bowl(
        bowls.outer_ml,
        bowls.outer_shape,
        bowls.outer_rim_mm,
        bowls.outer_base_mm,
        bowls.outer_table,
    )


def full_depth_m(bowl: Bowl) -> float:
    """Depth [m] of a bowl from its base to its rim.

    Hemisphere: V = 2/3 pi R³, as deep as R; cylinder: V = pi R³, as deep as R; frustum with the
    radii a at the rim and b at the base: V = pi H (a² + a b + b²)/3.

    Raises:
        ValueError: a frustum without its diameters, or a measured bowl without its table.

    >>> round(full_depth_m(Bowl(4000.0)), 3)
    0.124
    >>> round(full_depth_m(Bowl(4000.0, BowlShape.FRUSTUM, rim_mm=240.0, base_mm=120.0)), 3)
    0.152
    """
    if bowl.shape is BowlShape.HEMISPHERE:
        return math.cbrt(1.5 * bowl.ml / _ML_PER_M3 / math.pi)
    if bowl.shape is BowlShape.MEASURED:
        return float(_table(bowl)[0][-1])
    return _frustum(bowl)[2]


def depth_m(fill_ml: Number, bowl: Bowl) -> Number:
    """Depth [m] at which `fill_ml` [ml] stands in the middle of a bowl. Undoes `fill_to_ml`.

    Hemisphere: V = pi h² (R - h/3), solved for h by the cosine form of the cubic. Frustum: the
    radius at the surface is r³ = b³ + 3 V (a - b)/(pi H), and h = 3 V/(pi (r² + r b + b²)). A fill
    beyond the rim stands at the rim.

    >>> [round(depth_m(ml, Bowl(4000.0)), 3) for ml in (1000.0, 1500.0, 2000.0)]
    [0.055, 0.069, 0.081]
    """
    fill_ml = clip(fill_ml, 0.0, bowl.ml)
    if bowl.shape is BowlShape.MEASURED:
        depths, volumes, _ = _table(bowl)
        return interpolate(fill_ml, volumes, depths)
    if bowl.shape is BowlShape.HEMISPHERE:
        third = _arccos(1.0 - fill_ml / bowl.ml) / 3.0
        return full_depth_m(bowl) * (1.0 - 2.0 * _cos(third + math.pi / 3.0))
    base, rim, depth = _frustum(bowl)
    m3 = fill_ml / _ML_PER_M3
    radius = _cbrt(base**3 + 3.0 * m3 * (rim - base) / (math.pi * depth))
    # a cone has no width where it is empty
    mean = clip(radius * radius + radius * base + base * base, 1e-12, math.inf)
    return 3.0 * m3 / (math.pi * mean)


def fill_to_ml(depth_m: Number, bowl: Bowl) -> Number:
    """Volume [ml] that a bowl holds up to `depth_m` [m]; at most to its rim. Undoes `depth_m`.

    >>> round(fill_to_ml(0.055, Bowl(4000.0)))
    1005
    """
    full = full_depth_m(bowl)
    h = clip(depth_m, 0.0, full)
    if bowl.shape is BowlShape.MEASURED:
        depths, volumes, _ = _table(bowl)
        return interpolate(h, depths, volumes)
    if bowl.shape is BowlShape.HEMISPHERE:
        return _ML_PER_M3 * math.pi * h * h * (full - h / 3.0)
    base, rim, depth = _frustum(bowl)
    radius = base + (rim - base) * h / depth
    return _ML_PER_M3 * math.pi / 3.0 * h * (base * base + base * radius + radius * radius)


def wetted_area_m2(fill_ml: Number, bowl: Bowl) -> Number:
    """Area of the wall [m²] that `fill_ml` [ml] wets in a bowl.

    Hemisphere: A = 2 pi R h. Frustum and cylinder: the base pi b², wet from the first drop, and
    pi (b + r) times the length of the slope. Measured: cones between the points of the table, whose
    radii are those of the volume's growth with depth; some 5 % off for a round bowl measured at six
    depths.

    >>> [round(wetted_area_m2(ml, Bowl(4000.0)), 3) for ml in (1000.0, 1500.0, 2000.0)]
    [0.043, 0.054, 0.063]
    """
    h = depth_m(fill_ml, bowl)
    if bowl.shape is BowlShape.MEASURED:
        depths, _, areas = _table(bowl)
        return interpolate(h, depths, areas)
    if bowl.shape is BowlShape.HEMISPHERE:
        return 2.0 * math.pi * full_depth_m(bowl) * h
    base, rim, depth = _frustum(bowl)
    widening = (rim - base) / depth
    slope = h * math.hypot(1.0, widening)
    return math.pi * base * base + math.pi * (2.0 * base + widening * h) * slope


def _frustum(bowl: Bowl) -> tuple[float, float, float]:
    """Radii at the base and the rim, and the depth [m], of a bowl with straight sides."""
    m3 = bowl.ml / _ML_PER_M3
    if bowl.shape is BowlShape.CYLINDER:
        radius = math.cbrt(m3 / math.pi)
        return radius, radius, radius
    if bowl.rim_mm is None or bowl.base_mm is None:
        raise ValueError("a frustum needs the diameters of its rim and of its base")
    base, rim = bowl.base_mm / 2.0 / _MM_PER_M, bowl.rim_mm / 2.0 / _MM_PER_M
    return base, rim, 3.0 * m3 / (math.pi * (rim * rim + rim * base + base * base))


def _table(bowl: Bowl) -> tuple[Array, Array, Array]:
    """Depths [m], volumes [ml] and wetted areas [m²] of a measured bowl, from empty to its rim."""
    if not bowl.table:
        raise ValueError("a measured bowl needs its table of depth and volume")
    depths, volumes = np.array([(0.0, 0.0), *bowl.table]).T
    depths = depths / _MM_PER_M
    growth_m2 = np.gradient(volumes / _ML_PER_M3, depths, edge_order=1 if len(depths) < 3 else 2)
    radii = np.sqrt(np.maximum(growth_m2, 0.0) / math.pi)
    slopes = np.hypot(np.diff(depths), np.diff(radii))
    bands = math.pi * (radii[1:] + radii[:-1]) * slopes
    return depths, volumes, math.pi * radii[0] ** 2 + np.r_[0.0, np.cumsum(bands)]


def _cos(x: Number) -> Number:
    return np.cos(x) if isinstance(x, np.ndarray) else math.cos(x)


def _arccos(x: Number) -> Number:
    return np.arccos(x) if isinstance(x, np.ndarray) else math.acos(x)


def _cbrt(x: Number) -> Number:
    return np.cbrt(x) if isinstance(x, np.ndarray) else math.cbrt(x)
