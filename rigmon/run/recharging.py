"""Ice and salt for a bath that gives out: the least that carry it, by its balance of heat and salt.

What is left in the bath, and what flows into it, is known only within a spread. The amounts are
those that suffice in nine of ten cases drawn from it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics import bath, brine
from rigmon.physics.numbers import Array
from rigmon.records import BowlSetup, Estimate
from rigmon.run.bathcases import (
    ICE_STEP_G,
    METAL_J_K,
    SALT,
    SALT_C,
    Cases,
    Charged,
    Room,
    cases,
    charged,
    like,
    put_in,
)

HOLD_S = 1200.0
"""A recharge is to carry the bath for this long where no plateau is forecast [s] (common practice,
no source)."""
LEAK_W = 60.0
"""Heat into the bath beside that from the mix [W] (own estimate)."""
CONFIDENCE = 0.9
"""Share of the cases in which a recharge is to suffice."""
_SURE, _LIKELY = (0.96, 0.94), (0.75, 0.7)
"""The same by the plain balance, in which all dissolves and mixes at once, and as tried: more, for
the cases are few. Where nothing is so sure, what is likely is better than nothing."""
_MORESALT = (1.0, 1.15, 1.3)
"""Salt is raised so where the bath's own balance says that it was not enough."""
SHORTEST_S = 480.0
"""Salt and ice take nearly so long to work; what lasts no longer is not worth the trouble [s] (own
choice)."""
_DISSOLVES = 0.8
"""Share of the cases in which the salt is to dissolve: the strongest have no need of it."""
SALT_STEP_G = 10.0
"""Salt is rounded up to this [g]; ice to `ICE_STEP_G`."""
_SHORTER = (1.0, 0.75, 0.5, 0.25)
"""Where nothing that fits carries the bath all the way, parts of it are tried."""
_MOST_ABOVE_K = 15.0
_TICK_S, _NEAR_K = 5.0, 0.3
_ALL_G = 1e6
_STRONGEST_PCT = 21.0
"""No recharge makes stronger brine [% by mass]: short of saturation, so that the salt dissolves."""
_PER_WATER = _STRONGEST_PCT / (100.0 - _STRONGEST_PCT)
_COLDEST_C = brine.freezing_c(_STRONGEST_PCT)


@dataclass(frozen=True, slots=True)
class Recharge:
    """Ice and salt to add; none of either where stirring is enough.

    Args:
        ice_g: ice [g].
        salt_g: salt [g].
        drain_g: brine to pour off first so that it fits [g].
        lasts_s: how long it keeps the bath under its limit [s]; 0 where nothing that fits does.
        cold_c: what the bath comes down to [°C]; NaN if that was not worked out.
        cold_s: how soon it is nearly there [s].
        sure: whether it does so in nine of ten cases; else it is likely.
    """

    ice_g: float
    salt_g: float
    drain_g: float
    lasts_s: float = HOLD_S
    cold_c: float = math.nan
    cold_s: float = 0.0
    sure: bool = True


def salt_needed_g(of: Cases, limit_c: float, hold_s: float, ice_g: Array, drain_g: Array) -> Array:
    """Salt with which the bath stands just at its limit when it is over, (n, k) [g].

    Inf where the ice does not last.

    By heat: H(ice − m, water + m, D(m), limit) = H0 + load t + what ice and salt bring, solved for
    m, what melts; D the salt that so much water holds at limit − load / G, as ice and brine part by
    load over the ice's surface, G = k m0 (m/m0)^(2/3).

    Args:
        of: what the bath may be.
        limit_c: bath limit [°C].
        hold_s: how long it is to last [s].
        ice_g: (k,) ice added [g].
        drain_g: (k,) brine poured off first [g].
    """
    start = charged(of, ice_g, drain_g)
    loose = of.caked_g * of.loosened
    goal_j = start.heat_j + of.load_w * hold_s - METAL_J_K * limit_c
    limit = like(start.ice_g, limit_c)
    low, high = np.zeros_like(limit), start.ice_g.copy()
    for _ in range(13):
        m = 0.5 * (low + high)
        holds = _holds_g(of, start, limit_c, m)
        added = np.maximum(holds - start.dissolved_g - loose, 0.0)
        heat_j = bath.enthalpy_j(
            SALT, start.ice_g - m, start.water_g + m, holds, of.caked_g - loose + 0.0 * m, limit
        )
        more = heat_j - added * SALT.solid_j_gk * SALT_C < goal_j
        low, high = np.where(more, m, low), np.where(more, high, m)
    needed = np.maximum(_holds_g(of, start, limit_c, high) - start.dissolved_g - loose, 0.0)
    lasts = (high < 0.995 * start.ice_g) & (limit_c - _above_k(of, start, high) > brine.EUTECTIC_C)
    return np.where(lasts, needed, np.inf)


def _above_k(of: Cases, start: Charged, melts: Array) -> Array:
    left = np.maximum(start.ice_g - melts, 0.0)
    surface_w_k = of.melts_w_k_kg * np.cbrt(start.ice_g * left**2) / 1000.0
    return np.asarray(np.minimum(of.load_w / np.maximum(surface_w_k, 1e-3), _MOST_ABOVE_K))


def _holds_g(of: Cases, start: Charged, limit_c: float, melts: Array) -> Array:
    pct = brine.strength_pct(limit_c - _above_k(of, start, melts))
    return np.asarray((start.water_g + melts) * pct / (100.0 - pct))


