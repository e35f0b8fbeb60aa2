"""A plan as data: the keys that others rely on, and never a number that JSON does not know."""

from __future__ import annotations

import json
from typing import Any

import pytest

from rigmon.plan.asjson import as_json
from rigmon.plan.values import Plan


def refuse(word: str) -> None:
    """Stands for a reader that keeps to the standard."""
    raise ValueError(word)


def read(of: Plan) -> dict[str, Any]:
    """A plan as a strict reader takes it."""
    found = json.loads(as_json(of), parse_constant=refuse)
    assert isinstance(found, dict)
    return found


def test_the_keys_that_others_rely_on_are_there(made: Plan) -> None:
    """With the types that they rely on."""
    found = read(made)
    for key in ("freezing_point_c", "heat_kj", "ice_g", "salt_g", "bath_limit_c"):
        assert isinstance(found[key], float)
    assert found["fits"]["ok"] is True
    assert found["fits"]["spill_ml"] == 0.0
    for key in ("plateau_s", "bath_limit_s"):
        assert set(found[key]) == {"p10", "p50", "p90"}
    assert {"code", "text", "value", "unit"} <= set(found["findings"][-1])
    assert {one["material"] for one in found["measures"]} == {
        "crushed", "cubes", "fine", "kosher", "rock",
    }  # fmt: skip
    assert all(one["basis"] for one in found["cautions"])


def test_the_freezing_curve_falls_from_the_freezing_point(made: Plan) -> None:
    """Colder, more ice; from none at the freezing point to most of it at −20 °C."""
    found = read(made)
    temperatures, shares = zip(*found["freezing_curve"], strict=True)
    assert temperatures[0] == found["freezing_point_c"]
    assert shares[0] == 0.0
    assert list(temperatures) == sorted(temperatures, reverse=True)
    assert list(shares) == sorted(shares)
    assert temperatures[-1] == -20.0
    assert shares[-1] > 70.0


def test_what_lies_beyond_the_horizon_is_null(made: Plan, hopeless: Plan) -> None:
    """A bath that lasts over two hours, a mix that never freezes."""
    assert read(made)["bath_limit_s"]["p90"] is None
    assert read(hopeless)["as_stiff_s"] is not None
    assert read(hopeless)["recharge"]["probability"] == 1.0


def test_alternatives_carry_what_sets_them_apart(made: Plan) -> None:
    """Under the name of what is compared."""
    found = read(made)
    assert found["compared"] == "ice_g"
    assert [one["ice_g"] for one in found["alternatives"]] == [900.0, 1800.0, 3000.0]
    assert all(set(one["plateau_s"]) == {"p10", "p50", "p90"} for one in found["alternatives"])


def test_numbers_agree_with_the_plan(made: Plan) -> None:
    """To six figures."""
    found = read(made)
    assert found["heat_kj"] == pytest.approx(made.heat_kj, rel=1e-5)
    assert found["bath_limit_c"] == pytest.approx(made.batch.limit_c, rel=1e-5)
    assert found["plateau_s"]["p50"] == made.outlook.plateau_s.p50
