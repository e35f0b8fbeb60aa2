"""The bath: ice, salt and brine around the inner bowl, the brine in two layers.

The upper layer stands around most of the ice and is diluted by its melt; the lower one is the pool
under it, strong with the salt that sank. Every exchange takes enthalpy out of one place and puts
the same into another, so that the balance closes to rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from rigmon.physics import brine
from rigmon.records import IceKind, SaltKind
from rigmon.virtual.layer import Layer
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.tables import BRINE

SALT_J_GK = 0.86
"""Specific heat of dry salt [J/(g K)] (CRC Handbook, 50.5 J/(mol K), from memory)."""
WATER_J_GK = BRINE.specific_heat_j_gk.at(0.0)
ICE_J_GK = float(brine.ice_specific_heat_j_gk(-8.0))
FUSION_J_G = float(brine.heat_of_fusion_j_g(0.0))

_DRAIN_S = 25.0
_OUTER_FILM_W_K = 20.0
_DRY_CONTACT = 0.3
_RISING = 0.85


@dataclass(slots=True)
class Bath:
    """Ice, salt and brine in the outer bowl.

    Args:
        rig: the rig's parameters.
        outer_c: temperature of the outer bowl's metal [°C].
    """

    rig: RigParameters
    outer_c: float
    upper: Layer = field(default_factory=Layer)
    lower: Layer = field(default_factory=Layer)
    ice_g: float = 0.0
    ice_heat_j: float = 0.0
    ice_put_g: float = 0.0
    _surface: float = 0.0
    _core_s: float = 10.0

    def add_ice(self, ice_g: float, ice_c: float, kind: IceKind, wet_pct: float = 3.0) -> float:
        """Put ice in, with the water that clings to it at 0 °C; returns its enthalpy [J]."""
        rig = self.rig
        cubes = kind is IceKind.CUBES
        dry_g = ice_g * (1.0 - wet_pct / 100.0)
        self.upper.water_g += ice_g - dry_g
        heat = dry_g * (ICE_J_GK * min(ice_c, 0.0) - FUSION_J_G)
        core_s = rig.cubes_core_s if cubes else rig.crushed_core_s
        self._core_s = (self.ice_g * self._core_s + dry_g * core_s) / (self.ice_g + dry_g)
        per_kg = rig.cubes_w_k_kg if cubes else rig.crushed_w_k_kg
        # Crystals shrink and their number stays: surface goes with the 2/3 power of their mass.
        self._surface += per_kg / 1000.0 * dry_g ** (1.0 / 3.0)
        self.ice_g += dry_g
        self.ice_put_g += dry_g
        self.ice_heat_j += heat
        return heat

    def add_salt(self, salt_g: float, salt_c: float, kind: SaltKind) -> float:
        """Put salt in; returns its enthalpy [J]."""
        rig = self.rig
        grain_s = {
            SaltKind.FINE: rig.fine_s,
            SaltKind.KOSHER: rig.kosher_s,
            SaltKind.ROCK: rig.rock_s,
        }[kind]
        for layer, share, slow in (
            (self.upper, 1.0 - rig.sunk_share, 1.0),
            (self.lower, rig.sunk_share, rig.sunk_slowness),
        ):
            before, added = layer.grain_g, share * salt_g
            total = before + added
            if total > 0.0:
                layer.grain_s = (before * layer.grain_s + added * grain_s * slow) / total
            layer.grain_g = total
            layer.grain_heat_j += added * SALT_J_GK * salt_c
        return salt_g * SALT_J_GK * salt_c

    def add_water(self, water_g: float, water_c: float) -> float:
        """Pour water over the ice; returns its enthalpy [J]."""
        heat = water_g * WATER_J_GK * water_c
        self.upper.water_g += water_g
        self.upper.heat_j += heat
        return heat

    def drain(self, brine_g: float) -> float:
        """Take brine off, from both layers alike; returns its enthalpy [J]."""
        liquid = self.upper.liquid_g + self.lower.liquid_g
        share = min(1.0, brine_g / liquid) if liquid > 0.0 else 0.0
        taken = Layer()
        self.upper.give(taken, share)
        self.lower.give(taken, share)
        return taken.heat_j

    def stir(self) -> None:
        """A hand or a spoon mixes both layers and lifts the sunken salt half way."""
        liquid = self.upper.liquid_g + self.lower.liquid_g
        if liquid <= 0.0:
            return
        self.lower.give(self.upper, 1.0)
        self.upper.give(self.lower, self.rig.pool_share)
        self.upper.grain_s = max(self.upper.grain_s, 0.5 * self.lower.grain_s)
        self.upper.grain_g += 0.5 * self.lower.grain_g
        self.upper.grain_heat_j += 0.5 * self.lower.grain_heat_j
        self.lower.grain_g *= 0.5
        self.lower.grain_heat_j *= 0.5

    def ice_c(self) -> float:
        """Temperature of the ice [°C]; 0 where there is none."""
        return (self.ice_heat_j / self.ice_g + FUSION_J_G) / ICE_J_GK if self.ice_g > 0.0 else 0.0

    def temperature_c(self) -> float:
        """Mean temperature of the brine [°C]."""
        upper, lower = self.upper.capacity_j_k(), self.lower.capacity_j_k()
        if upper + lower <= 1e-9:
            return self.ice_c()
        heat = upper * self.upper.temperature_c() + lower * self.lower.temperature_c()
        return heat / (upper + lower)

    def strength_pct(self) -> float:
        """Salt in the brine as a whole [% by mass]."""
        liquid = self.upper.liquid_g + self.lower.liquid_g
        salt = self.upper.dissolved_g + self.lower.dissolved_g
        return 100.0 * salt / liquid if liquid > 0.0 else 0.0

    def contact(self) -> float:
        """How much of the full conductance the inner bowl has, dry ice to covered by brine."""
        liquid = self.upper.liquid_g + self.lower.liquid_g
        return _DRY_CONTACT + (1.0 - _DRY_CONTACT) * min(1.0, liquid / self.rig.cover_g)

    def pool(self) -> float:
        """Share of the inner bowl's wall that stands in the lower layer."""
        liquid = self.upper.liquid_g + self.lower.liquid_g
        return self.lower.liquid_g / (liquid + 1.0)

    def enthalpy_j(self) -> float:
        """All enthalpy in the outer bowl, its metal included [J]."""
        grains = self.upper.grain_heat_j + self.lower.grain_heat_j
        brine_j = self.upper.heat_j + self.lower.heat_j
        return brine_j + grains + self.ice_heat_j + self.rig.outer_metal_j_k * self.outer_c

    def step(self, dt: float, from_bowl_j: float, air_c: float, shaken: bool) -> float:
        """Carry the bath on by `dt` [s].

        Args:
            dt: time step, up to 2 [s].
            from_bowl_j: heat that came through the inner bowl meanwhile [J].
            air_c: temperature of the air around the outer bowl [°C].
            shaken: the mixer is running and shakes the bath.

        Returns:
            heat that came in from the air [J].
        """
        pool = self.pool()
        self.upper.heat_j += (1.0 - pool) * from_bowl_j
        self.lower.heat_j += pool * from_bowl_j
        from_air_j = self._leak(dt, air_c, pool)
        self.upper.dissolve(dt)
        self.lower.dissolve(dt)
        liquid = self.upper.liquid_g + self.lower.liquid_g
        wet = min(1.0, liquid / (self.rig.held_share * self.ice_g + 1e-9))
        # Packed ice reaches to the bottom; later it floats.
        melted = 1.0 - self.ice_g / self.ice_put_g if self.ice_put_g > 0.0 else 1.0
        deep = pool * min(1.0, max(0.15, 1.6 - 2.0 * melted))
        self._melt(self.upper, dt, wet, 1.0 - deep)
        self._melt(self.lower, dt, wet, deep)
        self._flow(dt, shaken)
        return from_air_j

    def _leak(self, dt: float, air_c: float, pool: float) -> float:
        brine_w_k = _OUTER_FILM_W_K * self.contact()
        bath_c = (1.0 - pool) * self.upper.temperature_c() + pool * self.lower.temperature_c()
        total = self.rig.leak_w_k + brine_w_k
        rest_c = (self.rig.leak_w_k * air_c + brine_w_k * bath_c) / total
        fade = math.exp(-dt * total / self.rig.outer_metal_j_k)
        stored = self.rig.outer_metal_j_k * (rest_c - self.outer_c) * (1.0 - fade)
        mean_c = rest_c - stored / (total * dt)
        self.outer_c += stored / self.rig.outer_metal_j_k
        from_air_j = self.rig.leak_w_k * (air_c - mean_c) * dt
        to_brine_j = from_air_j - stored
        self.upper.heat_j += (1.0 - pool) * to_brine_j
        self.lower.heat_j += pool * to_brine_j
        return from_air_j

    def _melt(self, layer: Layer, dt: float, wet: float, share: float) -> None:
        """Ice and brine meet at the liquidus; what both bring there melts ice, or freezes brine."""
        liquid = layer.liquid_g
        if self.ice_g <= 0.0 or liquid <= 1.0 or wet * share <= 0.0:
            return
        strength = layer.strength_pct
        meet_c = BRINE.freezing_c.at(strength)
        fusion = FUSION_J_G + (WATER_J_GK - ICE_J_GK) * meet_c
        capacity = layer.capacity_j_k()
        ice_j_k = self.ice_g * ICE_J_GK * share
        film_w_k = self._surface * self.ice_g ** (2.0 / 3.0) * wet * share
        core_w_k = ice_j_k / self._core_s * wet
        # The first gram melted weakens the brine and lifts the liquidus against what melts it.
        lift_k_g = BRINE.freezing_c.at(strength * liquid / (liquid + 1.0)) - meet_c
        stiff = dt * lift_k_g * (film_w_k + core_w_k) / fusion
        damp = -math.expm1(-stiff) / stiff if stiff > 1e-9 else 1.0
        from_brine = capacity * (layer.temperature_c() - meet_c)
        from_brine *= -math.expm1(-dt * film_w_k / capacity) * damp
        from_ice = ice_j_k * (self.ice_c() - meet_c) * -math.expm1(-dt * core_w_k / ice_j_k) * damp
        melt_g = (from_brine + from_ice) / fusion
        limit_g = -0.5 * layer.water_g
        if not limit_g <= melt_g <= self.ice_g:
            scale = (self.ice_g if melt_g > 0.0 else limit_g) / melt_g
            from_brine, from_ice, melt_g = from_brine * scale, from_ice * scale, melt_g * scale
        # Melt is lighter than the brine it comes into: under the ice most of it rises.
        rising_g = _RISING * max(0.0, melt_g) if layer is self.lower else 0.0
        self.upper.water_g += rising_g
        self.upper.heat_j += rising_g * WATER_J_GK * meet_c
        layer.water_g += melt_g - rising_g
        layer.heat_j += (melt_g - rising_g) * WATER_J_GK * meet_c - from_brine
        self.ice_g -= melt_g
        self.ice_heat_j -= from_ice + melt_g * (ICE_J_GK * meet_c - FUSION_J_G)
        if self.ice_g < 1e-6:
            layer.heat_j += self.ice_heat_j
            layer.water_g += self.ice_g
            self.ice_g = self.ice_heat_j = 0.0

    def _flow(self, dt: float, shaken: bool) -> None:
        upper, lower = self.upper, self.lower
        liquid = upper.liquid_g + lower.liquid_g
        # Ice holds its own film back before anything runs to the bottom.
        free = max(0.0, liquid - 0.3 * self.rig.held_share * self.ice_g)
        wanted = self.rig.pool_share * free - lower.liquid_g
        moved = wanted * -math.expm1(-dt / _DRAIN_S)
        if moved > 0.0:
            upper.give(lower, min(0.5, moved / (upper.liquid_g + 1e-9)))
        elif moved < 0.0:
            lower.give(upper, min(0.5, -moved / (lower.liquid_g + 1e-9)))
        if min(upper.liquid_g, lower.liquid_g) < 5.0:
            return
        swapped = self.rig.exchange_g_s * (2.0 if shaken else 1.0) * dt
        swapped = min(swapped, 0.3 * min(upper.liquid_g, lower.liquid_g))
        down, up = Layer(), Layer()
        upper.give(down, swapped / upper.liquid_g)
        lower.give(up, swapped / lower.liquid_g)
        down.give(lower, 1.0)
        up.give(upper, 1.0)
