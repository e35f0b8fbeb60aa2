"""The bath of ice, water and salt: its heat, where it comes to rest, how it ages, how fast it goes.

Masses: ice; water, all of it that is liquid, water of crystallisation that dissolving set free
included; salt dissolved, without its water of crystallisation; salt undissolved, as weighed.
Enthalpies count from liquid water and the dry salt as weighed, both at 0 °C.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from rigmon.physics import brine, salts
from rigmon.physics.numbers import Number, clip, crossing
from rigmon.physics.salts import Salt
from rigmon.records import IceKind, SaltKind

_NOTHING_G = 1e-300
_WETS_ICE = 0.14
"""Brine that wets all of the ice, as a share of the ice: 0.1 to 0.2, estimate."""
_WETS_GRAINS = 0.3
"""Brine that fills a heap of salt, as a share of the salt: its voids (estimate)."""


def _terms(
    salt: Salt, ice_g: Number, water_g: Number, dissolved_g: Number, undissolved_g: Number
) -> tuple[Number, Number, Number]:
    """h0 [J], h1 [J/K] and h2 [J/K²] of the enthalpy h0 + h1 t + h2 t² at those masses."""
    brine_g = water_g + dissolved_g
    pct = 100.0 * dissolved_g / (brine_g + _NOTHING_G)
    c0, c1 = salt.specific_heat_terms(pct)
    frozen, warmed, bent = brine.ICE_ENTHALPY
    h0 = dissolved_g * salt.dissolving_j_g(pct) / salt.anhydrous_share + frozen * ice_g
    h1 = brine_g * c0 + warmed * ice_g + salt.solid_j_gk * undissolved_g
    h2 = 0.5 * brine_g * c1 + bent * ice_g
    return h0, h1, h2


def enthalpy_j(
    salt: Salt,
    ice_g: Number,
    water_g: Number,
    dissolved_g: Number,
    undissolved_g: Number,
    t_c: Number,
) -> Number:
    """Enthalpy [J] of a bath all at `t_c` [°C].

    H = ice h_ice(t) + (D/s) q(w) + (W + D) (c0 t + c1 t²/2) + U c_s t, with D dissolved, W water, U
    undissolved [g], w = 100 D/(W + D), and s, q, c0, c1, c_s of the salt (see `Salt`); quadratic in
    t. Valid -40 to 20 °C, brine from its liquidus up.

    Args:
        salt: which salt.
        ice_g: ice [g].
        water_g: liquid water [g].
        dissolved_g: anhydrous salt dissolved in it [g].
        undissolved_g: salt as weighed that lies undissolved [g].
        t_c: temperature of all of it [°C].

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> round(enthalpy_j(salt(SaltName.SODIUM_CHLORIDE), 1000.0, 0.0, 0.0, 0.0, -10.0))
    -354059
    """
    h0, h1, h2 = _terms(salt, ice_g, water_g, dissolved_g, undissolved_g)
    return h0 + t_c * (h1 + h2 * t_c)


def temperature_c(
    salt: Salt,
    ice_g: Number,
    water_g: Number,
    dissolved_g: Number,
    undissolved_g: Number,
    heat_j: Number,
    metal_j_k: Number | float = 0.0,
) -> Number:
    """Temperature [°C] at which a bath of those masses has the enthalpy `heat_j`; solved exactly.

    t = 2 e / (h1 + √(h1² + 4 h2 e)), e = `heat_j` - h0, with h0, h1, h2 of `enthalpy_j`. Whether
    the brine rests with the ice is not asked. There must be some mass, or metal.

    Args:
        salt: which salt.
        ice_g: ice [g].
        water_g: liquid water [g].
        dissolved_g: anhydrous salt dissolved in it [g].
        undissolved_g: salt as weighed that lies undissolved [g].
        heat_j: enthalpy, the metal's included [J].
        metal_j_k: heat capacity of metal at the same temperature [J/K].

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> round(temperature_c(salt(SaltName.SODIUM_CHLORIDE), 1000.0, 0.0, 0.0, 0.0, -354059.0), 3)
    -10.0
    """
    h0, h1, h2 = _terms(salt, ice_g, water_g, dissolved_g, undissolved_g)
    h1 = h1 + metal_j_k
    e = heat_j - h0
    return 2.0 * e / (h1 + _root(h1 * h1 + 4.0 * h2 * e))


def _root(x: Number) -> Number:
    return np.sqrt(x) if isinstance(x, np.ndarray) else math.sqrt(x)


@dataclass(frozen=True, slots=True)
class Equilibrium:
    """A bath at rest.

    Args:
        t_c: temperature [°C].
        ice_g: ice [g].
        water_g: liquid water [g].
        dissolved_g: anhydrous salt dissolved in it [g].
        undissolved_g: salt as weighed that lies undissolved [g].
    """

    t_c: float
    ice_g: float
    water_g: float
    dissolved_g: float
    undissolved_g: float


@dataclass(frozen=True, slots=True)
class Charge:
    """What is in the bowl: `free_g` [g] of ice and water and `salt_g` [g] of salt as weighed."""

    salt: Salt
    free_g: float
    salt_g: float

    @property
    def coldest_c(self) -> float:
        """The eutectic; without salt, 0 °C."""
        return self.salt.eutectic_c if self.salt_g > 0.0 else 0.0

    @property
    def most_g(self) -> float:
        """Salt as weighed that dissolves at the eutectic before it or the ice is used up."""
        share = self.salt.anhydrous_share
        needs = share * (100.0 / self.salt.eutectic_pct - 1.0) - (1.0 - share)
        return min(self.salt_g, self.free_g / needs)

    def with_brine(self, gone_g: float, water_g: float, t_c: float) -> Equilibrium:
        """So much salt as weighed dissolved, in so much water, at that temperature."""
        dissolved_g = gone_g * self.salt.anhydrous_share
        ice_g = self.free_g + (gone_g - dissolved_g) - water_g
        return Equilibrium(t_c, max(ice_g, 0.0), water_g, dissolved_g, self.salt_g - gone_g)

    def at_eutectic(self, gone_g: float) -> Equilibrium:
        """So much salt as weighed dissolved at the eutectic."""
        water_g = gone_g * self.salt.anhydrous_share * (100.0 / self.salt.eutectic_pct - 1.0)
        return self.with_brine(gone_g, water_g, self.coldest_c)

    def on_liquidus(self, water_g: float) -> Equilibrium:
        """All salt dissolved, in so much water, at rest with the ice that is left."""
        dissolved_g = self.salt_g * self.salt.anhydrous_share
        pct = 100.0 * dissolved_g / (dissolved_g + water_g + _NOTHING_G)
        return self.with_brine(self.salt_g, water_g, self.salt.freezing_c(pct))

    def without_ice(self, t_c: float) -> Equilibrium:
        """No ice left, and as much salt dissolved as the water holds at that temperature."""
        holds = self.salt.saturation_pct(t_c) / 100.0
        room = self.salt.anhydrous_share - holds
        gone_g = min(self.salt_g, self.free_g * holds / room) if room > 0.0 else self.salt_g
        water_g = self.free_g + gone_g * (1.0 - self.salt.anhydrous_share)
        return self.with_brine(gone_g, water_g, t_c)

    def last_ice(self) -> Equilibrium:
        """The moment at which the last ice has melted."""
        if self.most_g < self.salt_g:
            return self.at_eutectic(self.most_g)
        return self.on_liquidus(self.free_g + self.salt_g * (1.0 - self.salt.anhydrous_share))

    def heat_j(self, at: Equilibrium) -> float:
        """Enthalpy of the bath so [J]."""
        return enthalpy_j(self.salt, at.ice_g, at.water_g, at.dissolved_g, at.undissolved_g, at.t_c)

    def with_heat(self, at: Equilibrium, heat_j: float) -> Equilibrium:
        """The same masses at the temperature at which they have that enthalpy."""
        masses = (at.ice_g, at.water_g, at.dissolved_g, at.undissolved_g)
        return replace(at, t_c=temperature_c(self.salt, *masses, heat_j))

    def between(
        self, state: Callable[[float], Equilibrium], heat_j: float, low: float, high: float
    ) -> Equilibrium:
        """The one state of a family, from `low` to `high`, that has that enthalpy."""
        scale_j = abs(heat_j) + 333.0 * self.free_g
        return state(crossing(lambda x: (self.heat_j(state(x)) - heat_j) / scale_j, low, high))

    def at_rest(self, heat_j: float) -> Equilibrium:
        """The bath at rest with that enthalpy."""
        frozen = self.at_eutectic(0.0)
        frozen_j = self.heat_j(frozen)
        if heat_j <= frozen_j:
            return self.with_heat(frozen, heat_j)
        turned = self.at_eutectic(self.most_g)
        turned_j = self.heat_j(turned)
        if heat_j < turned_j:
            return self.at_eutectic(self.most_g * (heat_j - frozen_j) / (turned_j - frozen_j))
        last = self.last_ice()
        if heat_j < self.heat_j(last):
            return self.between(self.on_liquidus, heat_j, turned.water_g, last.water_g)
        if self.most_g == self.salt_g:
            return self.with_heat(last, heat_j)
        warm_c = 10.0
        while self.heat_j(self.without_ice(warm_c)) < heat_j:
            warm_c *= 2.0
        solved = self.between(self.without_ice, heat_j, self.coldest_c, warm_c)
        return self.with_heat(solved, heat_j)


def settled(salt: Salt, free_g: float, salt_g: float, heat_j: float) -> tuple[Charge, float]:
    """The charge with its salt as it comes to rest, and its enthalpy counted from that salt."""
    if free_g + salt_g <= 0.0:
        raise ValueError(f"{free_g} g of ice and water and {salt_g} g of salt are no bath")
    rest = salts.salt(salt.rests_as)
    rest_g = salt_g * salt.anhydrous_share / rest.anhydrous_share
    bound_g = rest_g - salt_g
    if bound_g > free_g:
        raise ValueError(
            f"{salt_g} g of {salt.formula} bind {bound_g:.0f} g of water as they rest, "
            f"of {free_g} g that are there"
        )
    gives_j_g = rest.dissolving_j_g(0.0) * rest_g - salt.dissolving_j_g(0.0) * salt_g
    return Charge(rest, free_g - bound_g, rest_g), heat_j + gives_j_g


def equilibrium(
    salt: Salt, ice_g: float, water_g: float, salt_g: float, heat_j: float
) -> Equilibrium:
    """Where a bath comes to rest, by its enthalpy `heat_j` [J], counted as `enthalpy_j` does.

    In turn, as heat comes in: ice and dry salt below the eutectic; both and brine at it; ice and
    brine on the liquidus, or brine over salt along its saturation; brine. Without salt the bath
    rests at 0 °C while there is ice. Valid from the eutectic less 20 °C to 30 °C.

    Undissolved salt is taken to stay as weighed, but anhydrous calcium chloride turns to its
    hexahydrate and is counted as that. Left out are the dihydrate of sodium chloride, without which
    the heat of the eutectic comes out right, and the dodecahydrate of magnesium chloride: where not
    all of that salt dissolves, less ice is left than said.

    Args:
        salt: which salt.
        ice_g: ice [g].
        water_g: liquid water without salt [g]; how the two are shared makes no difference.
        salt_g: salt as weighed [g].
        heat_j: enthalpy [J].

    Raises:
        ValueError: nothing is there, or less water than anhydrous calcium chloride binds.

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> nacl = salt(SaltName.SODIUM_CHLORIDE)
    >>> rest = equilibrium(nacl, 3000.0, 0.0, 500.0, -500e3)
    >>> round(rest.t_c, 1), round(rest.ice_g)
    (-17.0, 1051)
    """
    charge, settled_j = settled(salt, ice_g + water_g, salt_g, heat_j)
    return charge.at_rest(settled_j)


Range = tuple[float, float, float]

_MELTING_W_K_KG: Mapping[IceKind, Range] = MappingProxyType(
    {IceKind.CUBES: (27.0, 43.0, 67.0), IceKind.CRUSHED: (100.0, 165.0, 267.0)}
)
_DISSOLVING_S: Mapping[SaltKind, Range] = MappingProxyType(
    {
        SaltKind.FINE: (120.0, 190.0, 300.0),
        SaltKind.KOSHER: (300.0, 420.0, 600.0),
        SaltKind.ROCK: (600.0, 1200.0, 2400.0),
    }
)


def melting_w_k_kg(ice_kind: IceKind) -> Range:
    """Low, usual and high conductance from brine to ice [W/K per kg of ice at its start].

    Estimate: 100 to 300 W/(m² K) of 25 g cubes that melt in 5 to 10 min in still water at 20 °C,
    times 0.26 m²/kg for 25 mm cubes and 0.8 m²/kg for 8 mm crushed ice.

    >>> melting_w_k_kg(IceKind.CUBES)
    (27.0, 43.0, 67.0)
    """
    return _MELTING_W_K_KG[ice_kind]


def dissolving_s(salt_kind: SaltKind) -> Range:
    """Low, usual and high time constant in which salt dissolves in fresh water [s].

    Estimate: grains shrink at the rate at which salt leaves their surface, 3e-6 m/s in quiet cold
    brine to 2e-5 m/s stirred, so that time goes with their size: 0.4 mm fine, 1 mm kosher, 4 mm
    rock salt. The upper figure is for salt that lies still.

    >>> dissolving_s(SaltKind.ROCK)
    (600.0, 1200.0, 2400.0)
    """
    return _DISSOLVING_S[salt_kind]


def melting_g_s(
    w_k_kg: Number,
    start_g: Number,
    ice_g: Number,
    brine_g: Number,
    above_k: Number,
    liquidus_c: Number,
) -> Number:
    """Ice that melts [g/s]; negative where brine colder than its liquidus freezes on to it.

    dm/dt = G wet dT / L, G = k m0 (m/m0)^(2/3): pieces keep their number and shape as they shrink.
    wet = min(1, brine / (0.14 m)): little brine wets part of the ice. L at the liquidus. Without
    any liquid nothing melts; ice that is not bone dry brings some.

    Args:
        w_k_kg: k, conductance per kg of ice at its start, as of `melting_w_k_kg` [W/(K kg)].
        start_g: m0, ice put in [g].
        ice_g: m, ice left [g].
        brine_g: liquid, its salt included [g].
        above_k: dT, how far the brine is above its liquidus [K].
        liquidus_c: that liquidus [°C].

    >>> round(melting_g_s(43.0, 3000.0, 3000.0, 1000.0, 1.0, -15.0), 2)
    0.43
    """
    wet = clip(brine_g / (_WETS_ICE * ice_g + _NOTHING_G), 0.0, 1.0)
    w_k = w_k_kg * _cube_root(start_g * ice_g * ice_g) / 1000.0
    return w_k * wet * above_k / brine.heat_of_fusion_j_g(liquidus_c)


def _cube_root(x: Number) -> Number:
    return np.cbrt(x) if isinstance(x, np.ndarray) else math.cbrt(x)


def dissolving_g_s(
    tau_s: Number, undissolved_g: Number, brine_g: Number, pct: Number, saturated_pct: Number
) -> Number:
    """Salt as weighed that dissolves [g/s].

    dm/dt = m wet (1 - w/w_s) / tau, none where the brine is saturated; wet = min(1, brine /
    (0.3 m)): little brine reaches part of the heap.

    Args:
        tau_s: tau, as of `dissolving_s` [s].
        undissolved_g: m, salt that lies undissolved [g].
        brine_g: liquid, its salt included [g].
        pct: w, strength of the brine [% by mass].
        saturated_pct: w_s, strength at which it dissolves no more [% by mass].

    >>> dissolving_g_s(200.0, 500.0, 1000.0, 13.0, 26.0)
    1.25
    """
    wet = clip(brine_g / (_WETS_GRAINS * undissolved_g + _NOTHING_G), 0.0, 1.0)
    return undissolved_g * wet * clip(1.0 - pct / saturated_pct, 0.0, 1.0) / tau_s
