"""The inner bowl while it is beaten: the mix, the frozen layer on its wall, and its metal.

Heat leaves the mix through the film that the beaters stir and through the layer. Mix freezes on to
the wall where the wall is cold enough to hold it; the beaters take part of that off again and
stir it in, and it is largely by this way that the mix stiffens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.tables import MixTables

_MIX_G_M3 = 1.05e6
_THINNEST_M = 0.2e-3
_STIFF_PAS = 3.0
_ONSET_K = 0.3
_LEAST_J_G = 15.0
_STILL_FILM = 0.2
_OUTSIDE_REFERENCE_K = 10.0


@dataclass(slots=True)
class BowlStep:
    """What one step moved.

    Args:
        from_mix_j: out of the mix, through the wall [J].
        from_metal_j: out of the metal, to the outside [J].
        from_air_j: into the mix from the air [J].
        from_beaters_j: into the mix from the beaters [J].
    """

    from_mix_j: float
    from_metal_j: float
    from_air_j: float
    from_beaters_j: float


@dataclass(slots=True)
class Bowl:
    """Mix, wall layer and metal.

    Args:
        rig: the rig's parameters.
        mix: how this mix freezes.
        metal_c: temperature of the metal [°C].
    """

    rig: RigParameters
    mix: MixTables
    metal_c: float
    mass_g: float = 0.0
    heat_j: float = 0.0
    layer_g: float = 0.0
    layer_heat_j: float = 0.0
    speed: float = 0.0
    stirring_in: bool = False
    nucleated: bool = False
    air_pct: float = 0.0
    _lag: float = 0.0

    def pour(self, mix_g: float, mix_c: float) -> float:
        """Pour mix in; returns its enthalpy [J]."""
        heat = mix_g * self.mix.enthalpy_j_g.at(mix_c)
        self.mass_g += mix_g
        self.heat_j += heat
        return heat

    def scrape(self) -> None:
        """Take the layer off the wall by hand and stir it in."""
        self._take_off(0.9)

    def _take_off(self, share: float) -> None:
        taken_g, taken_j = share * self.layer_g, share * self.layer_heat_j
        self.layer_g -= taken_g
        self.layer_heat_j -= taken_j
        self.mass_g += taken_g
        self.heat_j += taken_j

    def temperature_c(self) -> float:
        """Temperature of the mix off the wall [°C]; of the metal where there is no mix."""
        if self.mass_g <= 0.0:
            return self.metal_c
        h = self.heat_j / self.mass_g
        rested_c = self.mix.temperature_c.at(h)
        lag = self._lag if self.nucleated else 1.0
        if lag < 1e-4 or h >= self.mix.heat_at_initial_j_g:
            return rested_c
        liquid_c = self.mix.initial_c + (h - self.mix.heat_at_initial_j_g) / self.mix.liquid_j_gk
        return rested_c + lag * (liquid_c - rested_c)

    def frozen_pct(self) -> float:
        """Share of the water that is ice, off the wall [%]."""
        if self.mass_g <= 0.0 or not self.nucleated:
            return 0.0
        rested = max(0.0, self.mix.frozen_pct.at(self.heat_j / self.mass_g))
        return rested * (1.0 - self._lag)

    def layer_frozen_pct(self) -> float:
        """The same in the wall layer [%]."""
        if self.layer_g <= 0.0:
            return 0.0
        return max(0.0, self.mix.frozen_pct.at(self.layer_heat_j / self.layer_g))

    def mean_frozen_pct(self) -> float:
        """The same of all the mix [%]."""
        total = self.mass_g + self.layer_g
        if total <= 0.0:
            return 0.0
        frozen = self.mass_g * self.frozen_pct() + self.layer_g * self.layer_frozen_pct()
        return frozen / total

    def viscosity_pas(self) -> float:
        """Viscosity of the mix off the wall [Pa s].

        mu = mu0 exp(b x) (1 - x/0.6)^-2 (1 + overrun), x the ice in it by mass: the syrup between
        the crystals thickens, and the crystals crowd (own form).
        """
        ice = min(self.frozen_pct() / 100.0 * self.mix.water_share, 0.55)
        crowd = (1.0 - ice / 0.6) ** -2
        thick = self.rig.serum_pas * math.exp(self.rig.thickening * ice) * crowd
        return float(thick * (1.0 + self.air_pct / 100.0))

    def inside_w_k(self) -> float:
        """Conductance from the mix to the wall [W/K]: with Re^(2/3) Pr^(1/3), and less with air."""
        whole = self.rig.ua_w_k / self.rig.inside_share
        if self.speed <= 0.0:
            return _STILL_FILM * whole
        thicker = (self.viscosity_pas() / self.rig.serum_pas) ** (-1.0 / 3.0)
        airy = 1.0 - 0.4 * self.air_pct / 100.0
        return float(whole * self.speed ** (2.0 / 3.0) * thicker * airy)

    def outside_w_k(self, contact: float, bath_c: float) -> float:
        """Conductance from the metal to the bath [W/K], by natural convection."""
        drive = min(max(abs(self.metal_c - bath_c) / _OUTSIDE_REFERENCE_K, 0.1), 2.0)
        return self.rig.ua_w_k / (1.0 - self.rig.inside_share) * contact * float(drive**0.25)

    def beaters_w(self) -> float:
        """Heat that the beaters put into the mix [W]."""
        if self.speed <= 0.0 or self.mass_g <= 0.0:
            return 0.0
        stiff = min(math.sqrt(self.viscosity_pas() / _STIFF_PAS), 2.0)
        return self.speed**2 * (self.rig.beater_w + self.rig.stiff_w * stiff)

    def mixer_w(self) -> float:
        """Electrical power of the mixer [W]."""
        if self.speed <= 0.0:
            return 0.0
        return self.rig.idle_w * (0.4 + 0.6 * self.speed) + self.beaters_w() / self.rig.efficiency

    def wall_c(self) -> float:
        """Temperature that a probe on the wall would feel [°C]."""
        if self.layer_g > 0.0:
            return 0.5 * (
                self.mix.temperature_c.at(self.layer_heat_j / self.layer_g) + self.metal_c
            )
        return self.metal_c

    def enthalpy_j(self) -> float:
        """All enthalpy of mix, layer and metal [J]."""
        return self.heat_j + self.layer_heat_j + self.rig.inner_metal_j_k * self.metal_c

    def step(self, dt: float, outside_c: float, outside_w_k: float, air_c: float) -> BowlStep:
        """Carry the bowl on by `dt` [s].

        Args:
            dt: time step, up to 1 [s].
            outside_c: temperature outside the wall [°C].
            outside_w_k: conductance from the metal to it [W/K].
            air_c: temperature of the air over the mix [°C].
        """
        if self.mass_g <= 0.0:
            outwards = self._metal(dt, air_c, self.rig.open_w_k, outside_c, outside_w_k)
            return BowlStep(0.0, outwards[1], outwards[0], 0.0)
        mix_c = self.temperature_c()
        self._nucleate(dt, mix_c)
        sticks_c = self.mix.rested_c.at(self.rig.stick_pct)
        if self.layer_g > 0.0 or self.metal_c < min(sticks_c, mix_c) - _ONSET_K:
            from_mix, from_metal = self._through_layer(dt, mix_c, outside_c, outside_w_k)
        else:
            inside_w_k = self.inside_w_k()
            from_mix, from_metal = self._metal(dt, mix_c, inside_w_k, outside_c, outside_w_k)
            self.heat_j -= from_mix
        if self.speed > 0.0 and self.layer_g > 0.0:
            sweep_s = self.rig.stir_in_s if self.stirring_in else self.rig.sweep_s
            self._take_off(-math.expm1(-dt * self.speed / sweep_s))
        if self.layer_g < 0.05:
            self._take_off(1.0)
        air_j = self.rig.open_w_k * (air_c - mix_c) * dt
        beaters_j = self.beaters_w() * dt
        self.heat_j += air_j + beaters_j
        self._foam(dt)
        return BowlStep(from_mix, from_metal, air_j, beaters_j)

    def _nucleate(self, dt: float, mix_c: float) -> None:
        """Ice begins by itself once cold enough, or sooner from crystals swept off the wall."""
        if self.nucleated:
            self._lag *= math.exp(-dt / self.rig.relax_s)
            melted_j_g = self.heat_j / self.mass_g - self.mix.heat_at_initial_j_g
            self.nucleated = melted_j_g < 0.5 * self.mix.liquid_j_gk
            return
        below_k = self.mix.initial_c - mix_c
        if below_k > self.rig.supercool_k or (self.layer_g > 2.0 and below_k > 0.05):
            self.nucleated, self._lag = True, 1.0

    def _through_layer(
        self, dt: float, mix_c: float, outside_c: float, outside_w_k: float
    ) -> tuple[float, float]:
        """Heat [J] out of the mix and out of the metal; what the film does not bring, freezes on.

        The layer's inside stands at the temperature at which mix begins to stick, or at the mix's
        own where that is colder. New layer has the temperature half way to the metal.
        """
        stick_c = min(self.mix.rested_c.at(self.rig.stick_pct), mix_c)
        thick_m = max(self.layer_g / (_MIX_G_M3 * self.rig.area_m2), _THINNEST_M)
        layer_w_k = self.rig.layer_w_mk * self.rig.area_m2 / thick_m
        into_metal, from_metal = self._metal(dt, stick_c, layer_w_k, outside_c, outside_w_k)
        film_j = self.inside_w_k() * (mix_c - stick_c) * dt
        grow_j = into_metal - film_j
        mix_j_g = self.heat_j / self.mass_g
        grown_g = 0.0
        if grow_j > 0.0:
            half_c = stick_c - 0.5 * into_metal / (layer_w_k * dt)
            given_j_g = mix_j_g - self.mix.enthalpy_j_g.at(min(half_c, stick_c))
            grown_g = min(grow_j / max(given_j_g, _LEAST_J_G), 0.02 * self.mass_g)
        elif self.layer_g > 0.0:
            taken_j_g = mix_j_g - self.layer_heat_j / self.layer_g
            grown_g = max(grow_j / max(taken_j_g, _LEAST_J_G), -self.layer_g)
        moved_j = grown_g * mix_j_g + film_j
        self.layer_g += grown_g
        self.layer_heat_j += moved_j - into_metal
        self.mass_g -= grown_g
        self.heat_j -= moved_j
        return into_metal, from_metal

    def _foam(self, dt: float) -> None:
        if self.speed > 0.0:
            ease = self.speed / (1.0 + self.viscosity_pas() / _STIFF_PAS)
            missing = self.rig.air_max_pct - self.air_pct
            self.air_pct += missing * -math.expm1(-dt * ease / self.rig.air_s)

    def _metal(
        self, dt: float, hot_c: float, hot_w_k: float, cold_c: float, cold_w_k: float
    ) -> tuple[float, float]:
        """Heat [J] into the metal from one side and out of it at the other, solved exactly."""
        total = hot_w_k + cold_w_k
        capacity = self.rig.inner_metal_j_k
        rest_c = (hot_w_k * hot_c + cold_w_k * cold_c) / total
        stored = capacity * (rest_c - self.metal_c) * -math.expm1(-dt * total / capacity)
        mean_c = rest_c - stored / (total * dt)
        self.metal_c += stored / capacity
        into = hot_w_k * (hot_c - mean_c) * dt
        return into, into - stored
