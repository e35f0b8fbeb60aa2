"""The bowls in one another: what room there is for ice, how high the brine comes, what spills.

The inner bowl hangs with its rim level with the outer one's, unless it is said to be raised; one
that is deeper than the outer bowl stands on its bottom. It is taken to be narrow enough to go in.
"""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.physics import brine
from rigmon.physics.bowlshapes import fill_to_ml, full_depth_m, inner_bowl, outer_bowl
from rigmon.physics.numbers import Number
from rigmon.records import BowlSetup, IceKind

SALT_CRYSTAL_G_ML = 2.165
"""Density of sodium chloride [g/ml] (CRC Handbook); other salts of the bath have 1.6 to 2.2."""

USUAL_FILL = (1.0 / 4.0, 2.0 / 3.0)
"""Share of the inner bowl that a mix fills before it is beaten. Turned freezers are filled from a
half with rich mixes to two thirds at most (S. T. Rorer, Ice Creams, Water Ices, Frozen Puddings);
an open bowl does with a quarter, so that the beaters reach in (common practice, no source)."""

_ROUNDING_ML = 1e-6


def displaced_ml(level_m: Number, bowls: BowlSetup, raised_m: float = 0.0) -> Number:
    """Volume [ml] of the inner bowl that is under a level in the outer one.

    Args:
        level_m: height of the level over the outer bowl's bottom [m].
        bowls: the two bowls.
        raised_m: height of the inner rim over the outer one [m].

    >>> round(displaced_ml(0.12, BowlSetup()))
    1897
    """
    inner = inner_bowl(bowls)
    under_m = full_depth_m(outer_bowl(bowls)) + raised_m - full_depth_m(inner)
    return fill_to_ml(level_m - max(under_m, 0.0), inner)


def between_ml(level_m: Number, bowls: BowlSetup, raised_m: float = 0.0) -> Number:
    """Volume [ml] between the bowls up to a level in the outer one; arguments as `displaced_ml`.

    >>> round(between_ml(0.12, BowlSetup()))
    3782
    """
    return fill_to_ml(level_m, outer_bowl(bowls)) - displaced_ml(level_m, bowls, raised_m)


def room_for_ice_ml(bowls: BowlSetup, raised_m: float = 0.0) -> float:
    """Volume [ml] between the bowls up to the outer rim, never negative.

    Ice fits if its mass over its bulk density, voids included, is no more than this.

    >>> room_for_ice_ml(BowlSetup(inner_ml=4000.0, outer_ml=9500.0))
    5500.0
    """
    return max(between_ml(full_depth_m(outer_bowl(bowls)), bowls, raised_m), 0.0)


def level_m(bath_ml: float, bowls: BowlSetup, raised_m: float = 0.0) -> float:
    """Height [m] over the outer bowl's bottom to which `bath_ml` [ml] stands. Undoes `between_ml`.

    By bisection, to rounding. What is more than there is room for stands at the rim.

    >>> round(level_m(3782.0, BowlSetup()), 3)
    0.12
    """
    low, high = 0.0, full_depth_m(outer_bowl(bowls))
    for _ in range(60):
        middle = (low + high) / 2.0
        if between_ml(middle, bowls, raised_m) < bath_ml:
            low = middle
        else:
            high = middle
    return high


def ice_that_fits_g(bowls: BowlSetup, ice_kind: IceKind) -> tuple[float, float, float]:
    """Least, usual and greatest mass of ice [g] that fits between the bowls, heaped to the rim.

    The room times the bulk density, whose range is that of `brine.bulk_density_g_ml`.

    >>> [round(g) for g in ice_that_fits_g(BowlSetup(), IceKind.CRUSHED)]
    [3025, 3410, 3850]
    """
    room = room_for_ice_ml(bowls)
    least, usual, greatest = brine.bulk_density_g_ml(ice_kind.value)
    return room * least, room * usual, room * greatest


def heap_ml(ice_g: float, salt_g: float, water_g: float, ice_kind: IceKind) -> float:
    """Volume [ml] of ice freshly heaped with salt and water.

    V = max(ice/bulk, ice/0.917 + salt/2.165 + water): salt and water lie in the voids between the
    pieces of ice until these are full (common practice, no source; grains as coarse as the pieces
    push them apart).

    >>> round(heap_ml(3000.0, 750.0, 0.0, IceKind.CRUSHED))
    4839
    """
    usual = brine.bulk_density_g_ml(ice_kind.value)[1]
    solid = ice_g / brine.ICE_DENSITY_G_ML + salt_g / SALT_CRYSTAL_G_ML + water_g
    return max(ice_g / usual, solid)


@dataclass(frozen=True, slots=True)
class BathLevel:
    """Where a bath stands.

    Args:
        bath_ml: its volume [ml].
        level_m: its height over the outer bowl's bottom [m].
        below_rim_mm: how far that is below the outer rim [mm].
        margin_ml: room left under the outer rim [ml]; negative for what would spill.
    """

    bath_ml: float
    level_m: float
    below_rim_mm: float
    margin_ml: float


