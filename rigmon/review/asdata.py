"""Suggestions and comparisons as plain data for JSON; the fields are those of the classes."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from rigmon.review.comparing import Comparison, verdict
from rigmon.review.designs import Design
from rigmon.review.judging import Judged
from rigmon.review.suggesting import Suggestion


def suggestion_json(said: Suggestion) -> str:
    """A suggestion as one line of JSON."""
    found: dict[str, Any] = {
        "goal": said.wish.goal,
        "within_s": said.wish.within_s,
        "beyond": said.wish.beyond,
        "same_grain": said.wish.same_grain,
        "target_pct": said.target_pct,
        "verdict": said.verdict,
        "recipe": said.recipe,
        "usual": asdict(said.usual),
        "best": {**_judged(said.best), "runs": said.best_runs},
        "next": None if said.likeliest is None else _judged(said.likeliest),
        "beats": _three(said.beats),
        "margin": _three(said.margin),
        "would_tell": None if said.telling is None else asdict(said.telling),
        "levers": [asdict(one) for one in said.levers],
        "ratio_saves_min": [_three(value) for value in said.ratio_saves_min],
        "scatter_pct": [_three(value) for value in said.scatter_pct],
        "runs": [{**asdict(one), "design": _design(one.design)} for one in said.against],
        "left_out": [asdict(one) for one in said.left_out],
        "extrapolates": said.extrapolates,
    }
    return _line(found)


def comparison_json(said: Comparison) -> str:
    """A comparison as one line of JSON."""
    found = asdict(said)
    found["a_design"], found["b_design"] = _design(said.a_design), _design(said.b_design)
    for one, of in zip(found["measures"], said.measures, strict=True):
        one["verdict"] = None if of.better is None else verdict(of.better, of.model)
    return _line(found)


def _line(found: dict[str, Any]) -> str:
    return json.dumps(found, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _design(design: Design) -> dict[str, Any]:
    return {**asdict(design), "ratio": _three(design.ratio)}


def _judged(one: Judged) -> dict[str, Any]:
    return {
        **_design(one.design),
        "next_s": [round(s, 1) for s in one.next_s],
        "lasts": _three(one.lasts),
        "in_time": _three(one.in_time),
        "reaches": _three(one.reaches),
    }


def _three(value: float) -> float:
    return round(float(value), 3)
