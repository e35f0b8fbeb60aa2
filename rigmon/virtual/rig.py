"""The virtual rig: bath, bowl, tubs and freezer joined, and what a maker does to them.

A model of its own, richer than what the program estimates with, and not fitted to it.
"""

from __future__ import annotations

import copy
import math
from typing import Self

from numpy.random import Generator

from rigmon.records import IceKind, Mark, MarkWord, SaltKind
from rigmon.virtual.bath import Bath
from rigmon.virtual.bowl import Bowl
from rigmon.virtual.freezer import Freezer
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.shells import Shells
from rigmon.virtual.tables import MixTables
from rigmon.virtual.tub import Tubs

_STEP_S = 1.0
_TUB_STEP_S = 5.0
_ROOM_FILM_W_M2K = 10.0
_COVERED = 0.4
_STILL_BRINE = 0.8
_METAL_FILM_W_K = 400.0
_INCLUSION_J_GK = 2.0
_FREEZER_LOAD_K = 2.0


def _amount(mark: Mark, name: str, otherwise: float = 0.0) -> float:
    value = mark.detail.get(name, otherwise)
    return float(value)


class VirtualRig:
    """One rig from ice in the bowl to hardened tubs.

    Args:
        parameters: what this rig is like.
        mix: how its mix freezes.
        room_c: temperature of the room [°C].
        bowl_c: temperature of the inner bowl before it is set into the bath [°C].
        rng: source of the freezer door's times.
    """

    def __init__(
        self,
        parameters: RigParameters,
        mix: MixTables,
        room_c: float,
        bowl_c: float,
        rng: Generator,
    ) -> None:
        self.parameters = parameters
        self.mix = mix
        self.room_c = room_c
        self.t = 0.0
        self.bath = Bath(parameters, room_c)
        self.bowl = Bowl(parameters, mix, bowl_c)
        self.freezer = Freezer(parameters, rng)
        self.still: Shells | None = None
        self.tubs: Tubs | None = None
        self.bath_in_freezer = self.mix_in_freezer = False
        self.bowl_in_bath = True
        self.cooling_w = 0.0
        self.heat_in_j = self.enthalpy_j()

    def copy(self) -> Self:
        """A copy that goes its own way."""
        return copy.deepcopy(self)

    def enthalpy_j(self) -> float:
        """All enthalpy of the rig [J]; `heat_in_j` is the sum of what has come in."""
        mix_j = self.tubs.enthalpy_j() if self.tubs else 0.0
        mix_j += math.fsum(self.still.heats_j) if self.still else 0.0
        return self.bath.enthalpy_j() + self.bowl.enthalpy_j() + mix_j

    def air_c(self) -> float:
        """Temperature of the air around the mix [°C]."""
        return self.freezer.air_c(self.t) if self.mix_in_freezer else self.room_c

    def do(self, mark: Mark) -> None:
        """What a mark says, done."""
        match mark.word:
            case MarkWord.ICE_IN:
                self._charge(mark)
            case MarkWord.RECHARGE:
                self.heat_in_j -= self.bath.drain(_amount(mark, "drained_g"))
                self._charge(mark)
                self.bath.stir()
            case MarkWord.POUR:
                mass_g = _amount(mark, "mix_g") * self.parameters.mix_factor
                self.heat_in_j += self.bowl.pour(mass_g, _amount(mark, "mix_c", 5.0))
            case MarkWord.BEAT_START:
                self._unrest()
                self.bowl.speed = 1.0
                self.bowl_in_bath = self.bowl_in_bath or mark.detail.get("where") == "rig"
            case MarkWord.BEAT_STOP:
                self.bowl.speed = 0.0
            case MarkWord.SCRAPE:
                self.bowl.scrape()
            case MarkWord.REST_START:
                self._rest(mark.detail.get("where") == "bowl")
            case MarkWord.REST_STOP:
                self.mix_in_freezer = self.bath_in_freezer = False
            case MarkWord.MIX_IN:
                colder_k = _amount(mark, "mix_c", -15.0) - self.bowl.temperature_c()
                self._warm_mix(_amount(mark, "mix_g") * _INCLUSION_J_GK * colder_k)
            case MarkWord.PACK:
                self._pack(int(_amount(mark, "tubs", 2.0)))
            case MarkWord.HARDEN_START:
                self.mix_in_freezer = True
                self.freezer.load(self.t, _FREEZER_LOAD_K)
            case _:
                pass

    def _charge(self, mark: Mark) -> None:
        ice_g = _amount(mark, "ice_g") * self.parameters.ice_factor
        salt_g = _amount(mark, "salt_g") * self.parameters.salt_factor
        if ice_g > 0.0:
            kind = IceKind(str(mark.detail.get("ice_kind", IceKind.CRUSHED)))
            wet_pct = _amount(mark, "wet_pct", 3.0)
            self.heat_in_j += self.bath.add_ice(ice_g, _amount(mark, "ice_c", -2.0), kind, wet_pct)
        if salt_g > 0.0:
            salt_kind = SaltKind(str(mark.detail.get("salt_kind", SaltKind.FINE)))
            self.heat_in_j += self.bath.add_salt(salt_g, self.room_c, salt_kind)
        self.heat_in_j += self.bath.add_water(_amount(mark, "water_g"), 10.0)

    def _warm_mix(self, heat_j: float) -> None:
        self.bowl.heat_j += heat_j
        self.heat_in_j += heat_j

    def _rest(self, bowl_alone: bool) -> None:
        bowl, rig = self.bowl, self.parameters
        bowl.speed = 0.0
        volume_ml = (bowl.mass_g + bowl.layer_g) / 1.08 * (1.0 + bowl.air_pct / 100.0)
        self.still = Shells.resting(
            self.mix,
            (bowl.mass_g, bowl.heat_j),
            (bowl.layer_g, bowl.layer_heat_j),
            volume_ml,
            rig.area_m2,
            rig.still_w_mk,
        )
        bowl.mass_g = bowl.heat_j = bowl.layer_g = bowl.layer_heat_j = 0.0
        self.mix_in_freezer = True
        self.bath_in_freezer = not bowl_alone
        self.bowl_in_bath = not bowl_alone

    def _unrest(self) -> None:
        if self.still is None:
            return
        bowl = self.bowl
        soft, hard = self.still.split(self.parameters.stick_pct)
        bowl.mass_g, bowl.heat_j = soft
        bowl.layer_g, bowl.layer_heat_j = hard
        bowl.stirring_in = bowl.nucleated = True
        self.still = None
        self.mix_in_freezer = self.bath_in_freezer = False

    def _pack(self, count: int) -> None:
        self._unrest()
        bowl = self.bowl
        mass_g = bowl.mass_g + bowl.layer_g
        self._warm_mix(self.parameters.handling_j_g * mass_g)
        heat_j = bowl.heat_j + bowl.layer_heat_j
        still_w_mk = self.parameters.still_w_mk
        self.tubs = Tubs.packed(self.mix, mass_g, heat_j, bowl.air_pct, count, still_w_mk)
        bowl.mass_g = bowl.heat_j = bowl.layer_g = bowl.layer_heat_j = 0.0

    def run(self, to_s: float) -> None:
        """Carry the rig on to run time `to_s` [s]."""
        while self.t < to_s - 1e-9:
            longest_s = _TUB_STEP_S if self.tubs else _STEP_S
            self.step(min(longest_s, to_s - self.t))

    def step(self, dt: float) -> None:
        """Carry the rig on by `dt` [s]."""
        if self.tubs:
            film_w_m2k = self.parameters.freezer_film_w_m2k
            self.heat_in_j += self.tubs.step(dt, self.air_c(), film_w_m2k)
            self.t += dt
            return
        outside_c, outside_w_k = self._outside()
        air_c = self.air_c()
        if self.still:
            from_metal_j = self._stand(self.still, dt, outside_c, outside_w_k, air_c)
        else:
            moved = self.bowl.step(dt, outside_c, outside_w_k, air_c)
            self.cooling_w = moved.from_mix_j / dt
            self.heat_in_j += moved.from_air_j + moved.from_beaters_j
            from_metal_j = moved.from_metal_j
        if not self.bowl_in_bath:
            self.heat_in_j -= from_metal_j
            from_metal_j = 0.0
        around_c = self.freezer.air_c(self.t) if self.bath_in_freezer else self.room_c
        self.heat_in_j += self.bath.step(dt, from_metal_j, around_c, self.bowl.speed > 0.0)
        self.t += dt

    def _outside(self) -> tuple[float, float]:
        """Temperature [°C] outside the inner bowl and the conductance to it [W/K]."""
        if not self.bowl_in_bath:
            film = self.parameters.freezer_film_w_m2k if self.mix_in_freezer else _ROOM_FILM_W_M2K
            return self.air_c(), 1.5 * film * self.parameters.area_m2
        pool = self.bath.pool()
        bath_c = (1.0 - pool) * self.bath.upper.temperature_c()
        bath_c += pool * self.bath.lower.temperature_c()
        if self.bath.upper.liquid_g < 1.0:
            bath_c = self.bath.ice_c()
        return bath_c, self.bowl.outside_w_k(self.bath.contact(), bath_c)

    def _stand(
        self, still: Shells, dt: float, outside_c: float, outside_w_k: float, air_c: float
    ) -> float:
        capacity = self.parameters.inner_metal_j_k
        self.cooling_w = -still.step(dt, self.bowl.metal_c, _METAL_FILM_W_K) / dt
        self.bowl.metal_c += self.cooling_w * dt / capacity
        warmer_k = self.bowl.metal_c - outside_c
        from_metal_j = (
            capacity * warmer_k * -math.expm1(-dt * _STILL_BRINE * outside_w_k / capacity)
        )
        self.bowl.metal_c -= from_metal_j / capacity
        open_w_k = _COVERED * self.parameters.open_w_k
        from_air_j = open_w_k * (air_c - still.temperatures_c()[len(still.masses_g) // 2]) * dt
        still.warm(from_air_j)
        self.heat_in_j += from_air_j
        return from_metal_j
