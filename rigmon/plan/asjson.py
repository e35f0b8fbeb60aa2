"""A plan as one JSON object: every number with its unit in its name, null where there is none."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from typing import Any

import numpy as np

from rigmon.physics.mix import FreezingCurve
from rigmon.plan.values import Alternative, Batch, Measure, Outlook, Plan

_COLDEST_C = -20.0
_CURVE_STEP_K = 0.25


def as_json(plan: Plan) -> str:
    """A plan on one line."""
    return json.dumps(_tidy(as_dict(plan)), ensure_ascii=False, allow_nan=False)


def as_dict(plan: Plan) -> dict[str, Any]:
    """A plan as data; times count from the pour."""
    batch, start = plan.batch, plan.batch.start
    return {
        "name": batch.name,
        "mix_g": start.mix_g,
        "mix_c": start.mix_c,
        "room_c": start.room_c,
        "freezing_point_c": batch.curve.initial_c,
        "freezing_curve": curve_points(batch.curve),
        "heat_kj": plan.heat_kj,
        **_amounts(batch),
        "fits": {
            "ok": plan.fit.ok,
            "spill_ml": plan.fit.spill_ml,
            "margin_ml": plan.fit.margin_ml,
            "ice_room_ml": plan.fit.ice_room_ml,
            "ice_heap_ml": plan.fit.ice_heap_ml,
            "brine_ml": plan.fit.brine_ml,
            "brine_below_rim_mm": plan.fit.brine_below_rim_mm,
            "mix_with_air_ml": plan.fit.mix_ml,
            "mix_room_ml": plan.fit.mix_room_ml,
            "most_ice_g": dict(zip(("low", "usual", "high"), plan.ice_fits_g, strict=True)),
        },
        "cup_ml": plan.cup_ml,
        "measures": [_measure(one) for one in plan.measures],
        **_outlook(batch, plan.outlook),
        "stiff_pct": plan.stiff_pct,
        "helps": [asdict(one) for one in plan.helps],
        "findings": [asdict(one) for one in plan.findings],
        "watch": [asdict(one) for one in plan.watch],
        "cautions": [asdict(one) for one in plan.cautions],
        "assumed": list(batch.assumed),
        "compared": plan.compared,
        "alternatives": [_alternative(str(plan.compared), one) for one in plan.alternatives],
    }


def curve_points(curve: FreezingCurve) -> list[list[float]]:
    """Temperatures [°C] from the freezing point down, each with the frozen share [%]."""
    first = math.floor(curve.initial_c / _CURVE_STEP_K) * _CURVE_STEP_K
    colder = np.arange(first, min(_COLDEST_C, first - 1.0) - 1e-9, -_CURVE_STEP_K)
    points = [curve.initial_c, *(float(c) for c in colder if c < curve.initial_c)]
    return [[c, curve.frozen_pct(c)] for c in points]


def _amounts(batch: Batch) -> dict[str, Any]:
    start = batch.start
    return {
        "ice_g": start.ice_g,
        "salt_g": start.salt_g,
        "ratio": start.ice_g / start.salt_g,
        "ice_kind": start.ice_kind.value,
        "salt_kind": start.salt_kind.value,
        "salt": start.salt.value,
        "water_g": start.water_g,
        "needed_ice_g": batch.needed_g,
        "wanted_ice_g": batch.wanted_g,
    }


def _outlook(batch: Batch, looks: Outlook) -> dict[str, Any]:
    return {
        "ready_after_ice_s": asdict(looks.ready_s),
        "pour_after_ice_s": batch.start.wait_s,
        "plateau_s": asdict(looks.plateau_s),
        "as_stiff_s": asdict(looks.as_stiff_s),
        "plateau_frozen_pct": asdict(looks.frozen_pct),
        "bath_limit_c": batch.limit_c,
        "bath_limit_s": asdict(looks.bath_limit_s),
        "ice_melted_g": asdict(looks.ice_melted_g),
        "recharge": {
            "probability": looks.recharge_p,
            "ice_g": looks.keep_ready.ice_g,
            "salt_g": looks.keep_ready.salt_g,
            "drain_g": looks.keep_ready.drain_g,
        },
    }


def _measure(one: Measure) -> dict[str, Any]:
    return {
        "material": one.material,
        "g": one.g,
        "cups": {"low": one.cups_low, "usual": one.cups, "high": one.cups_high},
        "planned": one.planned,
    }


def _alternative(key: str, one: Alternative) -> dict[str, Any]:
    return {
        **_amounts(one.batch),
        key: one.value,
        "fits": {"ok": one.fit.ok, "spill_ml": one.fit.spill_ml},
        **_outlook(one.batch, one.outlook),
    }


def _tidy(value: Any) -> Any:
    """Numbers to six figures, and null where there is none."""
    if isinstance(value, dict):
        return {key: _tidy(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_tidy(inner) for inner in value]
    if isinstance(value, float):
        return float(f"{value:.6g}") if math.isfinite(value) else None
    return value
