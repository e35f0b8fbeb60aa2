"""Tubs of packed mix, hardening in freezer air; alike, so that one is reckoned for all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Self

from rigmon.virtual.shells import Shells
from rigmon.virtual.tables import MixTables

_SHELLS = 10
_SQUATNESS = 1.2
"""Outside of a tub over that of a sphere of its volume (own estimate)."""


@dataclass(slots=True)
class Tubs:
    """Some tubs of one size.

    Args:
        body: the mix in one of them.
        count: how many.
        area_m2: outside of one [m²].
    """

    body: Shells
    count: int
    area_m2: float

    @classmethod
    def packed(
        cls,
        mix: MixTables,
        mass_g: float,
        heat_j: float,
        overrun_pct: float,
        count: int,
        liquid_w_mk: float,
    ) -> Self:
        """Share mix of `mass_g` [g] and enthalpy `heat_j` [J] evenly among `count` tubs."""
        volume_ml = mass_g / 1.08 * (1.0 + overrun_pct / 100.0) / count
        radius_m = (0.75 * volume_ml * 1e-6 / math.pi) ** (1.0 / 3.0)
        area_m2 = _SQUATNESS * 4.0 * math.pi * radius_m**2
        heats = [heat_j / mass_g] * _SHELLS
        body = Shells(mix, heats, mass_g / count, volume_ml, area_m2, 2.0, liquid_w_mk)
        return cls(body, count, area_m2)

    def enthalpy_j(self) -> float:
        """Enthalpy of all tubs [J]."""
        return self.count * math.fsum(self.body.heats_j)

    def core_c(self) -> float:
        """Temperature in the middle of a tub [°C]."""
        return self.body.temperatures_c()[0]

    def step(self, dt: float, air_c: float, film_w_m2k: float) -> float:
        """Carry all tubs on by `dt` [s] in air; returns the heat that came in [J]."""
        return self.count * self.body.step(dt, air_c, film_w_m2k * self.area_m2)
