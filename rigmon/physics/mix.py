"""How a mix freezes: at what temperature it begins, how much of its water is ice, what that takes.

The sucrose-equivalent method: A. Leighton, J. Dairy Sci. 10 (1927) 300, as taught by H. D. Goff
(University of Guelph) and in Goff & Hartel, Ice Cream, 7th ed. Sugars are counted as the mass of
sucrose that lowers the freezing point as much, milk salts by 2.37 K times their share in the water.
As water freezes out, the rest of it holds the same solutes. Alcohol and salt are added by their own
freezing points.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from rigmon.physics import brine
from rigmon.physics.choi_okos import Component, component_enthalpy_j_g
from rigmon.physics.numbers import Array, Number, interpolate, polynomial
from rigmon.records import Composition

LACTOSE_IN_MSNF = 0.545
"""Lactose in milk solids not fat (Goff, University of Guelph)."""

PROTEIN_IN_MSNF = 0.36
"""Protein in milk solids not fat; what is left is ash (USDA SR26, nonfat dry milk)."""

MILK_SALTS_K = 2.37
"""Depression by milk salts [K] = 2.37 g milk solids not fat / g water (Leighton 1927; Goff)."""

MONOSACCHARIDE = 1.9
"""Grams of sucrose that one gram of dextrose or fructose counts as: the ratio of molar masses."""

BATH_LIMIT_FROZEN_PCT = 45.0
BATH_LIMIT_K = 4.0

_SUCROSE = (0.05434, 0.06741, -0.47403, 1.67151, -2.20804, 0.98593)
_ETHANOL = (0.4037, -0.24823, 2.54788, -4.51029, 1.98279)
_ETHANOL_KNEE, _ETHANOL_SLOPE = 47.0, 0.35
_ETHANOL_CP_J_GK = 2.4
_COLDEST_C, _WARMEST_C = -45.0, 100.0


def glucose_syrup_factor(de: float) -> float:
    """Grams of sucrose that one gram of glucose syrup solids of `de` counts as: 0.019 DE.

    The mean molar mass of a syrup is near 18016/DE g/mol, since DE counts reducing ends; this
    gives the 0.8 of Goff & Hartel for 42 DE. Others take DE/100 (0.42), which reads a mix with 4 %
    of that syrup 0.16 K too warm.

    >>> round(glucose_syrup_factor(42.0), 2)
    0.8
    """
    return MONOSACCHARIDE * de / 100.0


def sugar_depression_k(equivalent_g: Number, crowding_g: Number) -> Number:
    """Freezing point depression [K] by sugars.

    d = SE (a0 + a1 u + ... + a5 u⁵), u = S/(100 + S). a0 is 1.86 K kg/mol over the molar mass.
    Valid 0 to 350 g sucrose per 100 g water; smooth and rising far beyond. Within 0.05 K of the
    CRC Handbook, 102nd ed., to 40 % sucrose (0.08 K at 42 %) and of the freezing curve of the
    typical mix (Arbuckle; Keeney) to 80 % frozen (0.07 K at 30 %, where its figure is an outlier);
    0.4 K from it at 90 %. The two sources part by up to 0.13 K at 67 to 75 g per 100 g water, so
    that no smooth curve meets both better than this.

    Args:
        equivalent_g: sucrose equivalent SE [g per 100 g water].
        crowding_g: sugar that makes the solution depart from ideal, S [g per 100 g water]:
            disaccharides and syrup solids in full, half of the monosaccharides. With half, glucose
            is within 0.07 K of the CRC Handbook to 30 %, fructose within 0.13 K to 28 %.

    >>> round(sugar_depression_k(25.0, 25.0), 2)
    1.48
    """
    return equivalent_g * polynomial(crowding_g / (100.0 + crowding_g), _SUCROSE)


def ethanol_depression_k(ethanol_g: Array) -> Array:
    """Freezing point depression [K] by ethanol.

    d = s (a0 + a1 x + ... + a4 x⁴), x = s/100, to 47 g per 100 g water, within 0.07 K of the CRC
    Handbook, 102nd ed.; a line of 0.35 K per g beyond, within 0.3 K to 67 g. Up to 10 % this is
    7.2 to 7.4 times the depression by as much sucrose at infinite dilution (molar masses: 7.43).

    Args:
        ethanol_g: ethanol s [g per 100 g water].

    >>> np.round(ethanol_depression_k(np.array([5.263, 25.0])), 2)
    array([ 2.09, 10.95])
    """
    s = np.minimum(ethanol_g, _ETHANOL_KNEE)
    return s * polynomial(s / 100.0, _ETHANOL) + _ETHANOL_SLOPE * (ethanol_g - s)


def depression_k(composition: Composition, unfrozen: Array) -> Array:
    """Freezing point depression [K] of a mix while the share `unfrozen` (0 to 1] of its water is.

    d = sugars + 2.37 msnf/W + ethanol + sodium chloride, each by its amount in the unfrozen water
    W. The depressions add up, as the water activities of mixed solutions multiply (K. S. Ross,
    Food Technology 29 (1975) 26, from memory). Salt is held at its eutectic strength.

    >>> typical = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    >>> np.round(depression_k(typical, np.array([1.0, 0.5])), 2)
    array([2.42, 5.26])
    """
    water = composition.water * unfrozen / 100.0
    doubles = composition.sucrose + composition.lactose + LACTOSE_IN_MSNF * composition.msnf
    singles = composition.dextrose + composition.fructose
    syrup = composition.glucose_syrup
    equivalent = (
        doubles
        + MONOSACCHARIDE * singles
        + glucose_syrup_factor(composition.glucose_syrup_de) * syrup
    )
    salt_pct = 100.0 * composition.salt / (composition.salt + 100.0 * water)
    return (
        sugar_depression_k(equivalent / water, (doubles + 0.5 * singles + syrup) / water)
        + MILK_SALTS_K * composition.msnf / (100.0 * water)
        + ethanol_depression_k(composition.alcohol / water)
        - brine.freezing_c(salt_pct)
    )


def components(composition: Composition) -> dict[Component, float]:
    """Mass shares of a mix [g per g] as the Choi-Okos correlations count them, without alcohol.

    >>> round(components(Composition(water=90.0, msnf=10.0))["protein"], 3)
    0.036
    """
    c = composition
    sugars = c.sucrose + c.dextrose + c.fructose + c.glucose_syrup + c.lactose
    ash = 1.0 - LACTOSE_IN_MSNF - PROTEIN_IN_MSNF
    return {
        "water": c.water / 100.0,
        "fat": c.fat / 100.0,
        "protein": PROTEIN_IN_MSNF * c.msnf / 100.0,
        "carbohydrate": (sugars + LACTOSE_IN_MSNF * c.msnf + c.other_solids + c.stabiliser) / 100.0,
        "ash": (ash * c.msnf + c.salt) / 100.0,
    }


@dataclass(frozen=True, slots=True, eq=False)
class FreezingCurve:
    """How one mix freezes at equilibrium, as a table between whose points lines run.

    `frozen` is the share of the mix's water that is ice, in percent of that water; enthalpies are J
    per g of mix, 0 for the unfrozen mix at 0 °C. The lines keep within 0.005 K of the curve down to
    -40 °C, and each pair of opposite functions undoes itself to rounding. Below -35 °C a real mix
    is glass, and the table, which ends near -45 °C, is not meant.

    Args:
        initial_c: where freezing begins [°C].
        water_share: water [g per g of mix].
        unfrozen_specific_heat_j_gk: specific heat of the unfrozen mix at 0 °C [J/(g K)].
        latent_j_per_pct: heat [J per g of mix] that freezing one percentage point of the water
            sets free at `initial_c`.
        table_c: temperatures, falling from `initial_c` [°C].
        table_frozen_pct: frozen share at them, rising from 0 [%].
        table_slope: dT/d(frozen) at them [K per percentage point], negative.
        heat_c: temperatures, rising, unfrozen ones included [°C].
        heat_j_g: enthalpy at them, rising [J/g].

    >>> sorbet = freezing_curve(Composition(water=74.0, sucrose=26.0))
    >>> round(sorbet.temperature_c(40.0), 2), round(sorbet.slope_k_per_pct(40.0), 3)
    (-3.78, -0.074)
    >>> [round(x, 2) for x in sorbet.from_enthalpy(sorbet.enthalpy_j_g(-5.0))]
    [-5.0, 52.66]
    """

    initial_c: float
    water_share: float
    unfrozen_specific_heat_j_gk: float
    latent_j_per_pct: float
    table_c: Array = field(repr=False)
    table_frozen_pct: Array = field(repr=False)
    table_slope: Array = field(repr=False)
    heat_c: Array = field(repr=False)
    heat_j_g: Array = field(repr=False)

    def frozen_pct(self, t_c: Number) -> Number:
        """Frozen share [%] at `t_c` [°C]; 0 above `initial_c`, the table's last below its end."""
        return interpolate(-t_c, -self.table_c, self.table_frozen_pct)

    def temperature_c(self, frozen_pct: Number) -> Number:
        """Temperature [°C] at which `frozen_pct` [%] is ice; `initial_c` at 0 and under."""
        return interpolate(frozen_pct, self.table_frozen_pct, self.table_c)

    def slope_k_per_pct(self, frozen_pct: Number) -> Number:
        """How the temperature moves as the mix freezes [K per percentage point]: negative."""
        return interpolate(frozen_pct, self.table_frozen_pct, self.table_slope)

    def enthalpy_j_g(self, t_c: Number) -> Number:
        """Enthalpy [J per g of mix] at equilibrium at `t_c` [°C], -45 to 100 °C.

        h = the solids' Choi-Okos enthalpies + W ((1 - phi) h_water + phi h_ice), with phi the
        frozen share and W the water. Heat of dilution and of fat hardening are left out.
        """
        return interpolate(t_c, self.heat_c, self.heat_j_g)

    def at_enthalpy_c(self, h_j_g: Number) -> Number:
        """Temperature [°C] of a mix of enthalpy `h_j_g` [J per g of mix]."""
        return interpolate(h_j_g, self.heat_j_g, self.heat_c)

    def from_enthalpy(self, h_j_g: Number) -> tuple[Number, Number]:
        """Temperature [°C] and frozen share [%] of a mix of enthalpy `h_j_g` [J per g of mix]."""
        t_c = self.at_enthalpy_c(h_j_g)
        return t_c, self.frozen_pct(t_c)


