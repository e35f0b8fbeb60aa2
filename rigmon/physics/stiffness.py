"""How stiff a mix stands at a given frozen share: an index for simulation, not a measurement."""

from __future__ import annotations

from rigmon.physics.brine import ICE_DENSITY_G_ML
from rigmon.physics.numbers import Number, clip, exponential

LIQUID_PA_S = 0.05
"""Viscosity of a cold unfrozen mix at the beaters [Pa s]; from memory, 0.02 to 0.1."""

_SERUM_G_ML = 1.10
_PACKED = 0.60
_LEAST_GAP = 0.05
_SERUM_PER_PCT = 0.07


def ice_volume_fraction(frozen_pct: Number, water_share: float) -> Number:
    """Volume of ice over the volume of ice and serum, air left out.

    phi = v/(v + (1 - x)/1.10) with x = W f/100 the ice [g per g of mix] and v = x/0.917.

    Args:
        frozen_pct: share of the water that is ice [%], 0 to 100.
        water_share: water [g per g of mix].

    >>> round(ice_volume_fraction(50.0, 0.617), 2)
    0.35
    """
    ice = water_share * frozen_pct / 100.0
    return ice / ICE_DENSITY_G_ML / (ice / ICE_DENSITY_G_ML + (1.0 - ice) / _SERUM_G_ML)


def relative_viscosity(frozen_pct: Number, water_share: float) -> Number:
    """Viscosity over that of the same mix with no ice in it.

    mu/mu0 = exp(0.07 f) (1 - phi/0.6)^-2: the crystals crowd, and the serum between them thickens
    as it grows stronger and colder. Never more than at phi = 0.57. Valid 0 to 60 % of the water
    frozen. The form is a working one and all figures are from memory: 0.02 to 0.1 Pa s liquid, 0.5
    to 2 Pa s with 15 % of the mix ice, 3 to 10 Pa s with 30 % (at 100 1/s); the 0.07 per percentage
    point is chosen to pass through them. Air is left out.

    Args:
        frozen_pct: share of the water that is ice [%].
        water_share: water [g per g of mix].

    >>> round(LIQUID_PA_S * relative_viscosity(24.3, 0.617), 1)
    0.5
    >>> round(LIQUID_PA_S * relative_viscosity(48.6, 0.617), 1)
    8.0
    """
    phi = clip(ice_volume_fraction(frozen_pct, water_share), 0.0, _PACKED * (1.0 - _LEAST_GAP))
    gap = 1.0 - phi / _PACKED
    return exponential(_SERUM_PER_PCT * clip(frozen_pct, 0.0, 100.0)) / (gap * gap)
