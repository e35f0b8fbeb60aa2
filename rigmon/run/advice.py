"""What to do, in grams and minutes: the sentences behind the alarms."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.physics import brine
from rigmon.records import BowlSetup, DetailValue, Estimate, Forecast
from rigmon.run.alarms import Cause

HOLD_S = 1200.0
"""A recharge is to carry the bath for this long [s] (common practice, no source)."""
BELOW_LIMIT_K = 2.0
"""A recharge is to end this far below the bath limit [K]."""
SPARE_SHARE = 0.15
"""Ice beyond what will melt, so that some still floats at the end (common practice, no source)."""
_BULK_G_ML = 0.6
"""Heaped ice [g/ml]: cubes 0.48 to 0.60, crushed 0.55 to 0.70 (common practice, no source)."""
_USUAL_LOAD_W = 200.0


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

    The ice is what the load melts in that time and a spare; the salt brings all the water that
    there will then be to the strength that rests with ice 2 K below the limit. What does not fit
    between the bowls is to be drained as brine first, and the salt that goes with it is replaced.

    Args:
        estimate: the bath now; ice and salt must be known.
        limit_c: bath limit [°C].
        bowls: the two bowls.
        load_w: heat flowing into the bath [W]; a usual 200 W if not known.

    Returns:
        Masses rounded up to 10 g; None where the bath's masses are not known.
    """
    left, salt, water = estimate.ice_left_g, estimate.salt_g, estimate.brine_water_g
    if left is None or salt is None or water is None or estimate.bath_c is None:
        return None
    melting_j_g = brine.heat_of_fusion_j_g(max(min(estimate.bath_c, 0.0), -20.0))
    melts = (load_w or _USUAL_LOAD_W) * HOLD_S / melting_j_g
    ice = max((1.0 + SPARE_SHARE) * melts - left, 0.3 * melts)
    room_ml = max(bowls.outer_ml - bowls.inner_ml, 0.0)
    ice = min(ice, _BULK_G_ML * room_ml)
    strength = estimate.brine_pct or 0.0
    density = brine.density_g_ml(strength, max(estimate.bath_c, -21.0))
    taken_ml = left / brine.ICE_DENSITY_G_ML + (water + salt) / density
    too_much_ml = taken_ml + ice / _BULK_G_ML - room_ml
    drain = min(max(too_much_ml, 0.0) * density, 0.9 * (water + salt))
    water_after = water - drain * (1.0 - strength / 100.0) + melts
    salt_after = salt - drain * strength / 100.0
    target = brine.strength_pct(limit_c - BELOW_LIMIT_K)
    needed = max(water_after * target / (100.0 - target) - salt_after, 0.0)
    return Recharge(_up(ice), _up(needed), _up(drain))


def _up(g: float) -> float:
    return 10.0 * float(-(-g // 10.0))


def minutes(seconds: float) -> str:
    """A time to go [s] as a maker says it.

    >>> minutes(50), minutes(340)
    ('less than a minute', '6 min')
    """
    return "less than a minute" if seconds < 60 else f"{seconds / 60:.0f} min"


def degrees(c: float) -> str:
    """A temperature [°C] in a sentence, with a true minus sign.

    >>> degrees(-11.24)
    '−11.2 °C'
    """
    return f"{c:.1f} °C".replace("-", "−")


def stop_beating(estimate: Estimate) -> Cause:
    """Why and how to end the round."""
    share, sd = estimate.frozen_pct, estimate.frozen_pct_sd
    ice = ""
    if share is not None and sd is not None:
        ice = f", with {share:.0f} ± {2 * sd:.0f} % of its water ice"
    return Cause(
        f"Stop beating: the mix has stopped stiffening{ice}. Cover it and rest it in the freezer.",
        {"do": "stop-beating"},
    )


def add_ice_and_salt(
    estimate: Estimate,
    limit_c: float,
    until: Forecast | None,
    bowls: BowlSetup,
) -> Cause:
    """Why and with how much to recharge the bath."""
    bath = "" if estimate.bath_c is None else f" {degrees(estimate.bath_c)}"
    if until is not None and until.p50 is not None:
        early = until.p10 if until.p10 is not None else until.p50
        when = (
            f"The bath{bath} will pass its limit of {degrees(limit_c)} in about "
            f"{minutes(until.p50 - until.at)} ({minutes(early - until.at)} at the earliest)."
        )
    else:
        when = f"The bath{bath} is above its limit of {degrees(limit_c)}."
    load_w = None if estimate.cooling_w is None else estimate.cooling_w + 60.0
    amount = recharge(estimate, limit_c, bowls, load_w)
    if amount is None:
        return Cause(
            f"{when} Add ice up to the level of the mix, with salt; weigh both next time, so that "
            "the amounts can be worked out.",
            {"do": "recharge"},
        )
    advice: dict[str, DetailValue] = {
        "do": "recharge",
        "ice_g": amount.ice_g,
        "salt_g": amount.salt_g,
    }
    first = "Add"
    if amount.drain_g > 0.0:
        advice["drain_g"] = amount.drain_g
        first = f"Pour off {amount.drain_g:.0f} g of brine, then add"
    salt = f" and {amount.salt_g:.0f} g salt" if amount.salt_g else ", no salt"
    return Cause(
        f"{when} {first} {amount.ice_g:.0f} g ice{salt}. Gloves: it is far below 0 °C.", advice
    )
