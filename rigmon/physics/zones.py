"""The bath of an ensemble of rigs: ice, brine and salt in one zone, or in two.

In one zone everything in the outer bowl has one temperature. In two, the lower zone is the pool of
strong brine at the bottom: it holds the salt that sank and the ice packed there, and exchanges
brine with the upper one slowly. Enthalpy, water and salt that leave one place enter another, so
that the balances close to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics import bath, brine
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs
from rigmon.physics.salts import Salt
from rigmon.records import IceKind, SaltKind

_WATER_C = 10.0
_DRY_CONTACT = 0.3
"""Share of the full conductance that dry ice gives the wall (own estimate: point contacts)."""
_DILUTES = 1.7
"""Most that the depression falls, as a power of the water in the brine: bounds the time step."""
_LEAST_G = 1e-9
_SINKING_S = 25.0


@dataclass(frozen=True, slots=True, eq=False)
class Zones:
    """What is in the outer bowl; every array is (z, n), z zones of n rigs, the upper one first.

    Args:
        rigs: the rigs.
        salt: what the salt is.
        metal_j_k: heat capacity of the metal that goes with the bath [J/K].
        heat_j: enthalpy, the metal's included, against liquid water and dry salt at 0 °C [J].
        ice_g: ice [g].
        water_g: water in the brine [g].
        dissolved_g: salt in it, without water of crystallisation [g].
        grains_g: salt that lies undissolved, as weighed [g].
        ice_put_g: ice when ice last went in [g].
        melts_w_k_kg: (n,) conductance between that ice and the brine [W/K per kg].
        grain_s: (n,) time in which the salt dissolves [s].
    """

    rigs: Rigs
    salt: Salt
    metal_j_k: Array
    heat_j: Array
    ice_g: Array
    water_g: Array
    dissolved_g: Array
    grains_g: Array
    ice_put_g: Array
    melts_w_k_kg: Array
    grain_s: Array

    @classmethod
    def empty(cls, rigs: Rigs, salt: Salt, metal_c: Array | float, count: int = 1) -> Zones:
        """An outer bowl with nothing in it, both bowls' metal at `metal_c` [°C].

        Args:
            rigs: the rigs.
            salt: what the salt will be.
            metal_c: temperature of the metal, one or (n,) [°C].
            count: 1 or 2 zones.
        """
        nothing, none = np.zeros((count, rigs.n)), np.zeros(rigs.n)
        metal_j_k = nothing.copy()
        metal_j_k[0] = rigs.inner_metal_j_k + rigs.outer_metal_j_k
        heat_j = metal_j_k * metal_c
        return cls(
            rigs=rigs,
            salt=salt,
            metal_j_k=metal_j_k,
            heat_j=heat_j,
            ice_g=nothing,
            water_g=nothing,
            dissolved_g=nothing,
            grains_g=nothing,
            ice_put_g=nothing,
            melts_w_k_kg=none,
            grain_s=none,
        )

    def add(
        self,
        ice_g: Array | float,
        ice_c: Array | float,
        ice_kind: IceKind,
        wet_pct: Array | float,
        salt_g: Array | float,
        salt_kind: SaltKind,
        salt_c: Array | float,
        water_g: Array | float = 0.0,
    ) -> tuple[Zones, Array]:
        """The bath with ice, salt and water put in, and the enthalpy they bring (n,) [J].

        Args:
            ice_g: ice with the water that clings to it [g].
            ice_c: temperature of the ice [°C].
            ice_kind: form of the ice.
            wet_pct: water that clings to it, at 0 °C [% of its mass].
            salt_g: salt as weighed [g].
            salt_kind: its grain.
            salt_c: its temperature [°C].
            water_g: water at 10 °C [g].
        """
        one = np.ones(self.rigs.n)
        clinging = ice_g * (wet_pct / 100.0) * one
        dry, salt, poured = ice_g * one - clinging, salt_g * one, water_g * one
        salt_j_g = self.salt.solid_j_gk * salt_c
        brings = dry * brine.ice_enthalpy_j_g(np.minimum(ice_c * one, 0.0))
        brings = brings + poured * self.salt.brine_j_g(0.0, _WATER_C)
        shares = self._shared(self.rigs.sunk_share)
        packed = self._shared(self.rigs.pool_share)
        melts = bath.melting_w_k_kg(ice_kind)[1] * self.rigs.ice_surface
        seconds = bath.dissolving_s(salt_kind)[1] * self.rigs.grain_time
        bowl = replace(
            self,
            heat_j=self.heat_j + packed * brings + shares * salt * salt_j_g,
            ice_g=self.ice_g + packed * dry,
            water_g=self.water_g + packed * (clinging + poured),
            grains_g=self.grains_g + shares * salt,
            ice_put_g=self.ice_g + packed * dry,
            melts_w_k_kg=_mixed(self.melts_w_k_kg, self.ice_g.sum(axis=0), melts, dry),
            grain_s=_mixed(self.grain_s, self.grains_g.sum(axis=0), seconds, salt),
        )
        return bowl, brings + salt * salt_j_g

    def drained(self, brine_g: Array | float) -> tuple[Zones, Array]:
        """The bath with brine poured off, from all zones alike, and its enthalpy (n,) [J]."""
        liquid = self.water_g + self.dissolved_g
        share = np.minimum(brine_g / np.maximum(liquid.sum(axis=0), _LEAST_G), 1.0)
        gone_j = share * liquid * self.salt.brine_j_g(self.strength_pct(), self.temperature_c())
        bowl = replace(
            self,
            water_g=self.water_g * (1.0 - share),
            dissolved_g=self.dissolved_g * (1.0 - share),
            heat_j=self.heat_j - gone_j,
        )
        return bowl, np.asarray(gone_j.sum(axis=0))

    @property
    def _two(self) -> bool:
        return len(self.ice_g) > 1

    def _shared(self, below: Array) -> Array:
        """(z, n) what goes to each zone of something of which `below` (n,) goes to the lower."""
        return np.vstack([1.0 - below, below]) if self._two else np.ones((1, below.size))

    def temperature_c(self) -> Array:
        """(z, n) temperature of each zone [°C]."""
        return np.asarray(
            bath.temperature_c(
                self.salt,
                self.ice_g,
                self.water_g,
                self.dissolved_g,
                self.grains_g,
                self.heat_j,
                self.metal_j_k,
            )
        )

    def strength_pct(self) -> Array:
        """(z, n) strength of the brine [% by mass]; 0 where there is none."""
        return np.asarray(
            100.0 * self.dissolved_g / np.maximum(self.water_g + self.dissolved_g, _LEAST_G)
        )

    def mean_pct(self) -> Array:
        """(n,) strength of all the brine taken together [% by mass]."""
        salt, water = self.dissolved_g.sum(axis=0), self.water_g.sum(axis=0)
        return np.asarray(100.0 * salt / np.maximum(water + salt, _LEAST_G))

    def mean_c(self, t_c: Array) -> Array:
        """(n,) what the bowl stands in [°C], given the zones' temperatures (z, n)."""
        if not self._two:
            return np.asarray(t_c[0])
        pool = self._pool()
        return np.asarray((1.0 - pool) * t_c[0] + pool * t_c[1])

    def contact(self) -> Array:
        """(n,) share of the full conductance that the wall has: more as brine covers it."""
        liquid = (self.water_g + self.dissolved_g).sum(axis=0)
        return np.asarray(
            _DRY_CONTACT + (1.0 - _DRY_CONTACT) * np.minimum(1.0, liquid / self.rigs.cover_g)
        )

    def _pool(self) -> Array:
        liquid = self.water_g + self.dissolved_g
        return np.asarray(liquid[1] / np.maximum(liquid.sum(axis=0), 1.0))

    def after(self, dt: float, t_c: Array, heat_w: Array) -> Zones:
        """The bath `dt` [s] later.

        Args:
            dt: time step, up to 5 [s].
            t_c: (z, n) temperatures at its beginning [°C].
            heat_w: (n,) heat that flows in, from mix, room and sun [W].
        """
        strength = self.strength_pct()
        melted = self._melted(dt, t_c, strength)
        dissolved, freed = self._dissolved(dt, t_c, strength)
        shares = self._shared(self._pool()) if self._two else 1.0
        bowl = replace(
            self,
            heat_j=self.heat_j + shares * heat_w * dt,
            ice_g=self.ice_g - melted,
            water_g=self.water_g + melted + freed,
            dissolved_g=self.dissolved_g + dissolved,
            grains_g=self.grains_g - dissolved - freed,
        )
        return bowl._exchanged(dt, t_c) if self._two else bowl

    def _melted(self, dt: float, t_c: Array, strength: Array) -> Array:
        """(z, n) ice that melts [g]; negative where brine freezes on to it."""
        ice, water = self.ice_g, self.water_g
        liquid = water + self.dissolved_g
        liquidus_c = self.salt.freezing_c(strength)
        above_k = t_c - liquidus_c
        per_k = bath.melting_g_s(
            self.melts_w_k_kg, self.ice_put_g, ice, liquid, np.ones_like(ice), liquidus_c
        )
        # What melts cools and thins the brine, and so works against itself within the step.
        capacity = 2.0 * ice + 3.4 * liquid + self.metal_j_k + 1.0
        lifts = brine.heat_of_fusion_j_g(liquidus_c) / capacity
        lifts = lifts - _DILUTES * liquidus_c / np.maximum(liquid, 1.0)
        fades = np.maximum(per_k * lifts * dt, 1e-12)
        melted = per_k * above_k * dt * -np.expm1(-fades) / fades
        return np.maximum(np.minimum(melted, ice), -0.5 * water)

    def _dissolved(self, dt: float, t_c: Array, strength: Array) -> tuple[Array, Array]:
        """(z, n) salt that dissolves [g], and water of crystallisation that it sets free [g]."""
        liquid = self.water_g + self.dissolved_g
        saturated = self.salt.saturation_pct(t_c)
        rate = bath.dissolving_g_s(
            np.maximum(self.grain_s, 1.0), self.grains_g, liquid, strength, saturated
        )
        room_g = 0.5 * (saturated - strength) / 100.0 * liquid
        gone = np.minimum(np.maximum(np.minimum(rate * dt, room_g), 0.0), self.grains_g)
        anhydrous = gone * self.salt.anhydrous_share
        return anhydrous, gone - anhydrous

    def _exchanged(self, dt: float, t_c: Array) -> Zones:
        """Brine sinks until the pool holds its share, and the zones swap some."""
        liquid = self.water_g + self.dissolved_g
        sinks = (self.rigs.pool_share * liquid.sum(axis=0) - liquid[1]) * dt / _SINKING_S
        swaps = np.where(liquid.min(axis=0) > 5.0, self.rigs.exchange_g_s * dt, 0.0)
        leaves = np.vstack([np.maximum(sinks, 0.0), np.maximum(-sinks, 0.0)]) + swaps
        share = np.minimum(leaves / np.maximum(liquid, _LEAST_G), 0.5)
        brine_j = liquid * self.salt.brine_j_g(self.strength_pct(), t_c)
        water, salt, heat = share * self.water_g, share * self.dissolved_g, share * brine_j
        return replace(
            self,
            water_g=self.water_g - water + water[::-1],
            dissolved_g=self.dissolved_g - salt + salt[::-1],
            heat_j=self.heat_j - heat + heat[::-1],
        )


def _mixed(before: Array, before_g: Array, added: Array, added_g: Array) -> Array:
    """The mean of a property over what was there and what is added, by mass."""
    total = before_g + added_g
    return np.where(
        total > 0.0, (before * before_g + added * added_g) / np.maximum(total, _LEAST_G), before
    )
