"""What to do, in grams and minutes: the sentences behind the alarms."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.physics import brine
from rigmon.physics.bowls import room_for_ice_ml
from rigmon.records import BowlSetup, DetailValue, Estimate, Forecast, Slowdown
from rigmon.run.alarms import Cause
from rigmon.run.speech import Speech
from rigmon.texts import marked

HOLD_S = 1200.0
"""A recharge is to carry the bath for this long [s] (common practice, no source)."""
BELOW_LIMIT_K = 2.0
"""A recharge is to end this far below the bath limit [K]."""
SPARE_SHARE = 0.15
"""Ice beyond what will melt, so that some still floats at the end (common practice, no source)."""
LEAST_SHARE = 0.3
"""Ice is added at least for this share of what will melt: new salt needs ice to work on."""
USUAL_LOAD_W = 200.0
"""Heat into the bath where it is not known [W] (common practice, no source)."""
LEAK_W = 60.0
"""Heat into the bath beside that from the mix [W] (own estimate)."""
_MOST_DRAINED = 0.9

_HELD_BY = {
    "bath": marked("It is the bath that holds it up: recharged, it will freeze on."),
    "wall": marked("It is the wall that holds it up: if a shell can be felt, scrape and beat on."),
    "beater": marked("It is the heat of the beaters that holds it up: slower, it will freeze on."),
}


@dataclass(frozen=True, slots=True)
class Recharge:
    """Ice and salt to add.

    Args:
        ice_g: ice [g].
        salt_g: salt [g].
        drain_g: brine to pour off first so that it fits [g].
    """

    ice_g: float
    salt_g: float
    drain_g: float


def recharge(
    estimate: Estimate, limit_c: float, bowls: BowlSetup, load_w: float | None = None
) -> Recharge | None:
    """Ice and salt that keep the bath under its limit for another twenty minutes.

    The ice is what the load melts in that time, what cooling the brine down melts, and a spare. The
    salt brings all the water that there will then be to the strength that rests with ice 2 K below
    the limit. What does not fit between the bowls is to be drained as brine first, and the salt in
    it is made good.

    Args:
        estimate: the bath now; ice and salt must be known.
        limit_c: bath limit [°C].
        bowls: the two bowls.
        load_w: heat flowing into the bath [W]; a usual 200 W if not known.

    Returns:
        Masses to 10 g; None where the bath's masses are not known.
    """
    left, salt, water = estimate.ice_left_g, estimate.salt_g, estimate.brine_water_g
    if left is None or salt is None or water is None or estimate.bath_c is None:
        return None
    melting_j_g = brine.heat_of_fusion_j_g(max(min(estimate.bath_c, 0.0), -20.0))
    brine_g = water + salt
    target_c = limit_c - BELOW_LIMIT_K
    target = brine.strength_pct(target_c)
    cools_j_k = brine_g * brine.specific_heat_j_gk(target, target_c)
    heat_j = max(USUAL_LOAD_W if load_w is None else load_w, 0.0) * HOLD_S
    heat_j += cools_j_k * max(estimate.bath_c - target_c, 0.0)
    melts = heat_j / melting_j_g
    wanted = max((1.0 + SPARE_SHARE) * melts - left, LEAST_SHARE * melts)

    bulk_g_ml = brine.bulk_density_g_ml("crushed")[0]
    density = brine.density_g_ml(estimate.brine_pct or 0.0, max(estimate.bath_c, -21.0))
    free_ml = room_for_ice_ml(bowls) - left / brine.ICE_DENSITY_G_ML
    drainable = _down(_MOST_DRAINED * brine_g)
    most_ml = max(free_ml - (brine_g - drainable) / density, 0.0)
    ice = min(_up(wanted), _down(bulk_g_ml * most_ml))
    too_much_ml = brine_g / density + ice / bulk_g_ml - free_ml
    drain = min(_up(max(too_much_ml * density, 0.0)), drainable)

    # Grains that lie undissolved are not poured off with the brine.
    strength = min(salt / max(brine_g, 1.0), (estimate.brine_pct or 0.0) / 100.0)
    melts = min(melts, left + ice)
    water_after = water - drain * (1.0 - strength) + melts
    needed = water_after * target / (100.0 - target) - salt + drain * strength
    return Recharge(ice, _up(max(needed, 0.0)), drain)


def _up(g: float) -> float:
    return 10.0 * math.ceil(g / 10.0)


def _down(g: float) -> float:
    return 10.0 * math.floor(g / 10.0)


def stop_beating(
    estimate: Estimate,
    why: Slowdown | None,
    limit_c: float | None,
    bowls: BowlSetup,
    speech: Speech,
) -> Cause:
    """Why the mix stops stiffening, and what to do about it.

    Args:
        estimate: mix and bath now.
        why: what keeps the heat from going; None if it cannot be said.
        limit_c: the bath limit [°C], if known.
        bowls: the two bowls.
        speech: the maker's language and units.
    """
    share, sd = estimate.frozen_pct, estimate.frozen_pct_sd
    stiff = speech.say("The mix has stopped stiffening.")
    if share is not None and sd is not None:
        stiff = speech.say(
            "The mix has stopped stiffening, with {share} ± {spread} % of its water ice.",
            share=f"{share:.0f}",
            spread=f"{2 * sd:.0f}",
        )
    advice: dict[str, DetailValue] = {"do": "stop-beating"}
    held_by = None if why is None else _held_by(why)
    if held_by is not None:
        advice["held_by"] = held_by
        stiff = f"{stiff} {speech.say(_HELD_BY[held_by])}"
    if held_by == "bath" and limit_c is not None:
        amount = _amount(estimate, limit_c, bowls)
        if amount is not None:
            stiff = f"{stiff} {speech.say('Or:')} {added(amount, speech)}."
            advice |= in_figures(amount)
    return Cause(stiff, advice)


def _held_by(why: Slowdown) -> str | None:
    """What alone keeps more heat from going than all else, if anything surely does."""
    shares = {
        "bath": (why.bath, why.bath_sd),
        "wall": (why.wall, why.wall_sd),
        "beater": (why.beater, why.beater_sd),
    }
    sure = [name for name, (share, sd) in shares.items() if share - sd > 0.5]
    return sure[0] if sure else None


def add_ice_and_salt(
    estimate: Estimate, limit_c: float, until: Forecast | None, bowls: BowlSetup, speech: Speech
) -> Cause:
    """Why and with how much to recharge the bath.

    Args:
        estimate: the bath now.
        limit_c: the bath limit [°C].
        until: when the bath will pass it; None if it stands above it.
        bowls: the two bowls.
        speech: the maker's language and units.
    """
    figures = {
        "bath": speech.temperature(estimate.bath_c),
        "limit": speech.temperature(limit_c),
    }
    if until is None or until.p50 is None:
        when = speech.say("The bath is at {bath}, above its limit of {limit}.", **figures)
    else:
        soonest = until.p50 if until.p10 is None else until.p10
        figures["time"] = speech.minutes(until.p50 - until.at)
        figures["sooner"] = speech.minutes(soonest - until.at)
        text = marked("The bath is at {bath} and will pass its limit of {limit} in about {time}.")
        if figures["sooner"] != figures["time"]:
            text = marked(
                "The bath is at {bath} and will pass its limit of {limit} in about {time}, perhaps"
                " in {sooner}."
            )
        when = speech.say(text, **figures)
    amount = _amount(estimate, limit_c, bowls)
    if amount is None:
        how = speech.say(
            "Add ice up to the level of the mix, and a quarter of its weight of salt. Weigh both"
            " from the start next time, and the amounts can be worked out."
        )
        return Cause(f"{when} {how}", {"do": "recharge"})
    if amount.drain_g > 0.0:
        off = speech.say("Pour off {brine} of brine first.", brine=speech.mass(amount.drain_g))
        when = f"{when} {off}"
    gloves = speech.say("Gloves: it is far below freezing.")
    return Cause(
        f"{when} {gloves}", {"do": "recharge", **in_figures(amount)}, call=added(amount, speech)
    )


def _amount(estimate: Estimate, limit_c: float, bowls: BowlSetup) -> Recharge | None:
    """What to add, with the load on the bath as it is."""
    load_w = None if estimate.cooling_w is None else estimate.cooling_w + LEAK_W
    return recharge(estimate, limit_c, bowls, load_w)


def added(amount: Recharge, speech: Speech) -> str:
    """What to add, as it is read at a glance.

    >>> added(Recharge(900.0, 180.0, 0.0), Speech())
    'Recharge: 900 g ice, 180 g salt'
    """
    ice, salt = speech.ice(amount.ice_g), speech.salt(amount.salt_g)
    if not amount.salt_g:
        return speech.say("Recharge: {ice} ice, no salt", ice=ice)
    return speech.say("Recharge: {ice} ice, {salt} salt", ice=ice, salt=salt)


def in_figures(amount: Recharge) -> dict[str, DetailValue]:
    """What to add, for a program to read."""
    drained = {"drain_g": amount.drain_g} if amount.drain_g > 0.0 else {}
    return {"ice_g": amount.ice_g, "salt_g": amount.salt_g, **drained}
