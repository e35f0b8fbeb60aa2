"""One layer of brine, with the salt that lies in it and dissolves."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.physics import brine
from rigmon.virtual.tables import BRINE


@dataclass(slots=True)
class Layer:
    """One layer of brine with the salt that lies in it undissolved.

    Enthalpies count from liquid water and dry salt at 0 °C.
    """

    water_g: float = 0.0
    dissolved_g: float = 0.0
    heat_j: float = 0.0
    grain_g: float = 0.0
    grain_heat_j: float = 0.0
    grain_s: float = 300.0

    @property
    def liquid_g(self) -> float:
        """Brine [g]."""
        return self.water_g + self.dissolved_g

    @property
    def strength_pct(self) -> float:
        """Salt in the brine [% by mass]; 0 where there is none."""
        liquid = self.liquid_g
        return 100.0 * self.dissolved_g / liquid if liquid > 0.0 else 0.0

    def capacity_j_k(self) -> float:
        """Heat capacity of the brine [J/K]."""
        return self.liquid_g * BRINE.specific_heat_j_gk.at(self.strength_pct)

    def temperature_c(self) -> float:
        """Temperature of the brine [°C]; 0 where there is none."""
        capacity = self.capacity_j_k()
        if capacity <= 1e-9:
            return 0.0
        dissolving = self.dissolved_g * BRINE.solution_j_g.at(self.strength_pct)
        return (self.heat_j - dissolving) / capacity

    def give(self, other: Layer, share: float) -> None:
        """Let `share` of the brine flow into another layer."""
        water_g, dissolved_g = share * self.water_g, share * self.dissolved_g
        heat_j = share * self.heat_j
        self.water_g -= water_g
        self.dissolved_g -= dissolved_g
        self.heat_j -= heat_j
        other.water_g += water_g
        other.dissolved_g += dissolved_g
        other.heat_j += heat_j

    def dissolve(self, dt: float) -> None:
        """First-order dissolving, slowed as the brine nears saturation."""
        liquid = self.liquid_g
        if self.grain_g <= 0.0 or liquid <= 0.0:
            return
        warm = min(max(self.temperature_c() / 21.1 + 1.0, 0.0), 1.0)
        saturated_pct = brine.EUTECTIC_PCT + 3.0 * warm
        room = 1.0 - self.strength_pct / saturated_pct
        if room <= 0.0:
            return
        wet = min(1.0, liquid / (0.3 * self.grain_g))
        share = 1.0 - math.exp(-dt * room * wet / self.grain_s)
        most_g = 0.5 * room * saturated_pct / 100.0 * liquid
        share = min(share, most_g / self.grain_g)
        heat = share * self.grain_heat_j
        self.dissolved_g += share * self.grain_g
        self.grain_g -= share * self.grain_g
        self.grain_heat_j -= heat
        self.heat_j += heat
