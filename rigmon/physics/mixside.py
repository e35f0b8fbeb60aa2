"""The mix in its bowl, for an ensemble of rigs: beaten, at rest, and beaten again.

While it is beaten the mix is one well-stirred core with a frozen layer on the wall; while it rests
it freezes inwards shell by shell, and its middle hardly moves; beaten again, the frozen lining is
stirred in and the temperature dips. Mass and enthalpy that leave one part enter another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rigmon.physics import still, wall
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs
from rigmon.physics.still import MIX_G_ML, Still

ROOM_C = 22.0
"""Room for which the heat of beaters and air is quoted [°C]."""

_SPEED_POWER = 2.0 / 3.0
_STILL_SHARE = 0.25
_INSIDE_SHARE = 0.4
_STILL_BRINE = 0.8
_BARE_AREA = 1.5
_COVERED = 0.4
_LEAST_SHARE_OF_R = 0.4
_LEAST_G = 1e-9
_LINING, _LINING_G = 1.2, 2.0
_MOST_LINED = 0.4
_LEAST_LINING_J_G = 40.0
"""A stiff mix hangs on as it is, but gives up so much in the layer before more does [J/g] (own
estimate)."""
_STIFF_PCT = 40.0


@dataclass(frozen=True, slots=True, eq=False)
class MixState:
    """The mix of n rigs at one time; arrays are (n,).

    Args:
        curve: how the mix freezes.
        rigs: their parameters.
        core_g: mix off the wall [g]; 0 before the pour and while it rests.
        core_j: its enthalpy [J].
        layer_g: mix frozen to the wall [g].
        layer_j: its enthalpy [J].
        usual_g: what would be frozen to the wall had nobody scraped and nothing rested [g].
        nucleated: whether ice has begun to form.
        air_pct: air in the mix, of its volume without it [%].
        still: the mix while it rests, else None.
        stick_j_g: enthalpy of mix as it freezes on to the wall [J/g].
    """

    curve: FreezingCurve
    rigs: Rigs
    core_g: Array
    core_j: Array
    layer_g: Array
    layer_j: Array
    usual_g: Array
    nucleated: NDArray[np.bool_]
    air_pct: Array
    still: Still | None
    stick_j_g: float

    def enthalpy_j(self) -> Array:
        """(n,) enthalpy [J]."""
        at_rest = 0.0 if self.still is None else self.still.heat_j.sum(axis=0)
        return np.asarray(self.core_j + self.layer_j + at_rest)

    def mass_g(self) -> Array:
        """(n,) all of it [g]."""
        at_rest = 0.0 if self.still is None else self.still.mass_g.sum(axis=0)
        return np.asarray(self.core_g + self.layer_g + at_rest)

    def seen(self) -> tuple[Array, Array]:
        """(n,) temperature where a probe in the mix would sit [°C], and frozen share [%].

        While it is beaten, both of the mix off the wall; while it rests, the temperature in the
        middle, and the share once wall and middle are mixed.
        """
        if self.still is not None:
            return self.still.core_c(), self.still.mixed()[1]
        h = self.core_j / np.maximum(self.core_g, _LEAST_G)
        slush_c, slush_pct = self.curve.from_enthalpy(h)
        liquid_c = h / self.curve.unfrozen_specific_heat_j_gk
        return np.where(self.nucleated, slush_c, liquid_c), slush_pct * self.nucleated

    def mixed_pct(self) -> Array:
        """(n,) frozen share once wall and middle are mixed [%]."""
        h = self.enthalpy_j() / np.maximum(self.mass_g(), _LEAST_G)
        return self.curve.from_enthalpy(h)[1] * self.nucleated


def no_mix(curve: FreezingCurve, rigs: Rigs) -> MixState:
    """An empty bowl."""
    none = np.zeros(rigs.n)
    return MixState(
        curve=curve,
        rigs=rigs,
        core_g=none,
        core_j=none,
        layer_g=none,
        layer_j=none,
        usual_g=none,
        nucleated=np.zeros(rigs.n, dtype=np.bool_),
        air_pct=none,
        still=None,
        stick_j_g=curve.enthalpy_j_g(curve.temperature_c(wall.STICK_PCT)),
    )


def poured(mix: MixState, mix_g: Array | float, mix_c: Array | float) -> MixState:
    """The mix with `mix_g` [g] of `mix_c` [°C] poured in."""
    none = np.zeros(mix.rigs.n)
    mass = mix_g + none
    heat = mass * mix.curve.enthalpy_j_g(mix_c + none)
    return replace(mix, core_g=mix.core_g + mass, core_j=mix.core_j + heat)


def lined(mix: MixState, core_j_g: Array, wall_w: Array, bath_c: Array | float) -> MixState:
    """The mix off the wall brought to `core_j_g`, with the layer on the wall that is usual for it.

    The usual layer is what freezes on while the beaters take as much off: σ q τ / given heat, with
    σ the share that sticks and τ the time of sweeping. Once frozen on it is colder yet: halfway
    between where mix sticks and the face of the wall.

    Args:
        mix: all of it off the wall.
        core_j_g: (n,) enthalpy of what is off the wall [J/g].
        wall_w: (n,) heat q through the wall [W].
        bath_c: bath outside the wall [°C].
    """
    given_j_g = np.maximum(wall.given_to_stick_j_g(core_j_g, mix.stick_j_g), _LEAST_LINING_J_G)
    usual_g = mix.rigs.stick_share * wall_w * mix.rigs.sweep_s / given_j_g
    layer_g = np.where(core_j_g < mix.curve.enthalpy_j_g(mix.curve.initial_c), usual_g, 0.0)
    layer_g = np.minimum(layer_g, _MOST_LINED * mix.core_g)
    core_g = mix.core_g - layer_g
    face_c = bath_c + wall_w * (1.0 - _INSIDE_SHARE) / mix.rigs.ua_w_k
    sticks_j_g = core_j_g - given_j_g
    middle_j_g = mix.curve.enthalpy_j_g(0.5 * (face_c + mix.curve.from_enthalpy(sticks_j_g)[0]))
    return replace(
        mix,
        core_g=core_g,
        core_j=core_g * core_j_g,
        layer_g=layer_g,
        layer_j=layer_g * np.minimum(sticks_j_g, middle_j_g),
        usual_g=layer_g,
    )


def scraped(mix: MixState, share: float = 0.9) -> MixState:
    """The mix with `share` of the layer taken off the wall and stirred in."""
    taken_g, taken_j = share * mix.layer_g, share * mix.layer_j
    return replace(
        mix,
        core_g=mix.core_g + taken_g,
        core_j=mix.core_j + taken_j,
        layer_g=mix.layer_g - taken_g,
        layer_j=mix.layer_j - taken_j,
    )


def rested(mix: MixState, count: int = 10) -> MixState:
    """The mix left standing, in `count` shells."""
    bodies = still.resting(
        mix.curve,
        (mix.core_g, mix.core_j),
        (mix.layer_g, mix.layer_j),
        mix.air_pct,
        mix.rigs.area_m2,
        mix.rigs.still_w_mk,
        count,
    )
    none = np.zeros(mix.rigs.n)
    return replace(mix, still=bodies, core_g=none, core_j=none, layer_g=none, layer_j=none)


def taken_up(mix: MixState) -> MixState:
    """The mix before another round, the frozen lining still on its wall."""
    if mix.still is None:
        return mix
    core_g, core_j, layer_g, layer_j = mix.still.split(wall.STICK_PCT)
    return replace(
        mix,
        core_g=core_g,
        core_j=core_j,
        layer_g=layer_g,
        layer_j=layer_j,
        nucleated=np.ones(mix.rigs.n, dtype=np.bool_),
        still=None,
    )


def beaten(
    mix: MixState,
    dt: float,
    bath_c: Array | float,
    contact: Array | float,
    over_c: Array | float,
    speed: float = 1.0,
) -> tuple[MixState, Array, Array]:
    """The mix `dt` [s] later, in a bowl that stands in the bath.

    Args:
        mix: the mix; not at rest.
        dt: time step, 1 to 2 [s].
        bath_c: bath [°C].
        contact: share of the full conductance that brine gives the wall, 0.3 to 1.
        over_c: air over the mix [°C].
        speed: of the beaters, 1 the usual, 0 none.

    Returns:
        the mix, and (n,) heat through the wall and heat from beaters and air [W].
    """
    rigs, beating = mix.rigs, speed > 0.0
    mix_c, frozen_pct = mix.seen()
    conducts = wall.conductance_w_k(rigs.ua_w_k, rigs.stiffening, frozen_pct) * contact
    conducts = conducts * (speed**_SPEED_POWER if beating else _STILL_SHARE)
    core_j_g = mix.core_j / mix.core_g
    wall_w = _with_layer(mix, conducts) * (mix_c - bath_c)
    sticks_w = rigs.stick_share * np.maximum(wall_w, 0.0) * mix.nucleated
    over_w = rigs.open_w_k * (over_c - (ROOM_C if beating else mix_c))
    if beating:
        heat_w = wall.beaters_w(rigs.beater_w, rigs.beater_rise, frozen_pct)
        over_w = over_w + speed**2 * heat_w
    core_j = mix.core_j + (over_w - wall_w) * dt
    liquid_c = core_j / mix.core_g / mix.curve.unfrozen_specific_heat_j_gk
    nucleated = mix.nucleated | (liquid_c < mix.curve.initial_c - rigs.supercooling_k)
    mix = replace(mix, core_j=core_j, nucleated=nucleated)
    if beating:
        mix = _stirred(mix, dt, speed, frozen_pct, sticks_w, core_j_g)
    return mix, wall_w, over_w


def _with_layer(mix: MixState, conducts: Array) -> Array:
    """Conductance [W/K] with the layer that is there in place of the usual one.

    `wall.conductance_w_k` holds for a wall with its usual layer, which follows from what freezes on
    and what the beaters take off; a thicker or thinner one adds or takes s / (k A).
    """
    rigs = mix.rigs
    more_m = (mix.layer_g - mix.usual_g) / (MIX_G_ML * 1e6 * rigs.area_m2)
    more_k_w = more_m / (rigs.layer_w_mk * rigs.area_m2)
    return conducts / np.maximum(1.0 + more_k_w * conducts, _LEAST_SHARE_OF_R)


def _stirred(
    mix: MixState,
    dt: float,
    speed: float,
    frozen_pct: Array,
    sticks_w: Array,
    core_j_g: Array,
) -> MixState:
    """Mix freezes on to the wall, the beaters take part of it off again, and air goes in.

    Air goes into a wet foam more easily than into a stiff one.
    """
    rigs = mix.rigs
    usual_s = rigs.sweep_s / speed
    grows_g_s, grows_w = wall.freezes_on(sticks_w, mix.core_g, core_j_g, mix.stick_j_g, usual_s)
    lining = mix.layer_g > _LINING * mix.usual_g + _LINING_G
    sweep_s = np.where(lining, rigs.stir_in_s / speed, usual_s)
    layer_g = wall.on_the_wall(mix.layer_g, grows_g_s, sweep_s, dt)
    layer_j = wall.on_the_wall(mix.layer_j, grows_w, sweep_s, dt)
    eases = speed * np.maximum(1.0 - frozen_pct / _STIFF_PCT, 0.1)
    foams = np.minimum(dt * eases / rigs.air_s, 1.0)
    return replace(
        mix,
        core_g=mix.core_g + mix.layer_g - layer_g,
        core_j=mix.core_j + mix.layer_j - layer_j,
        layer_g=layer_g,
        layer_j=layer_j,
        usual_g=wall.on_the_wall(mix.usual_g, grows_g_s, usual_s, dt),
        air_pct=mix.air_pct + (rigs.air_pct - mix.air_pct) * foams,
    )


def at_rest(
    mix: MixState,
    bodies: Still,
    dt: float,
    outside_c: Array | float,
    film_w_k: Array,
    over_c: Array | float,
) -> tuple[MixState, Array, Array]:
    """The resting mix `dt` [s] later.

    Args:
        mix: the mix.
        bodies: its shells.
        dt: time step [s].
        outside_c: bath or air outside the wall [°C].
        film_w_k: (n,) conductance from there to the wall, as of `film_in_bath_w_k` [W/K].
        over_c: air over the mix [°C].

    Returns:
        the mix, and (n,) heat through the wall and heat from the air [W].
    """
    over_w = _COVERED * mix.rigs.open_w_k * (over_c - bodies.core_c())
    bodies, into_j = bodies.warmed(over_w * dt).after(dt, outside_c, film_w_k)
    return replace(mix, still=bodies), -into_j / dt, over_w


def film_in_bath_w_k(rigs: Rigs, contact: Array | float) -> Array:
    """(n,) conductance from quiet bath to the wall [W/K]."""
    return np.asarray(_STILL_BRINE * rigs.ua_w_k / (1.0 - _INSIDE_SHARE) * contact)


def film_in_air_w_k(rigs: Rigs) -> Array:
    """(n,) conductance from still freezer air to a bowl alone [W/K]."""
    return _BARE_AREA * rigs.freezer_film_w_m2k * rigs.area_m2
