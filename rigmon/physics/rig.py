"""The whole rig as one energy balance, for an ensemble of rigs at once.

Heat flows from the mix through the wall into the bath, from the room into both, and from the
beaters into the mix. `advanced` is the one step that carries all of this, and `came_in_j` the
ledger: enthalpy less what came in stays the same to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics import mixside
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.mixside import ROOM_C, MixState
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs
from rigmon.physics.salts import Salt
from rigmon.physics.zones import Zones

WRAPPED = 0.4
"""A towel or foam round the outer bowl lets through so much of the leak (own estimate: 0.4 to 0.9
W/K against 1.0 to 2.2 bare)."""


@dataclass(frozen=True, slots=True)
class Drive:
    """What is done to the rigs during a step; figures are one for all, or (n,) one a rig.

    Args:
        speed: of the beaters, 1 the usual, 0 none.
        around_c: air around the outer bowl [°C].
        over_c: air over the mix, and around an inner bowl that stands alone [°C].
        leak_share: factor on the leak from the air, `WRAPPED` with a towel round the bowl.
        sun_w: heat from direct sun [W].
    """

    speed: float = 0.0
    around_c: Array | float = ROOM_C
    over_c: Array | float = ROOM_C
    leak_share: Array | float = 1.0
    sun_w: Array | float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class RigState:
    """An ensemble of n rigs at one time.

    Args:
        rigs: their parameters.
        mix: the mix in its bowl.
        zones: the bath.
        bowl_in: whether the inner bowl stands in the bath.
        wall_w: (n,) heat through the wall out of the mix in the last step [W].
        came_in_j: (n,) all heat and enthalpy that came in from outside [J].
    """

    rigs: Rigs
    mix: MixState
    zones: Zones
    bowl_in: bool
    wall_w: Array
    came_in_j: Array

    def enthalpy_j(self) -> Array:
        """(n,) enthalpy of bath, metal and mix [J]."""
        return np.asarray(self.zones.heat_j.sum(axis=0) + self.mix.enthalpy_j())

    def bath_c(self) -> Array:
        """(n,) what the inner bowl stands in, or would [°C]."""
        return self.zones.mean_c(self.zones.temperature_c())


def made_up(
    curve: FreezingCurve,
    rigs: Rigs,
    salt: Salt,
    metal_c: Array | float = ROOM_C,
    zones: int = 1,
) -> RigState:
    """Two empty bowls, the inner one in the outer.

    Args:
        curve: how the mix will freeze.
        rigs: the rigs.
        salt: what the salt will be.
        metal_c: temperature of both bowls [°C].
        zones: 1, or 2 to tell the pool under the ice apart.
    """
    bath = Zones.empty(rigs, salt, metal_c, zones)
    mix = mixside.no_mix(curve, rigs)
    return RigState(rigs, mix, bath, True, np.zeros(rigs.n), bath.heat_j.sum(axis=0))


def charged(state: RigState, bath: Zones, brings_j: Array) -> RigState:
    """The rig with what `Zones.add` or `Zones.drained` made of its bath."""
    return replace(state, zones=bath, came_in_j=state.came_in_j + brings_j)


def poured(state: RigState, mix_g: Array | float, mix_c: Array | float) -> RigState:
    """The rig with `mix_g` [g] of mix of `mix_c` [°C] poured into the inner bowl."""
    mix = mixside.poured(state.mix, mix_g, mix_c)
    brings_j = mix.core_j - state.mix.core_j
    return replace(state, mix=mix, came_in_j=state.came_in_j + brings_j)


def scraped(state: RigState, share: float = 0.9) -> RigState:
    """The rig with `share` of the layer taken off the wall and stirred in."""
    return replace(state, mix=mixside.scraped(state.mix, share))


def rested(state: RigState, bowl_in: bool) -> RigState:
    """The rig put to rest; `bowl_in` says whether the bowl stays in its bath."""
    return replace(state, mix=mixside.rested(state.mix), bowl_in=bowl_in)


def taken_up(state: RigState) -> RigState:
    """The rig back on the bench for another round, the frozen lining still on its wall."""
    return replace(state, mix=mixside.taken_up(state.mix), bowl_in=True)


def advanced(state: RigState, dt: float, drive: Drive) -> RigState:
    """The rig `dt` [s] later: the right-hand side of the whole balance, in one step.

    Explicit in time, with what would be stiff (melting, sweeping) faded exactly within the step;
    steps of 1 to 2 s while beating, to 5 s at rest.

    Args:
        state: the rig now.
        dt: time step [s].
        drive: what is done to it meanwhile.
    """
    rigs, mix = state.rigs, state.mix
    t_c = state.zones.temperature_c()
    bath_c = state.zones.mean_c(t_c)
    leak_w = rigs.leak_w_k * drive.leak_share * (drive.around_c - bath_c) + drive.sun_w
    if mix.still is not None:
        contact = state.zones.contact()
        outside_c: Array | float = bath_c if state.bowl_in else drive.over_c
        film_w_k = (
            mixside.film_in_bath_w_k(rigs, contact)
            if state.bowl_in
            else mixside.film_in_air_w_k(rigs)
        )
        mix, wall_w, over_w = mixside.at_rest(mix, mix.still, dt, outside_c, film_w_k, drive.over_c)
    elif mix.core_g.any():
        mix, wall_w, over_w = mixside.beaten(
            mix, dt, bath_c, state.zones.contact(), drive.over_c, drive.speed
        )
    else:
        wall_w = over_w = np.zeros(rigs.n)
    into_bath_w = leak_w + wall_w if state.bowl_in else leak_w
    outwards_w = 0.0 if state.bowl_in else wall_w
    return replace(
        state,
        mix=mix,
        zones=state.zones.after(dt, t_c, into_bath_w),
        wall_w=wall_w,
        came_in_j=state.came_in_j + (leak_w + over_w - outwards_w) * dt,
    )
