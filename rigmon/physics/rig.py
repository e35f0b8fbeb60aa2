"""The whole rig as one energy balance, for an ensemble of rigs at once.

Heat flows from the mix through the wall into the bath, from the room into both, and from the
beaters into the mix. While the mix is beaten it is one well-stirred core with a frozen layer on the
wall; while it rests it freezes inwards shell by shell, and its middle hardly moves; beaten again,
the frozen lining is stirred in and the temperature dips. `advanced` is the one step that carries
all of this, and `came_in_j` the ledger: enthalpy less what came in stays the same to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rigmon.physics import still, wall
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs
from rigmon.physics.salts import Salt
from rigmon.physics.still import MIX_G_ML, Still
from rigmon.physics.zones import Zones

STICK_PCT = 38.0
"""Frozen share from which mix stays on a cold wall [%] (own estimate)."""
ROOM_C = 22.0
"""Room for which the heat of beaters and air is quoted [°C]."""
WRAPPED = 0.4
"""A towel or foam round the outer bowl lets through so much of the leak (own estimate: 0.4 to 0.9
W/K against 1.0 to 2.2 bare)."""

_SPEED_POWER = 2.0 / 3.0
_STILL_SHARE = 0.25
_INSIDE_SHARE = 0.4
_STILL_BRINE = 0.8
_BARE_AREA = 1.5
_COVERED = 0.4
_LEAST_SHARE_OF_R = 0.4
_LEAST_J_G = 15.0
_LEAST_G = 1e-9
_LINING, _LINING_G = 1.2, 2.0
_STIFF_PCT = 40.0


@dataclass(frozen=True, slots=True)
class Drive:
    """What is done to the rig during a step.

    Args:
        speed: of the beaters, 1 the usual, 0 none.
        around_c: air around the outer bowl [°C].
        over_c: air over the mix, and around an inner bowl that stands alone [°C].
        leak_share: factor on the leak from the air, `WRAPPED` with a towel round the bowl.
        sun_w: heat from direct sun [W].
    """

    speed: float = 0.0
    around_c: float = ROOM_C
    over_c: float = ROOM_C
    leak_share: float = 1.0
    sun_w: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class RigState:
    """An ensemble of n rigs at one time; arrays are (n,).

    Args:
        curve: how the mix freezes.
        rigs: their parameters.
        zones: the bath.
        core_g: mix off the wall [g]; 0 before the pour and while it rests.
        core_j: its enthalpy [J].
        layer_g: mix frozen to the wall [g].
        layer_j: its enthalpy [J].
        usual_g: what would be frozen to the wall had nobody scraped and nothing rested [g].
        nucleated: whether ice has begun to form.
        air_pct: air in the mix, of its volume without it [%].
        still: the mix while it rests, else None.
        bowl_in: whether the inner bowl stands in the bath.
        wall_w: heat through the wall out of the mix in the last step [W].
        came_in_j: all heat and enthalpy that came in from outside [J].
        stick_j_g: enthalpy of mix as it freezes on to the wall [J/g].
    """

    curve: FreezingCurve
    rigs: Rigs
    zones: Zones
    core_g: Array
    core_j: Array
    layer_g: Array
    layer_j: Array
    usual_g: Array
    nucleated: NDArray[np.bool_]
    air_pct: Array
    still: Still | None
    bowl_in: bool
    wall_w: Array
    came_in_j: Array
    stick_j_g: float

    def enthalpy_j(self) -> Array:
        """(n,) enthalpy of bath, metal and mix [J]."""
        mix = self.core_j + self.layer_j
        if self.still is not None:
            mix = mix + self.still.heat_j.sum(axis=0)
        return np.asarray(self.zones.heat_j.sum(axis=0) + mix)

    def mix_g(self) -> Array:
        """(n,) all of the mix [g]."""
        if self.still is not None:
            return np.asarray(self.still.mass_g.sum(axis=0))
        return self.core_g + self.layer_g

    def bath_c(self) -> Array:
        """(n,) what the inner bowl stands in, or would [°C]."""
        return self.zones.mean_c(self.zones.temperature_c())

    def mix(self) -> tuple[Array, Array]:
        """(n,) temperature where a probe in the mix would sit [°C], and frozen share there [%].

        While it is beaten, of the mix off the wall; while it rests, the temperature in the middle
        and the share once wall and middle are mixed.
        """
        if self.still is not None:
            return self.still.core_c(), self.still.mixed()[1]
        h = self.core_j / np.maximum(self.core_g, _LEAST_G)
        slush_c, slush_pct = self.curve.from_enthalpy(h)
        liquid_c = h / self.curve.unfrozen_specific_heat_j_gk
        return np.where(self.nucleated, slush_c, liquid_c), slush_pct * self.nucleated


def made_up(
    curve: FreezingCurve,
    rigs: Rigs,
    salt: Salt,
    metal_c: float = ROOM_C,
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
    none = np.zeros(rigs.n)
    bath = Zones.empty(rigs, salt, metal_c, zones)
    return RigState(
        curve=curve,
        rigs=rigs,
        zones=bath,
        core_g=none,
        core_j=none,
        layer_g=none,
        layer_j=none,
        usual_g=none,
        nucleated=np.zeros(rigs.n, dtype=np.bool_),
        air_pct=none,
        still=None,
        bowl_in=True,
        wall_w=none,
        came_in_j=bath.heat_j.sum(axis=0),
        stick_j_g=curve.enthalpy_j_g(curve.temperature_c(STICK_PCT)),
    )


def charged(state: RigState, bath: Zones, brings_j: Array) -> RigState:
    """The rig with what `Zones.add` or `Zones.drained` made of its bath."""
    return replace(state, zones=bath, came_in_j=state.came_in_j + brings_j)


def poured(state: RigState, mix_g: Array | float, mix_c: Array | float) -> RigState:
    """The rig with `mix_g` [g] of mix of `mix_c` [°C] poured into the inner bowl."""
    n = state.rigs.n
    mass = mix_g + np.zeros(n)
    heat = mass * state.curve.enthalpy_j_g(mix_c + np.zeros(n))
    return replace(
        state,
        core_g=state.core_g + mass,
        core_j=state.core_j + heat,
        came_in_j=state.came_in_j + heat,
    )


def scraped(state: RigState, share: float = 0.9) -> RigState:
    """The rig with `share` of the layer taken off the wall and stirred in."""
    taken_g, taken_j = share * state.layer_g, share * state.layer_j
    return replace(
        state,
        core_g=state.core_g + taken_g,
        core_j=state.core_j + taken_j,
        layer_g=state.layer_g - taken_g,
        layer_j=state.layer_j - taken_j,
    )


def rested(state: RigState, bowl_in: bool) -> RigState:
    """The rig put to rest; `bowl_in` says whether the bowl stays in its bath."""
    bodies = still.resting(
        state.curve,
        (state.core_g, state.core_j),
        (state.layer_g, state.layer_j),
        state.air_pct,
        state.rigs.area_m2,
        state.rigs.still_w_mk,
    )
    none = np.zeros(state.rigs.n)
    return replace(
        state, still=bodies, bowl_in=bowl_in, core_g=none, core_j=none, layer_g=none, layer_j=none
    )


def taken_up(state: RigState) -> RigState:
    """The rig back on the bench for another round, the frozen lining still on its wall."""
    if state.still is None:
        return replace(state, bowl_in=True)
    core_g, core_j, layer_g, layer_j = state.still.split(STICK_PCT)
    return replace(
        state,
        core_g=core_g,
        core_j=core_j,
        layer_g=layer_g,
        layer_j=layer_j,
        nucleated=np.ones(state.rigs.n, dtype=np.bool_),
        still=None,
        bowl_in=True,
    )


def advanced(state: RigState, dt: float, drive: Drive) -> RigState:
    """The rig `dt` [s] later: the right-hand side of the whole balance, in one step.

    Explicit in time, with what would be stiff (melting, sweeping) faded exactly within the step;
    steps of 1 to 2 s while beating, to 5 s at rest.

    Args:
        state: the rig now.
        dt: time step [s].
        drive: what is done to it meanwhile.
    """
    t_c = state.zones.temperature_c()
    bath_c = state.zones.mean_c(t_c)
    rigs = state.rigs
    leak_w = rigs.leak_w_k * drive.leak_share * (drive.around_c - bath_c) + drive.sun_w
    if state.still is not None:
        state, wall_w, over_w = _at_rest(state, state.still, dt, bath_c, drive)
    elif state.core_g.any():
        state, wall_w, over_w = _beaten(state, dt, bath_c, drive)
    else:
        wall_w = over_w = np.zeros(rigs.n)
    into_bath_w = leak_w + wall_w if state.bowl_in else leak_w
    outwards_w = 0.0 if state.bowl_in else wall_w
    return replace(
        state,
        zones=state.zones.after(dt, t_c, into_bath_w),
        wall_w=wall_w,
        came_in_j=state.came_in_j + (leak_w + over_w - outwards_w) * dt,
    )


def _beaten(
    state: RigState, dt: float, bath_c: Array, drive: Drive
) -> tuple[RigState, Array, Array]:
    """The mix a step later; heat through the wall, and from beaters and air [W]."""
    rigs, beating = state.rigs, drive.speed > 0.0
    mix_c, frozen_pct = state.mix()
    conducts = wall.conductance_w_k(rigs.ua_w_k, rigs.stiffening, frozen_pct)
    conducts = conducts * state.zones.contact()
    conducts = conducts * (drive.speed**_SPEED_POWER if beating else _STILL_SHARE)
    pull_k = mix_c - bath_c
    # What a gram of core gives up to freeze on to the wall.
    given_j_g = np.maximum(state.core_j / state.core_g - state.stick_j_g, _LEAST_J_G)
    wall_w = _with_layer(state, conducts) * pull_k
    sticks_w = rigs.stick_share * np.maximum(wall_w, 0.0) * state.nucleated
    over_w = rigs.open_w_k * (drive.over_c - (ROOM_C if beating else mix_c))
    if beating:
        beaters_w = wall.beaters_w(rigs.beater_w, rigs.beater_rise, frozen_pct)
        over_w = over_w + drive.speed**2 * beaters_w
    core_j = state.core_j + (over_w - wall_w) * dt
    liquid_c = core_j / state.core_g / state.curve.unfrozen_specific_heat_j_gk
    nucleated = state.nucleated | (liquid_c < state.curve.initial_c - rigs.supercooling_k)
    state = replace(state, core_j=core_j, nucleated=nucleated)
    if beating:
        state = _stirred(state, dt, drive.speed, frozen_pct, sticks_w, given_j_g)
    return state, wall_w, over_w


def _with_layer(state: RigState, conducts: Array) -> Array:
    """Conductance [W/K] with the layer that is there in place of the usual one.

    `wall.conductance_w_k` holds for a wall with its usual layer, which follows from what freezes on
    and what the beaters take off; a thicker or thinner one adds or takes s / (k A).
    """
    rigs = state.rigs
    more_m = (state.layer_g - state.usual_g) / (MIX_G_ML * 1e6 * rigs.area_m2)
    more_k_w = more_m / (rigs.layer_w_mk * rigs.area_m2)
    return conducts / np.maximum(1.0 + more_k_w * conducts, _LEAST_SHARE_OF_R)


def _stirred(
    state: RigState,
    dt: float,
    speed: float,
    frozen_pct: Array,
    sticks_w: Array,
    given_j_g: Array,
) -> RigState:
    """Mix freezes on to the wall, the beaters take part of it off again, and air goes in.

    Air goes into a wet foam more easily than into a stiff one.
    """
    rigs = state.rigs
    grown_g = np.minimum(sticks_w * dt / given_j_g, 0.02 * state.core_g)
    grown_j = grown_g * (state.core_j / state.core_g - given_j_g)
    lining = state.layer_g > _LINING * state.usual_g + _LINING_G
    fades = -np.expm1(-dt * speed / rigs.sweep_s)
    swept = np.where(lining, -np.expm1(-dt * speed / rigs.stir_in_s), fades)
    off_g = swept * (state.layer_g + grown_g) - grown_g
    off_j = swept * (state.layer_j + grown_j) - grown_j
    eases = speed * np.maximum(1.0 - frozen_pct / _STIFF_PCT, 0.1)
    foams = np.minimum(dt * eases / rigs.air_s, 1.0)
    return replace(
        state,
        core_g=state.core_g + off_g,
        core_j=state.core_j + off_j,
        layer_g=state.layer_g - off_g,
        layer_j=state.layer_j - off_j,
        usual_g=state.usual_g + grown_g - fades * (state.usual_g + grown_g),
        air_pct=state.air_pct + (rigs.air_pct - state.air_pct) * foams,
    )


def _at_rest(
    state: RigState, bodies: Still, dt: float, bath_c: Array, drive: Drive
) -> tuple[RigState, Array, Array]:
    """The resting mix a step later; heat out of it through the wall, and in from the air [W]."""
    rigs = state.rigs
    if state.bowl_in:
        outside_c = bath_c
        film_w_k = _STILL_BRINE * rigs.ua_w_k / (1.0 - _INSIDE_SHARE) * state.zones.contact()
    else:
        outside_c = np.full(rigs.n, drive.over_c)
        film_w_k = _BARE_AREA * rigs.freezer_film_w_m2k * rigs.area_m2
    over_w = _COVERED * rigs.open_w_k * (drive.over_c - bodies.core_c())
    bodies, into_j = bodies.warmed(over_w * dt).after(dt, outside_c, film_w_k)
    return replace(state, still=bodies), -into_j / dt, over_w