def _check(composition: Composition) -> None:
    shares = {
        f.name: getattr(composition, f.name)
        for f in fields(composition)
        if f.name != "glucose_syrup_de"
    }
    for name, share in shares.items():
        if not 0.0 <= share <= 100.0:
            raise ValueError(f"{name} is {share:g} %; a share of the mix lies within 0 and 100 %")
    if not 0.0 <= composition.glucose_syrup_de <= 100.0:
        raise ValueError(
            f"glucose_syrup_de is {composition.glucose_syrup_de:g}; it lies within 0 and 100"
        )
    total = sum(shares.values())
    if not 99.0 <= total <= 101.0:
        raise ValueError(f"the shares of the mix add up to {total:g} %; 100 within 1 is needed")
    if composition.water < 1.0:
        raise ValueError(
            f"water is {composition.water:g} %; a mix with less than 1 % has nothing to freeze"
        )


def freezing_curve(composition: Composition) -> FreezingCurve:
    """The freezing curve of a mix.

    Raises:
        ValueError: a share is negative, the shares do not add up to 100 within 1, or there is no
            water.

    >>> typical = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    >>> curve = freezing_curve(typical)
    >>> round(curve.initial_c, 2), round(curve.frozen_pct(-5.0), 1)
    (-2.42, 47.9)
    >>> round(curve.enthalpy_j_g(4.0) - curve.enthalpy_j_g(-5.0))
    125
    """
    _check(composition)
    unfrozen = np.geomspace(1.0, 1e-3, 2000)
    # a millionth of a kelvin, so that pure water too has a curve that can be inverted
    t = -depression_k(composition, unfrozen) - 1e-6 * (2.0 - unfrozen)
    keep = t >= min(_COLDEST_C, t[0] - 15.0)
    t, phi = t[keep], 1.0 - unfrozen[keep]
    shares = components(composition)
    water = shares.pop("water")

    def solids(at_c: Array) -> Array:
        h = _ETHANOL_CP_J_GK * composition.alcohol / 100.0 * at_c
        for component, share in shares.items():
            h = h + share * component_enthalpy_j_g(component, at_c)
        return h

    def cold_water(at_c: Array) -> Array:
        return brine.ice_enthalpy_j_g(at_c) + brine.heat_of_fusion_j_g(at_c)

    below = solids(t) + water * (cold_water(t) - phi * brine.heat_of_fusion_j_g(t))
    between_c = np.linspace(t[0], 0.0, 20)[1:-1]
    between = solids(between_c) + water * cold_water(between_c)
    above_c = np.linspace(0.0, _WARMEST_C, 101)
    above = solids(above_c) + water * component_enthalpy_j_g("water", above_c)
    return FreezingCurve(
        initial_c=float(t[0]),
        water_share=water,
        unfrozen_specific_heat_j_gk=float((above[1] - between[-1]) / (above_c[1] - between_c[-1])),
        latent_j_per_pct=water * brine.heat_of_fusion_j_g(float(t[0])) / 100.0,
        table_c=t,
        table_frozen_pct=100.0 * phi,
        table_slope=np.gradient(t, 100.0 * phi),
        heat_c=np.r_[t[::-1], between_c, above_c],
        heat_j_g=np.r_[below[::-1], between, above],
    )


def bath_limit_c(curve: FreezingCurve) -> float:
    """Bath temperature [°C] above which the bath no longer does its job for this mix.

    4 K below the temperature at which 45 % of the water is frozen (common practice, no source: a
    batch is stopped at about that share, and 4 K still moves some 30 W).

    >>> typical = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    >>> round(bath_limit_c(freezing_curve(typical)), 1)
    -8.7
    """
    return curve.temperature_c(BATH_LIMIT_FROZEN_PCT) - BATH_LIMIT_K
