"""Heat through the inner bowl's wall, and heat that beating brings: the two laws of a round.

Estimating, planning and looking back use these same two, so that what one run teaches of a rig
holds for the next.
"""

from __future__ import annotations

from rigmon.physics.numbers import Number, exponential


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
