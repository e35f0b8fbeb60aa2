"""Heat through the inner bowl's wall, heat that beating brings, and the layer frozen to the wall.

Estimating, planning and looking back use these same laws, so that what one run teaches of a rig
holds for the next.
"""

from __future__ import annotations

import numpy as np

from rigmon.physics.numbers import Array, Number, exponential

STICK_PCT = 38.0
"""Frozen share from which mix stays on a cold wall [%] (own estimate)."""
_LEAST_GIVEN_J_G = 15.0
_MOST_LINED = 0.4
"""Share of the mix off the wall that at most hangs on it while it is beaten (own estimate)."""


def conductance_w_k(ua_w_k: Number, stiffening: Number, frozen_pct: Number) -> Number:
    """Conductance between mix and bath [W/K] with its usual frozen layer on the wall.

    UA / (½ e^(aφ) + ½), φ the frozen share: films and layer together grow more resistant as the
    mix stiffens. Own form, chosen on simulated rigs; 0 to 60 % of the water frozen.

    Args:
        ua_w_k: UA, conductance in liquid mix [W/K].
        stiffening: a.
        frozen_pct: frozen share [%].

    >>> round(conductance_w_k(9.5, 4.0, 25.0), 1)
    5.1
    """
    return ua_w_k / (0.5 * exponential(stiffening * frozen_pct / 100.0) + 0.5)


def beaters_w(beater_w: Number, beater_rise: Number, frozen_pct: Number) -> Number:
    """Heat [W] that beaters, and the air of a 22 °C room, bring into the mix.

    P (1 + r φ), φ the frozen share. Own form; 15 to 30 W in liquid mix, 25 to 50 W in stiff mix.

    Args:
        beater_w: P, heat in liquid mix [W].
        beater_rise: r.
        frozen_pct: frozen share [%].

    >>> beaters_w(30.0, 1.0, 25.0)
    37.5
    """
    return beater_w * (1.0 + beater_rise * frozen_pct / 100.0)


def given_to_stick_j_g(core_j_g: Array, stick_j_g: float) -> Array:
    """What a gram of mix gives up to freeze on to the wall [J/g]; a stiff one sticks as it is."""
    return np.maximum(core_j_g - stick_j_g, _LEAST_GIVEN_J_G)


def freezes_on(
    heat_w: Array, core_g: Array, core_j_g: Array, stick_j_g: float, sweep_s: Array
) -> tuple[Array, Array]:
    """Mass [g/s] and enthalpy [W] of the mix that freezes on to the wall.

    Args:
        heat_w: that share of the heat through the wall that freezes mix on to it [W].
        core_g: mix off the wall [g].
        core_j_g: its enthalpy [J/g].
        stick_j_g: enthalpy of mix at `STICK_PCT` [J/g].
        sweep_s: time in which the beaters take the layer off again [s].

    >>> two = np.array([40.0]), np.array([900.0]), np.array([-10.0])
    >>> [float(v[0].round(2)) for v in freezes_on(*two, -90.0, np.array([185.0]))]
    [0.5, -45.0]
    """
    given_j_g = given_to_stick_j_g(core_j_g, stick_j_g)
    grows_g_s = np.minimum(heat_w / given_j_g, _MOST_LINED * core_g / sweep_s)
    return grows_g_s, grows_g_s * (core_j_g - given_j_g)


def on_the_wall(amount: Number, grows_s: Number, sweep_s: Number, dt: float) -> Number:
    """Mass [g] or heat [J] of the frozen layer `dt` later, which grows and is swept off again.

    L' = g − L/τ, solved for constant g and τ, so that long steps are as right as short ones.

    Args:
        amount: L, what lies there [g or J].
        grows_s: g, what freezes on [g/s or W].
        sweep_s: τ, time in which the beaters take it off again [s].
        dt: time step [s].

    >>> round(on_the_wall(0.0, 0.4, 185.0, 185.0), 1), round(on_the_wall(0.0, 0.4, 185.0, 1e9), 1)
    (46.8, 74.0)
    """
    keeps = exponential(-dt / sweep_s)
    return amount * keeps + grows_s * sweep_s * (1.0 - keeps)
