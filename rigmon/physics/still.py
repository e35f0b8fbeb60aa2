"""Mix that stands still and freezes from the outside in: the bowl at rest, a tub hardening.

The body is cut into shells of equal thickness whose faces shrink inwards as (r/R)^p, between a slab
(p = 0) and a sphere (p = 2). Each shell keeps its enthalpy, heat moves by conduction alone, and
what leaves one shell enters the next, so that the balance closes to rounding. All of an ensemble of
n bodies is carried at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array

FROZEN_W_MK = 1.25
"""Conductivity of mix with all its water frozen, without air [W/(m K)] (own estimate; the parallel
model of Choi & Okos gives 1.3 to 1.5 with 60 % water)."""
MIX_G_ML = 1.08
"""Density of mix without air [g/ml] (common practice, no source: 1.05 to 1.12)."""

_LEAST_J_GK = 1.8
_STABLE = 0.3
_BOWL_POWER = 1.0
_TUB_POWER = 2.0
_SQUATNESS = 1.2
"""Outside of a tub over that of a sphere of its volume (own estimate)."""
_MIXED_MORE_PCT = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """n still bodies of one mix in k shells, the innermost first.

    Args:
        curve: how the mix freezes.
        mass_g: (k, n) masses of the shells [g].
        heat_j: (k, n) their enthalpies [J].
        faces_m2: (k, n) area of each shell's outer face [m²].
        thick_m: (n,) thickness of a shell [m].
        volume_m3: (n,) volume with air [m³].
        liquid_w_mk: (n,) conductivity of the unfrozen mix [W/(m K)].
        airy: (n,) factor on it for the air in the mix.
    """

    curve: FreezingCurve
    mass_g: Array
    heat_j: Array
    faces_m2: Array
    thick_m: Array
    volume_m3: Array
    liquid_w_mk: Array
    airy: Array

    def state(self) -> tuple[Array, Array]:
        """(k, n) temperatures [°C] and frozen shares [%]."""
        return self.curve.from_enthalpy(self.heat_j / self.mass_g)

    def mixed(self) -> tuple[Array, Array]:
        """(n,) temperature [°C] and frozen share [%] that the bodies would have once stirred."""
        return self.curve.from_enthalpy(np.sum(self.heat_j, axis=0) / np.sum(self.mass_g, axis=0))

    def core_c(self) -> Array:
        """(n,) temperature in the middle [°C]."""
        return np.asarray(self.state()[0][0])

    def edge_c(self) -> Array:
        """(n,) temperature of the outermost shell [°C]."""
        return np.asarray(self.state()[0][-1])

    def split(self, stick_pct: float) -> tuple[Array, Array, Array, Array]:
        """(n,) mass [g] and enthalpy [J] of what is soft, then of what is frozen to the wall.

        Hard is what is frozen at least to `stick_pct`, and where even the middle is, what is
        clearly harder than the middle.
        """
        _, frozen = self.state()
        hard = frozen >= np.maximum(stick_pct, frozen[0] + _MIXED_MORE_PCT)
        masses = [np.sum(np.where(part, self.mass_g, 0.0), axis=0) for part in (~hard, hard)]
        heats = [np.sum(np.where(part, self.heat_j, 0.0), axis=0) for part in (~hard, hard)]
        return masses[0], heats[0], masses[1], heats[1]

    def warmed(self, heat_j: Array) -> Still:
        """The bodies with (n,) heat [J] spread over each by mass."""
        total = np.sum(self.mass_g, axis=0)
        return replace(self, heat_j=self.heat_j + heat_j * self.mass_g / total)

    def after(self, dt: float, outside_c: Array | float, film_w_k: Array) -> tuple[Still, Array]:
        """The bodies `dt` [s] later, in parts where conduction needs shorter ones.

        Args:
            dt: time step [s].
            outside_c: temperature outside, one or (n,) [°C].
            film_w_k: (n,) conductance from the outside to the surface [W/K].

        Returns:
            the bodies, and (n,) heat that came in [J].
        """
        conducts = FROZEN_W_MK * self.airy
        density = np.sum(self.mass_g, axis=0) / self.volume_m3
        longest_s = float(np.min(_STABLE * density * _LEAST_J_GK * self.thick_m**2 / conducts))
        parts = max(1, math.ceil(dt / longest_s))
        body, into = self, np.zeros_like(self.thick_m)
        for _ in range(parts):
            body, came = body._part(dt / parts, outside_c, film_w_k)
            into = into + came
        return body, into

    def _part(self, dt: float, outside_c: Array | float, film_w_k: Array) -> tuple[Still, Array]:
        t_c, frozen = self.state()
        solid = np.clip(frozen, 0.0, 100.0) / 100.0
        conducts = self.airy * (self.liquid_w_mk + (FROZEN_W_MK - self.liquid_w_mk) * solid)
        between = 0.5 * (conducts[1:] + conducts[:-1]) * self.faces_m2[:-1] / self.thick_m
        moved = between * (t_c[:-1] - t_c[1:]) * dt
        heat_j = self.heat_j.copy()
        heat_j[:-1] -= moved
        heat_j[1:] += moved
        half_w_k = conducts[-1] * self.faces_m2[-1] / (0.5 * self.thick_m)
        into = (outside_c - t_c[-1]) * dt / (1.0 / film_w_k + 1.0 / half_w_k)
        heat_j[-1] += into
        return replace(self, heat_j=heat_j), into


def bodies(
    curve: FreezingCurve,
    mass_g: Array,
    start_c: Array | float,
    overrun_pct: Array,
    area_m2: Array,
    liquid_w_mk: Array,
    power: float,
    count: int = 10,
) -> Still:
    """Bodies of one temperature.

    Args:
        curve: how the mix freezes.
        mass_g: (n,) mass [g].
        start_c: temperature, one or (n,) [°C].
        overrun_pct: (n,) air, of the volume without it [%].
        area_m2: (n,) outside [m²].
        liquid_w_mk: (n,) conductivity of the unfrozen mix [W/(m K)].
        power: how the faces shrink inwards: 0 a slab, 1 a cylinder, 2 a sphere.
        count: number of shells.
    """
    # Air conducts next to nothing: Maxwell's form for bubbles in a continuous body.
    air = overrun_pct / (100.0 + overrun_pct)
    edges = np.arange(count + 1)[:, None] / count
    shells_g = mass_g * np.diff(edges ** (power + 1.0), axis=0)
    return Still(
        curve=curve,
        mass_g=shells_g,
        heat_j=shells_g * curve.enthalpy_j_g(start_c + np.zeros(mass_g.size)),
        faces_m2=area_m2 * edges[1:] ** power,
        thick_m=(power + 1.0) * _volume_m3(mass_g, overrun_pct) / area_m2 / count,
        volume_m3=_volume_m3(mass_g, overrun_pct),
        liquid_w_mk=liquid_w_mk,
        airy=2.0 * (1.0 - air) / (2.0 + air),
    )


def _volume_m3(mass_g: Array, overrun_pct: Array) -> Array:
    return mass_g / MIX_G_ML * (1.0 + overrun_pct / 100.0) * 1e-6


def resting(
    curve: FreezingCurve,
    soft: tuple[Array, Array],
    hard: tuple[Array, Array],
    overrun_pct: Array,
    area_m2: Array,
    liquid_w_mk: Array,
    count: int = 10,
) -> Still:
    """Bowls left standing, `hard` on the wall and `soft` inside it.

    Args:
        curve: how the mix freezes.
        soft: (n,) mass [g] and enthalpy [J] of what was beaten last.
        hard: the same of what is frozen to the wall.
        overrun_pct: (n,) air, of the volume without it [%].
        area_m2: (n,) wetted wall [m²].
        liquid_w_mk: (n,) conductivity of the unfrozen mix [W/(m K)].
        count: number of shells.
    """
    total = soft[0] + hard[0]
    body = bodies(curve, total, 0.0, overrun_pct, area_m2, liquid_w_mk, _BOWL_POWER, count)
    outer = np.cumsum(body.mass_g, axis=0)
    from_soft = np.clip(soft[0] - (outer - body.mass_g), 0.0, body.mass_g)
    soft_j_g = soft[1] / soft[0]
    hard_j_g = np.divide(hard[1], hard[0], out=soft_j_g.copy(), where=hard[0] > 0.0)
    return replace(body, heat_j=from_soft * soft_j_g + (body.mass_g - from_soft) * hard_j_g)


def tubs(
    curve: FreezingCurve,
    mass_g: Array,
    start_c: Array | float,
    overrun_pct: Array,
    liquid_w_mk: Array,
    count: int = 10,
) -> tuple[Still, Array]:
    """Filled tubs of mass `mass_g` (n,) [g] at one temperature, and their outside (n,) [m²].

    A tub is taken for a sphere of its volume with 1.2 times the outside (own estimate).

    Args:
        curve: how the mix freezes.
        mass_g: (n,) mass in a tub [g].
        start_c: temperature of the mix as packed [°C].
        overrun_pct: (n,) air, of the volume without it [%].
        liquid_w_mk: (n,) conductivity of the unfrozen mix [W/(m K)].
        count: number of shells.
    """
    volume_m3 = _volume_m3(mass_g, overrun_pct)
    area_m2 = _SQUATNESS * (36.0 * np.pi) ** (1.0 / 3.0) * volume_m3 ** (2.0 / 3.0)
    body = bodies(curve, mass_g, start_c, overrun_pct, area_m2, liquid_w_mk, _TUB_POWER, count)
    return body, area_m2