def _dissolves(of: Cases, hold_s: float, ice_g: Array, drain_g: Array, salt_g: Array) -> Array:
    """(n, k) whether by the end enough has melted for all of the salt, but what is caked."""
    start = charged(of, ice_g, drain_g)
    all_g = start.dissolved_g + salt_g
    melts = np.maximum(all_g / _PER_WATER - start.water_g, 0.0)
    left = np.maximum(start.ice_g - melts, 0.0)
    cold = like(left, _COLDEST_C)
    cold_j = bath.enthalpy_j(
        SALT, left, start.water_g + melts, all_g, of.caked_g + 0.0 * left, cold
    )
    cold_j = cold_j + METAL_J_K * _COLDEST_C - salt_g * SALT.solid_j_gk * SALT_C
    return np.asarray(
        (melts <= 0.0) | ((melts < start.ice_g) & (cold_j <= start.heat_j + of.load_w * hold_s))
    )


def recharge(
    estimate: Estimate,
    limit_c: float,
    bowls: BowlSetup,
    load_w: float | None = None,
    hold_s: float = HOLD_S,
    *,
    stirred: bool = False,
) -> Recharge | None:
    """The least ice and salt that keep the bath under its limit, in nine of ten cases.

    They fit between the bowls, brine being poured off only for room; all of the salt dissolves.
    None of either where stirring does, for salt lies undissolved. Where nothing that fits lasts all
    the time, what lasts for the greatest part of it. All of it is tried on the bath's own balance.

    Args:
        estimate: the bath now.
        limit_c: bath limit [°C].
        bowls: the two bowls.
        load_w: heat flowing into the bath [W]; a usual 200 W if not known.
        hold_s: how long it is to last [s].
        stirred: it has been stirred already, and what still lies there is not counted on.

    Returns:
        Ice to 50 g, salt to 10 g; None where the bath's masses are not known.
    """
    of = cases(estimate, load_w)
    if of is None:
        return None
    hold_s = max(hold_s, SHORTEST_S)
    if stirred:
        of = replace(of, loosened=np.zeros_like(of.loosened))
    else:
        loosened = replace(of, loosened=np.ones_like(of.loosened))
        nothing = np.zeros(1)
        needs = salt_needed_g(loosened, limit_c, hold_s, nothing, nothing)
        enough = np.mean(needs <= 0.0) >= CONFIDENCE
        amount = Recharge(0.0, 0.0, 0.0, hold_s)
        stirs = tried(loosened, amount, limit_c, _SURE[1]) if enough else None
        if stirs is not None:
            return stirs
    room = Room(estimate, bowls)
    for share in (_SURE, _LIKELY):
        for part in _SHORTER:
            if part * hold_s >= SHORTEST_S:
                found = _least(of, room, limit_c, part * hold_s, share)
                if found is not None:
                    return replace(found, sure=share is _SURE)
    return Recharge(0.0, 0.0, 0.0, 0.0)


def _least(
    of: Cases, room: Room, limit_c: float, hold_s: float, share: tuple[float, float]
) -> Recharge | None:
    """The least by mass that lasts so long in a share of the cases; None where nothing does."""
    aim, least = share
    ice = np.arange(0.0, room.most_ice_g() + ICE_STEP_G, ICE_STEP_G)
    salt_g = np.zeros_like(ice)
    for _ in range(2):
        drain = room.drain_g(ice, salt_g)
        needed = salt_needed_g(of, limit_c, hold_s, ice, np.minimum(drain, _ALL_G))
        enough = _enough(needed, aim)
        lasts = np.isfinite(enough)
        salt_g = np.where(lasts, enough, 0.0)
    for more in _MORESALT:
        more_g = SALT_STEP_G * np.ceil(more * salt_g / SALT_STEP_G)
        drain = room.drain_g(ice, more_g)
        fits = lasts & np.isfinite(drain) & (ice + more_g > 0.0)
        dissolves = np.mean(_dissolves(of, hold_s, ice, np.minimum(drain, _ALL_G), more_g), axis=0)
        fits &= (more_g <= 0.0) | (dissolves >= _DISSOLVES)
        if not fits.any():
            return None
        best = int(np.argmin(np.where(fits, ice + more_g, np.inf)))
        amount = Recharge(float(ice[best]), float(more_g[best]), float(drain[best]), hold_s)
        found = tried(of, amount, limit_c, least)
        if found is not None:
            return found
    return None


def _enough(needed: Array, aim: float) -> Array:
    """(k,) salt that is enough in so large a share of the cases [g]."""
    rank = math.ceil(aim * len(needed)) - 1
    return np.asarray(SALT_STEP_G * np.ceil(np.sort(needed, axis=0)[rank] / SALT_STEP_G))


def tried(of: Cases, amount: Recharge, limit_c: float, least: float) -> Recharge | None:
    """A recharge with what the bath will do; None where that is not what it should.

    It is to be under its limit once it has had its time, and at the end of it, in enough cases.

    Args:
        of: what the bath may be.
        amount: what is added to it, and how long that is to last.
        limit_c: bath limit [°C].
        least: share of the cases in which it is to be so.
    """
    zones, ran = put_in(of, amount.ice_g, amount.salt_g, amount.drain_g), []
    for _ in range(math.ceil(amount.lasts_s / _TICK_S)):
        t_c = zones.temperature_c()
        ran.append(t_c[0])
        zones = zones.after(_TICK_S, t_c, of.load_w[:, 0])
    worked = min(round(SHORTEST_S / _TICK_S), len(ran) - 1)
    under = (ran[worked] < limit_c) & (ran[-1] < limit_c)
    if np.mean(under) < least:
        return None
    middle = np.median(ran[: worked + 1], axis=1)
    near = int(np.argmax(middle <= middle.min() + _NEAR_K))
    return replace(amount, cold_c=float(middle.min()), cold_s=near * _TICK_S)
