"""What will become of the bath: when it warms through its limit, and when its ice is gone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.bath import Bath, BathEstimate
from rigmon.physics import brine
from rigmon.physics.bath import melting_w_k_kg

Array = NDArray[np.float64]

_SLOPE_SD_K_S = 0.0007
"""What the bath's trend may change by [K/s] (own choice, on simulated rigs)."""
BY_TREND = 0.75
"""Share of the answers that carry the bath's trend on: what melts is told too soon by the others,
the sooner the more ice there is (own choice, on simulated rigs)."""
_GRID = 40
_MOST_ABOVE_K = 15.0
_SURFACE_LOG_SD = 0.25
"""How surely the ice's surface is known, as a logarithm (own estimate)."""
_LOAD_LOG_SD = 0.25
"""What the load may change by, as a logarithm (own estimate: the wall freezes over)."""


def crossing_s(
    bath: Bath,
    now: BathEstimate,
    bath_c: float,
    slope_k_s: float,
    limit_c: float,
    load_w: float,
    normal: Array,
) -> Array:
    """Times until the bath warms through its limit, over what is uncertain.

    `BY_TREND` of the answers (all, where the amounts are not known) carry the bath's own trend on.
    The others follow ice and salt, as `_weakens_s` says.

    Args:
        bath: what was put in.
        now: what is left of it.
        bath_c: bath now [°C].
        slope_k_s: its trend [K/s].
        limit_c: the limit [°C], above `bath_c`.
        load_w: heat flowing in [W].
        normal: (K, 3) standard normal numbers.

    Returns:
        (K,) times from now [s]; inf where it never does.
    """
    slopes = slope_k_s + _SLOPE_SD_K_S * normal[:, 0]
    rises = slopes > 0.0
    trend = np.where(rises, (limit_c - bath_c) / np.where(rises, slopes, 1.0), np.inf)
    if now.ice_left_g is None or not bath.salt_known or bath.salt_g <= 0.0:
        return trend
    left, load = _left_and_load(now, load_w, normal)
    by_ice = _weakens_s(bath, bath_c, limit_c, left, load, normal[:, 0])
    count = round(BY_TREND * normal.shape[0])
    return np.concatenate([trend[:count], by_ice[count:]])


def _weakens_s(
    bath: Bath, bath_c: float, limit_c: float, left: Array, load: Array, normal: Array
) -> Array:
    """(K,) times until what melts has warmed the bath to its limit [s].

    As ice melts the brine weakens and its liquidus rises, and less ice has less surface to take the
    load with: T = T_liquidus(w) + load / G, G = k m0 (m/m0)^(2/3). What this says of now is shifted
    to what the probe says. Once the ice is gone the brine warms on by itself.
    """
    melted = np.linspace(0.0, 1.0, _GRID)[:, None] * left
    remains = left - melted
    w_k_kg = melting_w_k_kg(bath.ice_kind)[1] * np.exp(_SURFACE_LOG_SD * normal)
    surface_w_k = w_k_kg * np.cbrt(bath.ice_g * remains**2) / 1000.0
    above_k = np.minimum(load / np.maximum(surface_w_k, 1e-3), _MOST_ABOVE_K)
    water_g = bath.ice_g + bath.water_g - remains
    t_c = brine.freezing_c(100.0 * bath.salt_g / (bath.salt_g + water_g)) + above_k
    t_c = t_c - t_c[0] + bath_c
    over = t_c >= limit_c
    first = np.argmax(over, axis=0)
    rows, before = np.arange(left.size), np.maximum(first - 1, 0)
    low_c, high_c = t_c[before, rows], t_c[first, rows]
    part = (limit_c - low_c) / np.where(high_c > low_c, high_c - low_c, 1.0)
    passes_g = melted[before, rows] + part * (melted[first, rows] - melted[before, rows])
    melting_j_g = brine.heat_of_fusion_j_g(bath_c)
    brine_g = bath.salt_g + bath.ice_g + bath.water_g
    heat_j_k = brine_g * brine.specific_heat_j_gk(100.0 * bath.salt_g / brine_g, limit_c)
    warming_j = np.maximum(limit_c - t_c[-1], 0.0) * heat_j_k
    heat_j = np.where(over.any(axis=0), passes_g * melting_j_g, left * melting_j_g + warming_j)
    return np.asarray(heat_j / load)


def gone_s(bath: Bath, now: BathEstimate, bath_c: float, load_w: float, normal: Array) -> Array:
    """Times until the ice is gone, (K,) from now [s]; arguments as in `crossing_s`."""
    left, load = _left_and_load(now, load_w, normal)
    spare = np.maximum(left - bath.spent_g, 0.0)
    return np.asarray(spare * brine.heat_of_fusion_j_g(bath_c) / load)


def _left_and_load(now: BathEstimate, load_w: float, normal: Array) -> tuple[Array, Array]:
    left = (now.ice_left_g or 0.0) + (now.ice_left_g_sd or 0.0) * normal[:, 1]
    return np.maximum(left, 0.0), max(load_w, 1.0) * np.exp(_LOAD_LOG_SD * normal[:, 2])