def bath_ml(ice_g: float, salt_g: float, water_g: float = 0.0, melted_pct: float = 100.0) -> float:
    """Volume of a bath [ml] once `melted_pct` [%] of its ice has melted.

    V = brine/rho + ice/0.917 + undissolved salt/2.165, the brine at its freezing point and no
    stronger than 23.3 %, without air in it. Ice counts as held under: afloat it stands out by a
    tenth of its volume and the level is as much lower.

    Args:
        ice_g: ice put in [g].
        salt_g: salt put in [g], sodium chloride.
        water_g: water poured in [g].
        melted_pct: share of the ice that has melted [%].

    >>> round(bath_ml(ice_g=3000.0, salt_g=750.0))
    3225
    """
    melted_g = ice_g * melted_pct / 100.0
    liquid_g = water_g + melted_g
    most_g = liquid_g * brine.EUTECTIC_PCT / (100.0 - brine.EUTECTIC_PCT)
    dissolved_g = min(salt_g, most_g)
    brine_g = liquid_g + dissolved_g
    strength = 100.0 * dissolved_g / brine_g if brine_g > 0.0 else 0.0
    return (
        brine_g / brine.density_g_ml(strength, brine.freezing_c(strength))
        + (ice_g - melted_g) / brine.ICE_DENSITY_G_ML
        + (salt_g - dissolved_g) / SALT_CRYSTAL_G_ML
    )


def bath_level(
    bowls: BowlSetup, ice_g: float, salt_g: float, water_g: float = 0.0, melted_pct: float = 100.0
) -> BathLevel:
    """Where a bath stands once `melted_pct` [%] of its ice has melted; its volume as of `bath_ml`.

    Args:
        bowls: the two bowls.
        ice_g: ice put in [g].
        salt_g: salt put in [g], sodium chloride.
        water_g: water poured in [g].
        melted_pct: share of the ice that has melted [%].

    >>> end = bath_level(BowlSetup(), ice_g=3000.0, salt_g=750.0)
    >>> round(end.bath_ml), round(end.below_rim_mm)
    (3225, 60)
    """
    whole_ml = bath_ml(ice_g, salt_g, water_g, melted_pct)
    level = level_m(whole_ml, bowls)
    return BathLevel(
        bath_ml=whole_ml,
        level_m=level,
        below_rim_mm=1000.0 * (full_depth_m(outer_bowl(bowls)) - level),
        margin_ml=room_for_ice_ml(bowls) - whole_ml,
    )


def mix_that_fits_ml(bowls: BowlSetup, overrun_pct: float = 40.0) -> float:
    """Most mix [ml], before it is beaten, for the inner bowl.

    The lesser of two thirds of the bowl and what the air `overrun_pct` [% of the mix's volume]
    brings up to the rim.

    >>> round(mix_that_fits_ml(BowlSetup()))
    2667
    """
    return bowls.inner_ml * min(USUAL_FILL[1], 100.0 / (100.0 + overrun_pct))


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether everything goes into the bowls.

    Args:
        ok: nothing goes over a rim.
        spill_ml: what would go over the two rims [ml].
        margin_ml: the least room that is left under a rim at any time [ml]; negative if it spills.
        ice_room_ml: room between the bowls [ml].
        ice_heap_ml: ice with its salt and water as heaped at the start [ml].
        brine_ml: the bath when everything has melted [ml].
        brine_below_rim_mm: its level below the outer rim then [mm].
        mix_ml: the mix with its air [ml].
        mix_room_ml: room in the inner bowl [ml].
    """

    ok: bool
    spill_ml: float
    margin_ml: float
    ice_room_ml: float
    ice_heap_ml: float
    brine_ml: float
    brine_below_rim_mm: float
    mix_ml: float
    mix_room_ml: float


def fit(
    bowls: BowlSetup,
    mix_ml_with_air: float,
    ice_g: float,
    salt_g: float,
    water_g: float = 0.0,
    ice_kind: IceKind = IceKind.CRUSHED,
) -> Fit:
    """Whether ice, salt and water fit at the start and at the end, and the mix with its air.

    The ice at its usual bulk density; see `ice_that_fits_g` for how far that may be off. Splashes
    are not counted.

    Args:
        bowls: the two bowls.
        mix_ml_with_air: the mix as beaten [ml].
        ice_g: ice [g].
        salt_g: salt [g].
        water_g: water poured in for contact [g].
        ice_kind: form of the ice.

    >>> usual = fit(BowlSetup(), 1500.0, ice_g=3000.0, salt_g=750.0)
    >>> usual.ok, usual.spill_ml, round(usual.margin_ml)
    (True, 0.0, 661)
    """
    room = room_for_ice_ml(bowls)
    heap = heap_ml(ice_g, salt_g, water_g, ice_kind)
    end = bath_level(bowls, ice_g, salt_g, water_g)
    outside = room - max(heap, end.bath_ml)
    inside = bowls.inner_ml - mix_ml_with_air
    over = max(-outside, 0.0) + max(-inside, 0.0)
    ok = over <= _ROUNDING_ML
    return Fit(
        ok=ok,
        spill_ml=0.0 if ok else over,
        margin_ml=min(outside, inside),
        ice_room_ml=room,
        ice_heap_ml=heap,
        brine_ml=end.bath_ml,
        brine_below_rim_mm=end.below_rim_mm,
        mix_ml=mix_ml_with_air,
        mix_room_ml=bowls.inner_ml,
    )
