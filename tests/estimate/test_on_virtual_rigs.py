"""The estimator held against what is true of twenty rigs that it was not built on.

The virtual rig has two layers of bath, grains that dissolve slowly, ice on the wall, supercooling
and probes with lag and wander; the estimator has none of these.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from rigmon.records import Estimate, Event, Mark, Recipe, RigSetup
from rigmon.run.monitor import Monitor
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.scenario import recipe_of
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.truth import Truth

Followed = list[tuple[Estimate, Truth]]


def spreads_off(
    batches: Iterable[Followed], name: str, true_name: str
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], float]:
    """How many spreads a figure lies off the truth, and how large the spread is at the median."""
    off, sds = [], []
    for batch in batches:
        for estimate, truth in batch:
            value, sd = getattr(estimate, name), getattr(estimate, f"{name}_sd")
            off.append((value - getattr(truth, true_name)) / sd)
            sds.append(sd)
    return np.array(off), float(np.median(sds))


def test_the_ice_left_is_where_it_is_said_to_be(drawn_batches: list[Followed]) -> None:
    """Of twenty rigs' minutes some 80 in 100 lie within 1.28 spreads; the spread is of use."""
    off, sd_g = spreads_off(drawn_batches, "ice_left_g", "ice_left_g")

    assert 0.70 < np.mean(np.abs(off) < 1.28) < 0.97
    assert np.mean(np.abs(off) < 2.5) > 0.97
    assert sd_g < 180.0


def test_the_brine_is_as_strong_as_it_is_said_to_be(drawn_batches: list[Followed]) -> None:
    """The same for its strength, through grains that lie undissolved and a bath in layers."""
    off, sd_pct = spreads_off(drawn_batches, "brine_pct", "brine_pct")

    assert 0.65 < np.mean(np.abs(off) < 1.28) < 0.95
    assert np.mean(np.abs(off) < 2.5) > 0.9
    assert sd_pct < 1.3


def test_the_ice_left_is_told_without_a_recipe(
    follow: Callable[..., Followed],
) -> None:
    """Where nothing is known of the mix its heat is taken wide enough."""
    off, sd_g = spreads_off(
        [follow(seed, 600.0, recipe=False) for seed in range(8)], "ice_left_g", "ice_left_g"
    )

    assert np.mean(np.abs(off) < 2.0) > 0.9
    assert sd_g < 250.0


def test_no_plateau_is_called_before_freezing_begins() -> None:
    """On twelve drawn rigs, no alarm and no past plateau while the mix is still all liquid."""
    for seed in range(12):
        scenario = drawn_scenario(seed)
        session, recipe = VirtualSession(scenario, seed), recipe_of(scenario)
        monitor = Monitor(RigSetup(), recipe)
        pour_s = scenario.plan.pour_s
        assert until_frozen(monitor, session, recipe, pour_s + 900.0) is None, seed


def until_frozen(
    monitor: Monitor, session: VirtualSession, recipe: Recipe, upto_s: float
) -> object:
    """Plays a batch until ice is in the mix; returns a plateau called before then, if any."""
    assert recipe.composition is not None
    t = 0.0
    while t < upto_s:
        t += 20.0
        items = session.items(t)
        if session.truth(t).frozen_pct > 0.0:
            return None
        for item in items:
            for said in monitor.feed(item):
                if getattr(said, "code", None) == "plateau-reached":
                    return said
                called = getattr(said, "event", None) is Event.PLATEAU
                if called and getattr(said, "p90", None) == said.at and not isinstance(item, Mark):
                    return said
    return None
