"""Salt brine and ice: where they rest together, and what it costs to warm, dissolve or melt them.

Strengths are percent of the brine's mass; brine means water and sodium chloride. Sources of the
liquidus part by 0.09 °C below 10 %, 0.25 °C at 20 % and 0.45 °C at 23 %: the CRC Handbook, Lange's
Handbook and Melinder's fit hang together, the equations used for fluid inclusions run up to
0.25 °C colder (Bodnar 1993) or 0.2 °C warmer (Hall 1988). This module follows the CRC Handbook.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

import numpy as np

from rigmon.physics.numbers import Number, polynomial
from rigmon.physics.salts import salt
from rigmon.records import SaltName

_SALT = salt(SaltName.SODIUM_CHLORIDE)

EUTECTIC_PCT = _SALT.eutectic_pct
"""Strength at which ice and salt dihydrate rest with the brine [% by mass] (Lange 15th ed.,
table 5.13; Oakes, Bodnar & Simonson 1990 give 23.2)."""

EUTECTIC_C = _SALT.eutectic_c
"""Temperature there [°C], -21.14; Lange has -21.13, Oakes, Bodnar & Simonson 1990 -21.2."""


def freezing_c(salt_pct: Number) -> Number:
    """Temperature [°C] at which brine of `salt_pct` [% by mass] rests with ice: the liquidus.

    T = -w (a0 + a1 x + a2 x² + a3 x³ + a4 x⁴), x = w/10. Valid 0 to 23.3 %; held at the eutectic
    above. Fitted (least greatest error) to the freezing points of the CRC Handbook of Chemistry and
    Physics, 102nd ed., "Concentrative Properties of Aqueous Solutions", 1 to 23 %, and to Lange's
    -21.13 °C at 23.3 %; within 0.01 °C of all of them.

    >>> round(freezing_c(10.0), 2)
    -6.56
    """
    return _SALT.freezing_c(salt_pct)


def strength_pct(t_c: Number) -> Number:
    """Strength [% by mass] of the brine that rests with ice at `t_c` [°C]; undoes `freezing_c`.

    0 at 0 °C and above, 23.3 at the eutectic and below. Newton's method, to 1e-9 %.

    >>> round(strength_pct(-15.0), 2)
    18.82
    """
    return _SALT.strength_pct(t_c)


def melt_g(salt_g: Number, t_c: Number) -> Number:
    """Water [g] in the brine that holds `salt_g` [g] dissolved and rests with ice at `t_c` [°C].

    W = S (100/w - 1) with w from `strength_pct`. Of a bath made from dry ice and salt this is all
    that has melted. Infinite at 0 °C and above; below the eutectic the value at the eutectic.

    >>> round(melt_g(1000.0, -15.0))
    4314
    """
    w = strength_pct(t_c)
    if isinstance(w, np.ndarray):
        with np.errstate(divide="ignore"):
            return salt_g * (100.0 / w - 1.0)
    return salt_g * (100.0 / w - 1.0) if w > 0.0 else salt_g * math.inf


def specific_heat_j_gk(salt_pct: Number, t_c: Number) -> Number:
    """Specific heat [J/(g K)] of brine of `salt_pct` [% by mass] at `t_c` [°C].

    c = a0 + a1 x + a2 x² + a3 x³ + (b0 + b1 x) t with x = w/100. Valid 0 to 23 %, from the liquidus
    to 20 °C. Fitted to Melinder 2010 (as in CoolProp 8.0.0, fluid MNA): within 0.5 % of it; an
    independent equation of state parts from Melinder by 0.7 %.

    >>> round(specific_heat_j_gk(20.0, -15.0), 2)
    3.36
    """
    c0, c1 = _SALT.specific_heat_terms(salt_pct)
    return c0 + c1 * t_c


def density_g_ml(salt_pct: Number, t_c: Number) -> Number:
    """Density [g/ml] of brine of `salt_pct` [% by mass] at `t_c` [°C].

    rho = a0 + a1 x + a2 x² + (b0 + b1 x) t + c t² with x = w/100. Valid 0 to 23 %, from the
    liquidus to 20 °C. Fitted to Melinder 2010 (as in CoolProp 8.0.0, fluid MNA): within 0.07 %.

    >>> round(density_g_ml(20.0, -15.0), 3)
    1.162
    """
    return _SALT.density_g_ml(salt_pct, t_c)


def heat_of_solution_j_g(salt_pct: Number, t_c: Number) -> Number:
    """Heat taken up [J per g of salt] as dry salt dissolves to brine of `salt_pct` at `t_c` [°C].

    q = a0 + a1 w + a2 w² + (b0 + b1 w) t. Valid 5 to 25 %, from the liquidus to 25 °C. Fitted to
    enthalpies computed with SeaFreeze 1.1.3, anchored at the CRC Handbook's 66.4 J/g at infinite
    dilution and 25 °C: the fit holds to 5.4 J/g, the figures themselves to 2 J/g at 25 °C and
    perhaps 9 J/g below 0 °C. In a bath this is 3 to 7 % of the heat of melting.

    >>> round(heat_of_solution_j_g(23.0, -20.0))
    56
    """
    return _SALT.dissolving_j_g(salt_pct) + (-2.28626 + 0.0768382 * salt_pct) * t_c


ICE_DENSITY_G_ML = 0.9167
"""Density of ice at 0 °C [g/ml] (IAPWS R10-06); 0.9197 at -21 °C."""

_ICE_CP = (2.0964, 0.0073155)
_FUSION = (333.461, 2.15652, -0.000369301, 0.000247177)

ICE_ENTHALPY = (-_FUSION[0], _ICE_CP[0], _ICE_CP[1] / 2.0)
"""Coefficients of `ice_enthalpy_j_g`, lowest power of the temperature in °C first."""


def ice_specific_heat_j_gk(t_c: Number) -> Number:
    """Specific heat of ice [J/(g K)] at `t_c` [°C].

    c = 2.0964 + 0.0073155 t. Valid -40 to 0 °C, within 0.05 % of IAPWS R10-06 (2009).

    >>> round(ice_specific_heat_j_gk(-10.0), 3)
    2.023
    """
    return polynomial(t_c, _ICE_CP)


def ice_enthalpy_j_g(t_c: Number) -> Number:
    """Enthalpy of ice [J/g] at `t_c` [°C] against liquid water at 0 °C.

    h = -L(0) + the integral of `ice_specific_heat_j_gk` from 0 °C. Valid -40 to 0 °C, within 0.3
    J/g of IAPWS R10-06 (2009).

    >>> round(ice_enthalpy_j_g(-10.0), 1)
    -354.1
    """
    return polynomial(t_c, ICE_ENTHALPY)


def heat_of_fusion_j_g(t_c: Number) -> Number:
    """Heat of fusion [J/g] of ice melting at `t_c` [°C] to pure water of that temperature.

    L = 333.461 + 2.15652 t - 3.69301e-4 t² + 2.47177e-4 t³. Valid -30 to 0 °C, within 0.09 J/g of
    IAPWS-95 (water, supercooled) less IAPWS R10-06 (ice).

    >>> round(heat_of_fusion_j_g(0.0), 1), round(heat_of_fusion_j_g(-10.0), 1)
    (333.5, 311.6)
    """
    return polynomial(t_c, _FUSION)


Heap = Literal["fine", "kosher", "rock", "cubes", "crushed"]

_BULK_G_ML: Mapping[Heap, tuple[float, float, float]] = MappingProxyType(
    {
        "fine": (1.20, 1.30, 1.40),
        "kosher": (0.55, 0.80, 1.15),
        "rock": (1.15, 1.28, 1.35),
        "cubes": (0.48, 0.55, 0.60),
        "crushed": (0.55, 0.62, 0.70),
    }
)


def bulk_density_g_ml(material: Heap) -> tuple[float, float, float]:
    """Least, usual and greatest mass [g] of one ml of a heap of salt or ice, voids included.

    Rock salt: 72 to 84 lb/ft³, 80 the norm (Salt Institute). Fine table salt: from memory, one
    careful kitchen measurement 1.40. Kosher flakes and cubes: from memory, the spread between
    brands is real. Crushed ice: from memory, compare FAO Fisheries Technical Paper 331, 1.4 to
    1.5 m³/t for crushed block.

    >>> bulk_density_g_ml("rock")
    (1.15, 1.28, 1.35)
    """
    return _BULK_G_ML[material]
