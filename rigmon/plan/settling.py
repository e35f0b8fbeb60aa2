"""From what the maker said to a batch with every amount settled, the rest taken or suggested."""

from __future__ import annotations

from rigmon.errors import UsageError
from rigmon.physics.course import Start
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.physics.mixside import ROOM_C
from rigmon.plan.amounts import ice_needed_g, most_ice_g, tens, usual_ratio, with_spare_g
from rigmon.plan.values import Batch, Wish
from rigmon.records import BowlSetup, Recipe, RigSetup
from rigmon.records.planning import SaltName
from rigmon.units import temperature

LEAST_ICE_G = 10.0


def settle(recipe: Recipe, wish: Wish, rig: RigSetup | None = None) -> Batch:
    """The batch that is planned.

    What is said goes before what the rig usually has, and that before a suggestion. Salt that is
    not said follows the ice by the ratio.

    Args:
        recipe: the mix, composition resolved.
        wish: what the maker said.
        rig: the rig, if it is configured.

    Raises:
        UsageError: the mass is not known, or what was said contradicts itself.
    """
    if wish.salt_g is not None and wish.ratio is not None:
        raise UsageError("Salt and ratio both say how much salt there is: give one of them")
    if recipe.composition is None:
        raise UsageError(f"The recipe {recipe.name!r} does not say what is in the mix")
    mix_g = wish.mix_g if wish.mix_g is not None else recipe.mass_g
    if mix_g is None:
        raise UsageError(
            f"The recipe {recipe.name!r} gives no mass: add mass_g to it, or give --mix-g"
        )
    curve = freezing_curve(recipe.composition)
    if wish.mix_c < curve.initial_c:
        raise UsageError(
            f"A mix of {temperature(wish.mix_c)} is frozen in part, since freezing begins at "
            f"{temperature(curve.initial_c)}: give the temperature at which it is poured"
        )
    setup = rig or RigSetup()
    bath, room_c = setup.bath, wish.room_c if wish.room_c is not None else setup.room_c
    ice_kind, salt_kind = wish.ice_kind or bath.ice_kind, wish.salt_kind or bath.salt_kind
    limit_c = bath.limit_c if bath.limit_c is not None else bath_limit_c(curve)
    assumed = []
    if setup.bowls == BowlSetup():
        litres = setup.bowls.inner_ml / 1000, setup.bowls.outer_ml / 1000
        assumed.append(f"bowls of {litres[0]:g} l in {litres[1]:g} l")
    if room_c is None:
        room_c = ROOM_C
        assumed.append(f"a room of {room_c:g} °C")
    if rig is None:
        assumed += [f"{ice_kind} ice"] if wish.ice_kind is None else []
        sodium = wish.salt is SaltName.SODIUM_CHLORIDE
        assumed += [f"{salt_kind} salt"] if wish.salt_kind is None and sodium else []

    usual_salt_g = bath.salt_g if wish.salt is SaltName.SODIUM_CHLORIDE else None
    ratio = wish.ratio
    if ratio is None and bath.ice_g is not None and usual_salt_g is not None:
        ratio = bath.ice_g / usual_salt_g
    if ratio is None:
        ratio = usual_ratio(wish.salt)
        if wish.salt_g is None and usual_salt_g is None:
            assumed.append(f"{ratio:g} of ice to 1 of salt by mass")
    ice_g = wish.ice_g if wish.ice_g is not None else bath.ice_g
    needed_g = wanted_g = None
    if ice_g is None:
        needed_g = ice_needed_g(curve, mix_g, wish.mix_c, wish.salt, ratio, limit_c)
        wanted_g = with_spare_g(needed_g)
        ice_g = min(wanted_g, max(most_ice_g(setup.bowls, ice_kind), LEAST_ICE_G))
    salt_g = wish.salt_g
    if salt_g is None and wish.ratio is None and wish.ice_g is None:
        salt_g = usual_salt_g
    if salt_g is None:
        salt_g = tens(ice_g / ratio)
    start = Start(
        mix_g=mix_g,
        ice_g=ice_g,
        salt_g=salt_g,
        mix_c=wish.mix_c,
        water_g=bath.water_g,
        ice_kind=ice_kind,
        salt_kind=salt_kind,
        salt=wish.salt,
        room_c=room_c,
    )
    ice_c = temperature(start.ice_c, digits=0)
    assumed += [
        f"ice of {ice_c} with {start.wet_pct:g} % of water on it",
        f"the pour {start.wait_s / 60:.0f} min after ice and salt",
    ]
    return Batch(
        name=recipe.name,
        composition=recipe.composition,
        curve=curve,
        start=start,
        bowls=setup.bowls,
        plateau=setup.plateau,
        limit_c=limit_c,
        needed_g=needed_g,
        wanted_g=wanted_g,
        assumed=tuple(assumed),
    )
