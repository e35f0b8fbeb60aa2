"""What a few hundred drawn rigs make of a batch: when it is ready, stiff, and out of cold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from rigmon.physics.course import Course, bath_limit_s, plateau_s, reached_s, ready_s
from rigmon.physics.numbers import Array
from rigmon.plan.amounts import SPARE_SHARE
from rigmon.plan.courses import HORIZON_S, at
from rigmon.plan.values import Band, Batch, Outlook, Span, span
from rigmon.records import Estimate
from rigmon.records.planning import SaltName
from rigmon.run.bathcases import USUAL_LOAD_W
from rigmon.run.recharging import HOLD_S, LEAK_W, Recharge, recharge

LEAST_SHARE = 0.3
"""Ice is added at least for this share of what will melt: new salt needs ice to work on."""
BAND_STEP_S = 30.0
MELTING_J_G = 310.0
"""Heat that a gram of ice takes up at −10 °C [J/g]; `brine.heat_of_fusion_j_g`."""


def outlook(batch: Batch, ran: Course, stiff_pct: float) -> Outlook:
    """What the rigs of a course make of a batch, within two hours from the pour.

    Args:
        batch: what is planned.
        ran: how it goes for each rig.
        stiff_pct: frozen share whose time is asked for as well [%].
    """
    stiff, given_out = plateau_s(ran, batch.plateau), bath_limit_s(ran, batch.limit_c)
    over = np.minimum(stiff, ran.t_s[-1])
    melted = batch.start.ice_g * (1.0 - batch.start.wet_pct / 100.0) - at(ran, ran.ice_left_g, over)
    plateau, limit = span(stiff), span(given_out)
    when = recharge_s(plateau, limit)
    shown = slice(None, None, max(round(BAND_STEP_S / (ran.t_s[1] - ran.t_s[0])), 1))
    return Outlook(
        ready_s=span(ready_s(ran)),
        plateau_s=plateau,
        as_stiff_s=span(reached_s(ran, stiff_pct)),
        frozen_pct=span(end_pct(batch, ran)),
        bath_limit_s=limit,
        ice_melted_g=span(melted),
        never_cold=float(np.mean(given_out == 0.0)),
        recharge_p=float(np.mean(given_out < stiff)),
        keep_ready=keep_ready(batch, ran, when),
        t_s=ran.t_s[shown],
        bath_c=band(ran.bath_c[shown]),
        mix_c=band(ran.mix_c[shown]),
        frozen_share_pct=band(ran.frozen_pct[shown]),
    )


def end_pct(batch: Batch, ran: Course) -> Array:
    """Frozen share of each rig's mix when it stops stiffening [%], or at the horizon."""
    return at(ran, ran.frozen_pct, np.minimum(plateau_s(ran, batch.plateau), ran.t_s[-1]))


def band(what: Array) -> Band:
    """Quantiles over the rigs."""
    return Band(*np.quantile(what, (0.1, 0.5, 0.9), axis=1))


def recharge_s(plateau: Span, limit: Span) -> float:
    """When a recharge would be given [s]: as the bath gives out, or as the round ends at latest."""
    latest = plateau.p90 if plateau.p90 is not None else HORIZON_S
    gives_out = limit.p50 if limit.p50 is not None else math.inf
    return min(latest, gives_out)


def keep_ready(batch: Batch, ran: Course, when_s: float) -> Recharge:
    """Ice and salt to keep ready for the recharge that would be advised then.

    The middle of the drawn rigs stands for the bath. Of salts other than sodium chloride the amount
    follows the ice by the ratio of the plan.
    """
    start = batch.start
    row = min(int(np.searchsorted(ran.t_s, when_s)), len(ran.t_s) - 1)
    ice_left_g = float(np.median(ran.ice_left_g[row]))
    load_w = float(np.median(ran.cooling_w[row])) + LEAK_W
    melts_g = max(load_w, USUAL_LOAD_W) * HOLD_S / MELTING_J_G
    least_g = LEAST_SHARE * melts_g
    if start.salt is SaltName.SODIUM_CHLORIDE:
        bath = Estimate(
            t=when_s,
            bath_c=float(np.median(ran.bath_c[row])),
            ice_left_g=ice_left_g,
            brine_pct=float(np.median(ran.brine_pct[row])),
            salt_g=start.salt_g,
            brine_water_g=start.ice_g + start.water_g - ice_left_g,
        )
        amount = recharge(bath, batch.limit_c, batch.bowls, load_w, stirred=True)
        if amount is not None and amount.lasts_s > 0.0:
            return replace(amount, ice_g=max(amount.ice_g, _tens_up(least_g)))
    ice_g = _tens_up(max((1.0 + SPARE_SHARE) * melts_g - ice_left_g, least_g))
    return Recharge(ice_g, _tens_up(ice_g * start.salt_g / start.ice_g), 0.0)


def _tens_up(g: float) -> float:
    return 10.0 * math.ceil(g / 10.0)
