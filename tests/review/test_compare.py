"""Two runs held against each other."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from rigmon.errors import UsageError
from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import remember
from rigmon.physics.course import Start
from rigmon.records import Composition, RigSetup
from rigmon.review import comparing
from rigmon.review.asdata import comparison_json
from rigmon.review.comparewords import lines
from rigmon.review.comparing import Comparison, compare
from rigmon.review.told import Told
from rigmon.review.tried import Tried

MIX = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.3)
OTHER = Composition(water=64.0, fat=8.0, msnf=11.0, sucrose=17.0)
START = Start(1000.0, 2600.0, 650.0, mix_c=5.0)
A = Tried(
    "kitchen-1", 1.0, "mix", MIX, START, 20.0, 900.0, 520.0,
    bath_c=-15.0, bath_then_c=-17.0, ice_melted_g=900.0,
)  # fmt: skip
NOTHING = remember([], PRIOR)


@pytest.fixture(autouse=True)
def fewer_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Properties hold with few draws as well."""
    monkeypatch.setattr(comparing, "RIGS", 8)
    monkeypatch.setattr(comparing, "WORLDS", 150)


def held(a: Tried, b: Tried) -> Comparison:
    """A against B, with nothing else known."""
    return compare(a, b, [], NOTHING, RigSetup())


def better(said: Comparison) -> dict[str, float]:
    """What is said of B, by what is measured."""
    return {one.text: one.better for one in said.measures if one.better is not None}


B = replace(
    A,
    run="kitchen-2",
    started_unix=2.0,
    start=replace(START, salt_g=520.0, mix_g=1150.0, mix_c=7.0, room_c=26.0, ice_c=-5.0),
    composition=OTHER,
    recipe="other",
    took_s=960.0,
    freezing_s=500.0,
    bath_then_c=-15.5,
    ice_melted_g=1000.0,
)


def test_which_run_is_called_a_makes_no_difference() -> None:
    """The odds of B against A and of A against B add up to one, for everything measured."""
    one, other = better(held(A, B)), better(held(B, A))

    assert len(one) == 4
    for text, p in one.items():
        assert p + other[text] == pytest.approx(1.0, abs=1e-9)


def test_equal_runs_are_even() -> None:
    """Two runs that went alike give no evidence either way."""
    said = held(A, replace(A, run="kitchen-2", started_unix=2.0))

    assert all(p == pytest.approx(0.5, abs=1e-9) for p in better(said).values())
    assert not said.lines
    assert "no evidence yet" in " ".join(text for _, text in lines(said, Told()))


def test_runs_that_differ_by_the_day_alone_are_even_on_average() -> None:
    """Over many pairs of one setting the odds average a half, and seldom leave "no evidence"."""
    rng = np.random.default_rng(5)
    found = []
    for _ in range(10):
        scatter = 0.14 * rng.standard_normal(2)
        pair = [
            replace(A, run=f"r{i}", started_unix=float(i), took_s=900.0 * math.exp(e))
            for i, e in enumerate(scatter)
        ]
        found.append(better(held(*pair))["from the pour to 20 % of the water frozen"])

    assert np.mean(found) == pytest.approx(0.5, abs=0.2)
    assert np.mean([0.05 < p < 0.95 for p in found]) > 0.9


def test_a_warm_heavy_batch_is_not_blamed_for_its_time() -> None:
    """A run with more and warmer mix is adjusted to less time, line by line, and the lines add."""
    said = held(A, replace(B, composition=MIX, recipe="mix"))
    by_what = {line.what: line for line in said.lines}
    (time,) = (one for one in said.measures if one.goal == "fastest")

    assert set(by_what) == {"mix", "mix at the pour", "room", "ice"}
    assert by_what["mix"].minutes < 0.0
    assert by_what["mix at the pour"].minutes < 0.0
    assert by_what["room"].minutes < 0.0
    assert time.b < time.b_raw
    assert time.a == time.a_raw


def test_a_plain_difference_is_seen() -> None:
    """A run that took half as long again is better with hardly a doubt, and by a minute too."""
    quick = replace(A, run="kitchen-2", started_unix=2.0, took_s=450.0, freezing_s=260.0)
    (time,) = (one for one in held(A, quick).measures if one.goal == "fastest")

    assert time.better is not None
    assert time.by_margin is not None
    assert time.better > 0.9
    assert 0.85 < time.by_margin <= time.better


def test_what_was_weighed_has_no_odds() -> None:
    """Salt and ice are known to the gram; no probability is made up for them."""
    said = held(A, B)
    weighed = {one.text: one for one in said.measures if one.better is None}

    assert set(weighed) == {"ice put in", "salt put in"}
    assert weighed["salt put in"].a - weighed["salt put in"].b == 130.0


def test_the_model_may_veto_what_two_runs_seem_to_show() -> None:
    """Half the salt and yet sooner: two runs are no evidence against the physics."""
    weak = replace(
        A,
        run="kitchen-2",
        started_unix=2.0,
        took_s=780.0,
        bath_c=-12.0,
        start=replace(START, salt_g=325.0),
    )
    said = held(A, weak)
    (time,) = (one for one in said.measures if one.goal == "fastest")

    assert time.better is not None
    assert time.better > 0.5
    assert time.model is not None
    assert time.model < 0.3
    assert comparing.verdict(time.better, time.model) == "no evidence yet"


def test_a_run_is_not_compared_with_itself() -> None:
    """It is refused in a sentence."""
    with pytest.raises(UsageError, match="name two"):
        held(A, A)


def test_scrapes_are_named_where_they_differ() -> None:
    """What the model does not know of stands beside the adjustment."""
    said = held(A, replace(B, scrapes=2))

    assert any("scraped 0 times in A, 2 in B" in what for what in said.not_adjusted)
    assert json.loads(comparison_json(said))["a"] == "kitchen-1"
