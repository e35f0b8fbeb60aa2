"""Whatever a monitor is fed, it goes on and says what can be written down."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigmon.outlets.jsonlines import as_line
from rigmon.records import (
    Composition,
    Condition,
    DetailValue,
    Fault,
    Item,
    Mark,
    MarkWord,
    Reading,
    Recipe,
    RigSetup,
    Unit,
)
from rigmon.records.marktext import AMOUNTS, CHOICES
from rigmon.run.alarms import RULES
from rigmon.run.monitor import Monitor

STEPS_S = st.one_of(
    st.floats(0.0, 3.0),
    st.floats(-30.0, 300.0),
    st.sampled_from([0.0, 1.0, 5.0, 900.0, 7200.0, 1e5, -1e5, 1e12]),
)
"""Time from one item to the next [s]: seconds mostly, with pauses, late ones and broken clocks."""

TEMPERATURES = st.one_of(
    st.floats(-22.0, 8.0), st.floats(-100.0, 2500.0), st.floats(allow_infinity=False)
)
PROBES = st.sampled_from(["bath", "mix", "mix", "bath_2", "core", "room", "freezer", "wall", "tip"])
FIGURES = st.one_of(st.floats(0.0, 4000.0), st.floats(allow_nan=False, allow_infinity=False))


@st.composite
def details(draw: st.DrawFn) -> dict[str, DetailValue]:
    """Some details of a mark, figures and words as they may come over any border."""
    found: dict[str, DetailValue] = dict(
        draw(st.dictionaries(st.sampled_from(AMOUNTS), FIGURES, max_size=3))
    )
    for key, words in CHOICES.items():
        if draw(st.booleans()):
            found[key] = draw(st.sampled_from(words))
    if draw(st.booleans()):
        found["code"] = draw(st.sampled_from([*RULES, "nonsense"]))
    return found


@st.composite
def sequences(draw: st.DrawFn) -> list[Item]:
    """A run of items with its ups and downs; times are finite."""
    t, items = draw(st.floats(-10.0, 10.0)), list[Item]()
    for kind in draw(st.lists(st.integers(0, 9), min_size=1, max_size=40)):
        t += draw(STEPS_S)
        if kind == 0:
            words = st.sampled_from([*MarkWord, MarkWord.POUR, MarkWord.BEAT_START, MarkWord.UNDO])
            items.append(Mark(t, draw(words), detail=draw(details())))
        elif kind == 1:
            items.append(Condition(t, draw(st.sampled_from(list(RULES))), draw(st.booleans()), "x"))
        elif kind == 2:
            items.append(Reading(t, draw(PROBES), None, fault=draw(st.sampled_from(Fault))))
        else:
            value = draw(TEMPERATURES)
            unit = draw(st.sampled_from([Unit.CELSIUS] * 6 + list(Unit)))
            by = draw(st.sampled_from(["probe", "probe", "hand"]))
            sd_k = draw(st.sampled_from([None, None, 0.0, 0.5]))
            items.append(Reading(t, draw(PROBES), value, unit, by=by, sd_k=sd_k))
        if abs(t) > 1e9:
            t = 0.0
    return items


RECIPES = st.sampled_from(
    [
        None,
        Recipe("cream", Composition(61.7, 12.5, 10.5, 15.0, stabiliser=0.3), 1200.0),
        Recipe("ice", Composition(74.0, sucrose=26.0)),
        Recipe("unresolved", None, 900.0),
    ]
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sequences(), RECIPES)
def test_any_run_is_survived_and_told_in_order(items: list[Item], recipe: Recipe | None) -> None:
    """Nothing raises; times never go back; every word is JSON without NaN."""
    monitor, said = Monitor(RigSetup(), recipe), []
    for item in items:
        said += monitor.feed(item)
    said += monitor.finish()
    times = [one.at for one in said]

    assert times == sorted(times)
    for one in said:
        told = json.loads(as_line(one), parse_constant=pytest.fail)
        assert math.isfinite(told["at"])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sequences(), RECIPES)
def test_any_run_is_said_alike_twice(items: list[Item], recipe: Recipe | None) -> None:
    """The words are a function of what is fed."""
    told = []
    for _ in range(2):
        monitor = Monitor(RigSetup(), recipe, seed=7)
        told.append([as_line(one) for item in items for one in monitor.feed(item)])

    assert told[0] == told[1]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_beaten_mix_with_odd_readings_is_survived(data: st.DataObject) -> None:
    """The same with the estimator at work: poured, some minutes beaten, then anything."""
    recipe = Recipe("cream", Composition(61.7, 12.5, 10.5, 15.0, stabiliser=0.3), 1200.0)
    monitor, said = Monitor(RigSetup(), recipe), []
    amounts = {"ice_g": 3000.0, "salt_g": 750.0}
    said += monitor.feed(Mark(0.0, MarkWord.ICE_IN, detail=amounts))
    said += monitor.feed(Mark(1.0, MarkWord.POUR))
    level_c = data.draw(st.floats(-30.0, 40.0))
    slope = data.draw(st.floats(-0.5, 0.5))
    for t in range(2, 200, data.draw(st.integers(1, 20))):
        said += monitor.feed(Reading(float(t), "bath", level_c - 10.0))
        said += monitor.feed(Reading(float(t), "mix", level_c + slope * t))
    for item in data.draw(sequences()):
        said += monitor.feed(replace(item, t=item.t + 200.0))
    said += monitor.finish()

    assert [one.at for one in said] == sorted(one.at for one in said)
    for one in said:
        json.loads(as_line(one), parse_constant=pytest.fail)
