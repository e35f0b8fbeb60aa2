"""A batch planned: what was settled, what it comes to, and alternatives beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rigmon.errors import UsageError
from rigmon.estimate.cloud import PRIOR
from rigmon.physics.bowls import Fit, fit, ice_that_fits_g
from rigmon.physics.findings import MOST_AIR_PCT, recipe_findings
from rigmon.physics.ingredients import base_kind
from rigmon.physics.mixheat import density_g_ml, volume_ml
from rigmon.physics.rigparameters import draw_rigs, usual_rig
from rigmon.plan.amounts import measures
from rigmon.plan.courses import courses
from rigmon.plan.helps import changes, helps
from rigmon.plan.hints import cautions, watch_for
from rigmon.plan.outlook import end_pct, outlook
from rigmon.plan.settling import settle
from rigmon.plan.values import Alternative, Batch, Compared, Plan, Wish
from rigmon.records import Recipe, RigPrior, RigSetup

RIGS = 200
"""Rigs that are drawn for the ranges."""
LEAST_PCT = 0.1
"""Frozen share that stands for a mix that does not freeze at all [%]."""
COLD_C = -5.0
"""Where the heat out of the mix is reckoned to [°C]."""


def plan(
    recipe: Recipe,
    wish: Wish,
    rig: RigSetup | None = None,
    compare: tuple[Compared, Sequence[float]] | None = None,
    *,
    prior: RigPrior = PRIOR,
    cup_ml: float = 240.0,
) -> Plan:
    """All that is said of a batch the evening before.

    Args:
        recipe: the mix, composition resolved.
        wish: what the maker said.
        rig: the rig, if it is configured.
        compare: a figure and its values for alternatives, in the order in which they are shown.
        prior: what is believed of the rig.
        cup_ml: what a cup holds [ml].

    Raises:
        UsageError: the mass is not known, or what was said contradicts itself.
    """
    batch = settle(recipe, wish, rig)
    start, curve = batch.start, batch.curve
    beside = () if compare is None else _others(recipe, wish, rig, batch, *compare)
    batches = (batch, *(other for _, other in beside))
    drawn, usual = draw_rigs(RIGS, wish.seed, prior), usual_rig(prior)
    made = changes(start)
    ran = courses(
        curve,
        [
            *((one.start, drawn) for one in batches),
            *((one, usual) for one in (start, *(change.start for change in made))),
        ],
    )
    plain, *changed = ran[len(batches) :]
    stiff_pct = max(float(end_pct(batch, plain)[0]), LEAST_PCT)
    looks = [outlook(one, of, stiff_pct) for one, of in zip(batches, ran, strict=False)]
    kinds = base_kind(recipe, batch.composition)
    return Plan(
        batch=batch,
        fit=fits(batch),
        ice_fits_g=ice_that_fits_g(batch.bowls, start.ice_kind),
        heat_kj=start.mix_g * (curve.enthalpy_j_g(start.mix_c) - curve.enthalpy_j_g(COLD_C)) / 1e3,
        cup_ml=cup_ml,
        measures=measures(
            start.ice_g,
            start.salt_g,
            start.salt,
            (start.ice_kind.value, start.salt_kind.value),
            cup_ml,
        ),
        outlook=looks[0],
        helps=helps(made, plain, changed, stiff_pct),
        findings=recipe_findings(batch.composition, curve, start.mix_g, batch.bowls),
        watch=watch_for(batch, kinds),
        cautions=cautions(start.salt, kinds, bool(recipe.ingredients)),
        stiff_pct=stiff_pct,
        alternatives=tuple(
            Alternative(value, other, fits(other), of)
            for (value, other), of in zip(beside, looks[1:], strict=True)
        ),
        compared=None if compare is None else compare[0],
    )


def fits(batch: Batch) -> Fit:
    """Whether mix with its air, ice and brine stay within the bowls."""
    start = batch.start
    cold_g_ml = density_g_ml(batch.composition, max(batch.curve.initial_c, COLD_C))
    mix_ml = volume_ml(start.mix_g, cold_g_ml, MOST_AIR_PCT)
    return fit(batch.bowls, mix_ml, start.ice_g, start.salt_g, start.water_g, start.ice_kind)


def _others(
    recipe: Recipe,
    wish: Wish,
    rig: RigSetup | None,
    batch: Batch,
    key: Compared,
    figures: Sequence[float],
) -> tuple[tuple[float, Batch], ...]:
    """Batches that differ in one figure.

    Ice and salt stay as the plan has them, but for the one that is compared; with other ice the
    salt follows by the plan's ratio, unless it was given.
    """
    if key == "ratio" and wish.salt_g is not None:
        raise UsageError("Ratios cannot be compared with the salt given: leave --salt-g out")
    if key == "salt_g" and wish.ratio is not None:
        raise UsageError("Salt cannot be compared with the ratio given: leave --ratio out")
    start = batch.start
    settled = replace(wish, ice_g=start.ice_g, salt_g=start.salt_g, ratio=None)
    if key == "ratio":
        settled = replace(settled, salt_g=None)
    elif key == "ice_g" and wish.salt_g is None:
        settled = replace(settled, salt_g=None, ratio=start.ice_g / start.salt_g)
    each: list[dict[str, Any]] = [{key: value} for value in figures]
    return tuple(
        (value, settle(recipe, replace(settled, **change), rig))
        for value, change in zip(figures, each, strict=True)
    )
