"""How much ice and salt: what the batch needs, what fits, and how many cups that is."""

from __future__ import annotations

import math

from rigmon.physics import brine
from rigmon.physics.bowls import ice_that_fits_g
from rigmon.physics.brine import Heap
from rigmon.physics.mix import BATH_LIMIT_FROZEN_PCT, FreezingCurve
from rigmon.physics.salts import salt
from rigmon.plan.values import Measure
from rigmon.records import BowlSetup, IceKind
from rigmon.records.planning import SaltName
from rigmon.run.recharging import LEAK_W

BELOW_LIMIT_K = 2.0
"""Ice and salt are planned for a bath this far below its limit [K]."""
SPARE_SHARE = 0.15
"""Ice beyond what will melt, so that some still floats at the end (common practice, no source)."""
USUAL_RATIO = 4.0
"""Ice to sodium chloride by mass (common practice, no source: 3.3 to 6): the bath stays near the
eutectic until four fifths of the ice have melted."""
LEAST_ICE_PER_MIX = 2.0
"""Ice over mix by mass, at least (common practice, no source: 2 to 3): it must stand all round."""
BEATER_W = 30.0
"""Heat of the beaters and the air into the mix [W] (own estimate)."""
ROUND_S = 1800.0
"""A round that the ice is to last for [s] (common practice, no source: 10 to 25 min)."""
CHILLS_ITSELF = 0.1
"""Ice that melts to bring the bath itself from 0 to −15 °C: 31 of 310 J/g."""

_ICE: tuple[Heap, ...] = ("crushed", "cubes")
_SALT: tuple[Heap, ...] = ("fine", "kosher", "rock")


def melts_per_g(name: SaltName, t_c: float) -> float:
    """Ice [g] that a gram of salt as weighed melts until the brine rests with ice at `t_c` [°C].

    100 s/w - 1: s the anhydrous share of the salt, w the strength of the brine.

    >>> round(melts_per_g(SaltName.SODIUM_CHLORIDE, -15.0), 2)
    4.31
    """
    of = salt(name)
    return 100.0 * of.anhydrous_share / of.strength_pct(t_c) - 1.0


def usual_ratio(name: SaltName) -> float:
    """Ice to salt by mass where nothing was said.

    4 for sodium chloride; for others the ratio at which the same share of the ice has melted when
    the bath leaves the eutectic.

    >>> [usual_ratio(name) for name in SaltName]
    [4.0, 5.0, 2.8, 0.8, 1.4]
    """
    sodium = SaltName.SODIUM_CHLORIDE
    of, at_c = melts_per_g(name, salt(name).eutectic_c), salt(sodium).eutectic_c
    return round(USUAL_RATIO * of / melts_per_g(sodium, at_c), 1)


def ice_needed_g(
    curve: FreezingCurve, mix_g: float, mix_c: float, name: SaltName, ratio: float, limit_c: float
) -> float:
    """Ice [g] that a round needs, without a spare.

    The heat is that of the mix until 45 % of its water is ice, and of leak and beaters in half an
    hour. Ice may melt until the brine would rest with ice less than 2 K below `limit_c`; a tenth
    of it chills the bath. Never less than twice the mix.

    Args:
        curve: freezing curve of the mix.
        mix_g: mass of the batch [g].
        mix_c: temperature of the mix as it is poured [°C].
        name: which salt.
        ratio: ice to salt by mass.
        limit_c: bath limit [°C].

    >>> from rigmon.physics.mix import freezing_curve
    >>> from rigmon.records import Composition
    >>> curve = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.3))
    >>> ice_needed_g(curve, 1200.0, 4.0, SaltName.SODIUM_CHLORIDE, 4.0, -8.7)
    2400.0
    >>> round(ice_needed_g(curve, 1200.0, 4.0, SaltName.SODIUM_CHLORIDE, 14.0, -8.7), -1)
    3150.0
    """
    end_c = curve.temperature_c(BATH_LIMIT_FROZEN_PCT)
    heat_j = mix_g * max(curve.enthalpy_j_g(mix_c) - curve.enthalpy_j_g(end_c), 0.0)
    heat_j += (LEAK_W + BEATER_W) * ROUND_S
    target_c = max(limit_c - BELOW_LIMIT_K, salt(name).eutectic_c)
    usable = min(melts_per_g(name, target_c) / ratio, 1.0) - CHILLS_ITSELF
    melts_g = heat_j / brine.heat_of_fusion_j_g(target_c)
    return max(melts_g / max(usable, CHILLS_ITSELF), LEAST_ICE_PER_MIX * mix_g)


def with_spare_g(needed_g: float) -> float:
    """Ice to provide [g], to 10 g, where `needed_g` [g] is needed.

    >>> with_spare_g(2400.0)
    2760.0
    """
    return tens((1.0 + SPARE_SHARE) * needed_g)


def most_ice_g(bowls: BowlSetup, kind: IceKind) -> float:
    """Ice of `kind` that usually fits between the bowls [g], down to 10 g."""
    return 10.0 * math.floor(ice_that_fits_g(bowls, kind)[1] / 10.0)


def tens(g: float) -> float:
    """A mass [g] to 10 g, and never nothing.

    >>> tens(694.0), tens(2.0)
    (690.0, 10.0)
    """
    return max(10.0 * round(g / 10.0), 10.0)


def measures(
    ice_g: float, salt_g: float, name: SaltName, planned: tuple[Heap, Heap], cup_ml: float
) -> tuple[Measure, ...]:
    """Ice and salt in cups, whatever the kitchen has of each.

    cups = mass / (bulk density · cup). Of salts other than sodium chloride none is known.

    Args:
        ice_g: ice [g].
        salt_g: salt [g].
        name: which salt.
        planned: the ice and the salt that the plan reckons with.
        cup_ml: what a cup holds [ml].

    >>> sodium = SaltName.SODIUM_CHLORIDE
    >>> crushed, *_ = measures(2600.0, 650.0, sodium, ("crushed", "fine"), 240.0)
    >>> round(crushed.cups_low, 1), round(crushed.cups, 1), round(crushed.cups_high, 1)
    (15.5, 17.5, 19.7)
    """
    masses = [(material, ice_g) for material in _ICE]
    if name is SaltName.SODIUM_CHLORIDE:
        masses += [(material, salt_g) for material in _SALT]
    found = []
    for material, g in masses:
        loose, usual, dense = brine.bulk_density_g_ml(material)
        found.append(
            Measure(
                material,
                g,
                cups=g / (usual * cup_ml),
                cups_low=g / (dense * cup_ml),
                cups_high=g / (loose * cup_ml),
                planned=material in planned,
            )
        )
    return tuple(found)
