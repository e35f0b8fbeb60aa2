"""Mix that stands still and freezes from the outside in: the bowl at rest, a tub hardening.

The body is cut into shells of equal thickness whose area shrinks inwards as (r/R)^p, between a
slab (p = 0) and a sphere (p = 2). Each shell keeps its enthalpy; heat moves by conduction alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Self

from rigmon.virtual.tables import MixTables

FROZEN_W_MK = 1.25
"""Conductivity of mix with all its water frozen, without air [W/(m K)] (own estimate)."""

_LEAST_J_GK = 1.8
_HARDER_PCT = 5.0


class Shells:
    """A still body of mix.

    Args:
        mix: how the mix freezes.
        heats_j_g: enthalpy of each shell [J/g], the innermost first.
        mass_g: mass of the body [g].
        volume_ml: its volume, air included [ml].
        area_m2: area of its outside [m²].
        power: how the area shrinks inwards.
        liquid_w_mk: conductivity of unfrozen mix [W/(m K)].
    """

    def __init__(
        self,
        mix: MixTables,
        heats_j_g: Sequence[float],
        mass_g: float,
        volume_ml: float,
        area_m2: float,
        power: float,
        liquid_w_mk: float,
    ) -> None:
        n = len(heats_j_g)
        self._mix = mix
        self._liquid_w_mk = liquid_w_mk
        # Air conducts next to nothing; Maxwell's form for bubbles in a continuous mix.
        air = max(0.0, 1.0 - mass_g / (volume_ml * 1.08))
        self._airy = 2.0 * (1.0 - air) / (2.0 + air)
        radius_m = (power + 1.0) * volume_ml * 1e-6 / area_m2
        self._thick_m = radius_m / n
        self._faces_m2: list[float] = [area_m2 * ((i + 1) / n) ** power for i in range(n)]
        self.masses_g: list[float] = [
            mass_g * (((i + 1) / n) ** (power + 1.0) - (i / n) ** (power + 1.0)) for i in range(n)
        ]
        self.heats_j = [h * m for h, m in zip(heats_j_g, self.masses_g, strict=True)]
        density_g_m3 = mass_g / (volume_ml * 1e-6)
        most_w_mk = FROZEN_W_MK * self._airy
        self._longest_s = 0.3 * density_g_m3 * _LEAST_J_GK * self._thick_m**2 / most_w_mk

    def temperatures_c(self) -> list[float]:
        """Temperature of each shell [°C], the innermost first."""
        at = self._mix.temperature_c.at
        return [at(h / m) for h, m in zip(self.heats_j, self.masses_g, strict=True)]

    def frozen_pct(self) -> list[float]:
        """Frozen share of each shell's water [%]."""
        at = self._mix.frozen_pct.at
        return [max(0.0, at(h / m)) for h, m in zip(self.heats_j, self.masses_g, strict=True)]

    def mean_frozen_pct(self) -> float:
        """Frozen share of all the water [%]."""
        parts = zip(self.frozen_pct(), self.masses_g, strict=True)
        return math.fsum(f * m for f, m in parts) / math.fsum(self.masses_g)

    def at_depth_c(self, depth_m: float) -> float:
        """Temperature at a depth under the outside [°C]."""
        n = len(self.masses_g)
        return self.temperatures_c()[min(max(n - 1 - int(depth_m / self._thick_m), 0), n - 1)]

    def warm(self, heat_j: float) -> None:
        """Spread heat over the body by mass."""
        total = math.fsum(self.masses_g)
        self.heats_j = [
            h + heat_j * m / total for h, m in zip(self.heats_j, self.masses_g, strict=True)
        ]

    def split(self, stick_pct: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Mass [g] and enthalpy [J] of what is still soft, and of what is frozen to the wall.

        Where all of it would stick, the wall is what is clearly harder than the core.
        """
        limit_pct = max(stick_pct, self.frozen_pct()[0] + _HARDER_PCT)
        soft_g = soft_j = hard_g = hard_j = 0.0
        for frozen, mass, heat in zip(self.frozen_pct(), self.masses_g, self.heats_j, strict=True):
            if frozen < limit_pct:
                soft_g, soft_j = soft_g + mass, soft_j + heat
            else:
                hard_g, hard_j = hard_g + mass, hard_j + heat
        return (soft_g, soft_j), (hard_g, hard_j)

    def outside_w_k(self) -> float:
        """Conductance of the outer half of the outermost shell [W/K]."""
        frozen = self._mix.frozen_pct.at(self.heats_j[-1] / self.masses_g[-1])
        return self._conductivity(frozen) * self._faces_m2[-1] / (0.5 * self._thick_m)

    def step(self, dt: float, outside_c: float, film_w_k: float) -> float:
        """Carry the body on by `dt` [s]; returns the heat that came in [J].

        Args:
            dt: time step [s]; cut up where conduction needs shorter ones.
            outside_c: temperature outside [°C].
            film_w_k: conductance from the outside to the surface [W/K].
        """
        parts = max(1, math.ceil(dt / self._longest_s))
        return math.fsum(self._part(dt / parts, outside_c, film_w_k) for _ in range(parts))

    def _conductivity(self, frozen_pct: float) -> float:
        share = min(max(frozen_pct, 0.0), 100.0) / 100.0
        return self._airy * (self._liquid_w_mk + (FROZEN_W_MK - self._liquid_w_mk) * share)

    def _part(self, dt: float, outside_c: float, film_w_k: float) -> float:
        temperatures = self.temperatures_c()
        conductivity = [self._conductivity(f) for f in self.frozen_pct()]
        for i in range(len(temperatures) - 1):
            between = 0.5 * (conductivity[i] + conductivity[i + 1])
            flow_w = between * self._faces_m2[i] / self._thick_m
            moved = flow_w * (temperatures[i] - temperatures[i + 1]) * dt
            self.heats_j[i] -= moved
            self.heats_j[i + 1] += moved
        half_w_k = conductivity[-1] * self._faces_m2[-1] / (0.5 * self._thick_m)
        through_w_k = 1.0 / (1.0 / film_w_k + 1.0 / half_w_k)
        into = through_w_k * (outside_c - temperatures[-1]) * dt
        self.heats_j[-1] += into
        return into

    @classmethod
    def resting(
        cls,
        mix: MixTables,
        soft: tuple[float, float],
        hard: tuple[float, float],
        volume_ml: float,
        area_m2: float,
        liquid_w_mk: float,
        count: int = 12,
    ) -> Self:
        """A bowl left standing: `hard` (mass [g], enthalpy [J]) on its wall, `soft` inside."""
        total_g = soft[0] + hard[0]
        body = cls(mix, [0.0] * count, total_g, volume_ml, area_m2, 1.0, liquid_w_mk)
        soft_left = soft[0]
        for i, mass in enumerate(body.masses_g):
            from_soft = min(mass, soft_left)
            soft_left -= from_soft
            heat = from_soft * soft[1] / soft[0]
            if mass > from_soft and hard[0] > 0.0:
                heat += (mass - from_soft) * hard[1] / hard[0]
            body.heats_j[i] = heat
        return body
