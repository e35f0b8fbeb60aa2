"""What will become of the bath: when it warms through its limit, and when its ice is gone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.bath import Bath, BathEstimate
from rigmon.physics import brine

Array = NDArray[np.float64]

SLOPE_SD_K_S = 0.0012
"""What the bath's trend may change by [K/s]."""
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

    Half of the answers (all, where the amounts are not known) carry the bath's own trend on. Half
    follow ice and salt: the bath stays on the liquidus of what is dissolved until so much ice has
    melted that the limit is the liquidus, or, if the ice is gone before, warms on as a brine.

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
    slopes = slope_k_s + SLOPE_SD_K_S * normal[:, 0]
    rises = slopes > 0.0
    trend = np.where(rises, (limit_c - bath_c) / np.where(rises, slopes, 1.0), np.inf)
    if now.ice_left_g is None or not bath.salt_known or bath.salt_g <= 0.0:
        return trend
    left, load = _left_and_load(now, load_w, normal)
    melting_j_g = brine.heat_of_fusion_j_g(bath_c)
    water_g = bath.ice_g + bath.water_g
    until_weak = np.maximum(brine.melt_g(bath.salt_g, limit_c) - (water_g - left), 0.0)
    last_pct = 100.0 * bath.salt_g / (bath.salt_g + water_g)
    last_c = max(brine.freezing_c(last_pct), bath_c)
    heat_j_k = (water_g + bath.salt_g) * brine.specific_heat_j_gk(last_pct, last_c)
    warming_j = max(limit_c - last_c, 0.0) * heat_j_k
    outlasts = until_weak > left
    heat_j = np.where(outlasts, left * melting_j_g + warming_j, until_weak * melting_j_g)
    half = normal.shape[0] // 2
    return np.concatenate([trend[:half], (heat_j / load)[half:]])


def gone_s(bath: Bath, now: BathEstimate, bath_c: float, load_w: float, normal: Array) -> Array:
    """Times until the ice is gone, (K,) from now [s]; arguments as in `crossing_s`."""
    left, load = _left_and_load(now, load_w, normal)
    spare = np.maximum(left - bath.spent_g, 0.0)
    return np.asarray(spare * brine.heat_of_fusion_j_g(bath_c) / load)


def _left_and_load(now: BathEstimate, load_w: float, normal: Array) -> tuple[Array, Array]:
    left = (now.ice_left_g or 0.0) + (now.ice_left_g_sd or 0.0) * normal[:, 1]
    return np.maximum(left, 0.0), max(load_w, 1.0) * np.exp(_LOAD_LOG_SD * normal[:, 2])
