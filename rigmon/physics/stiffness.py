"""How stiff a mix stands with its ice and air: an index for simulation, not a measurement."""

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
    point is chosen to pass through them. Air is left out; `stiffness_index` has it.

    Args:
        frozen_pct: share of the water that is ice [%].
        water_share: water [g per g of mix].

    >>> round(LIQUID_PA_S * relative_viscosity(24.3, 0.617), 1)
    0.5
    >>> round(LIQUID_PA_S * relative_viscosity(48.6, 0.617), 1)
    8.0
    """
    return stiffness_index(frozen_pct, water_share, 0.0 * frozen_pct)


def stiffness_index(frozen_pct: Number, water_share: float, overrun_pct: Number) -> Number:
    """How stiff a mix stands with its ice and air, against the same mix as poured.

    exp(0.07 f) (1 - p/0.6)^-2 / (1 - b): the ice is p = phi (1 - e) of the volume, air included,
    and the air b = e/(1 - p) of what the crystals float in, with e = overrun/(100 + overrun); for
    the rest see `relative_viscosity`, which this is without air. Crystals in a bubbly liquid: J. M.
    Truby et al., Proc. R. Soc. A 471 (2015) 20140557, held there against measurements up to p =
    0.5 and e = 0.3 for bubbles that stay round (abstract read, the two laws from memory).

    Air is a small effect beside ice and serum, and one of either sign: it stiffens a thin mix and
    loosens the crowd of crystals in a stiff one. In ice cream at -10 to -2.7 °C stiffness has been
    found to follow serum and ice first, then the fat, then the air. Bubbles that a beater draws out
    would thin the mix more; a foam's own strength is left out. Valid 0 to 60 % of the water frozen,
    0 to 45 % overrun. An index to compare states of one mix by, uncertain by a factor of two.

    Args:
        frozen_pct: share of the water that is ice [%].
        water_share: water [g per g of mix].
        overrun_pct: volume of the air over that of the mix [%].

    >>> [round(stiffness_index(f, 0.617, 0.0), 1) for f in (0.0, 25.0, 45.0)]
    [1.0, 11.7, 103.9]
    >>> [round(stiffness_index(f, 0.617, 30.0), 1) for f in (0.0, 25.0, 45.0)]
    [1.3, 13.3, 94.7]
    """
    ice = clip(ice_volume_fraction(frozen_pct, water_share), 0.0, _PACKED * (1.0 - _LEAST_GAP))
    air = overrun_pct / (100.0 + overrun_pct)
    crystals = ice * (1.0 - air)
    bubbles = air / (1.0 - crystals)
    gap = 1.0 - crystals / _PACKED
    serum = exponential(_SERUM_PER_PCT * clip(frozen_pct, 0.0, 100.0))
    return serum / (gap * gap * (1.0 - bubbles))
