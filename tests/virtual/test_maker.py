"""The maker: what is done when, and how alarms change it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigmon.records import DetailValue, Mark, MarkWord
from rigmon.virtual.maker import Maker, Plan, Recharge, Rest

PLAN = Plan(
    {"ice_g": 3000.0, "salt_g": 750.0, "ice_kind": "cubes"},
    {"mix_g": 1000.0, "mix_c": 4.0},
    beat_for_s=900.0,
    spare_ice_g=1000.0,
)


def maker(plan: Plan) -> Maker:
    """A maker with a plan."""
    return Maker(plan, np.random.default_rng(2))


def words(marks: list[Mark]) -> list[str]:
    """The marks' words."""
    return [mark.word.value for mark in marks]


def test_round_1_alone_goes_by_the_clock() -> None:
    """Without an alarm the plan's own times hold."""
    marks = maker(PLAN).step(10_000.0)
    assert words(marks) == ["ice-in", "pour", "beat-start", "beat-stop", "end"]
    assert [mark.t for mark in marks] == [0.0, 180.0, 195.0, 1095.0, 1125.0]
    assert marks[1].detail == {"mix_g": 1000.0, "mix_c": 4.0}


def test_a_whole_batch_goes_on_to_the_end() -> None:
    """Rest, round 2, mix-in, tubs and a day of hardening follow."""
    plan = replace(PLAN, rest=Rest("rig", mix_in_g=50.0), scrapes_s=(300.0, 2000.0))
    assert words(maker(plan).step(200_000.0)) == [
        "ice-in",
        "pour",
        "beat-start",
        "scrape",
        "beat-stop",
        "rest-start",
        "rest-stop",
        "beat-start",
        "beat-stop",
        "mix-in",
        "pack",
        "harden-start",
        "end",
    ]


def test_asking_often_gives_the_same_as_asking_once() -> None:
    """What is done does not depend on when someone looks."""
    plan = replace(PLAN, scrapes_s=(100.0, 200.0))
    often = maker(plan)
    stepped = [mark for t in range(2000) for mark in often.step(float(t))]
    assert stepped == maker(plan).step(1999.0)


def test_the_maker_stops_10_to_20_s_after_hearing_of_the_plateau() -> None:
    """A hand needs its time, and the clock is forgotten."""
    person = maker(PLAN)
    person.step(600.0)
    person.hears("plateau-reached", 600.0)
    (stop,) = (mark for mark in person.step(5000.0) if mark.word is MarkWord.BEAT_STOP)
    assert 610.0 <= stop.t <= 620.0


def test_an_alarm_after_the_fact_changes_nothing() -> None:
    """Nobody stops twice, or later than meant."""
    person = maker(PLAN)
    person.step(1090.0)
    person.hears("plateau-reached", 1090.0)
    person.hears("rest-over", 1090.0)
    assert words(person.step(5000.0)) == ["beat-stop", "end"]


def test_a_recharge_takes_the_advised_grams_once_fetched() -> None:
    """Ice and salt as advised, to ten grams, one or two minutes later."""
    person = maker(PLAN)
    person.step(500.0)
    advice: dict[str, DetailValue] = {
        "do": "recharge",
        "ice_g": 612.0,
        "salt_g": 148.0,
        "drain_g": 203.0,
    }
    person.hears("bath-limit-near", 500.0, advice)
    (recharge,) = person.step(700.0)
    assert 560.0 <= recharge.t <= 620.0
    assert recharge.detail == {
        "ice_g": 610.0,
        "salt_g": 150.0,
        "drained_g": 200.0,
        "ice_kind": "cubes",
    }


def test_no_more_ice_is_added_than_there_is() -> None:
    """The spare ice runs out."""
    person = maker(PLAN)
    person.step(300.0)
    for t in (300.0, 500.0, 700.0):
        person.hears("bath-limit-near", t, {"ice_g": 800.0, "salt_g": 200.0})
    marks = person.step(1000.0)
    assert [mark.detail["ice_g"] for mark in marks] == [800.0, 200.0]


def test_a_planned_recharge_needs_no_alarm() -> None:
    """Makers recharge by eye, too."""
    plan = replace(PLAN, recharge=Recharge(400.0, {"ice_g": 700.0}))
    (recharge,) = (m for m in maker(plan).step(5000.0) if m.word is MarkWord.RECHARGE)
    assert recharge.t == 595.0
    assert recharge.detail == {"ice_g": 700.0}


def test_what_is_forgotten_is_done_and_not_said() -> None:
    """A forgotten mark is not told; a bare one without its amounts."""
    plan = replace(PLAN, forgotten=frozenset({MarkWord.POUR}), bare=frozenset({MarkWord.ICE_IN}))
    person = maker(plan)
    ice_in, pour = person.step(180.0)
    assert pour.detail["mix_g"] == 1000.0
    assert person.says(pour) is None
    assert person.says(ice_in) == Mark(0.0, MarkWord.ICE_IN)


@pytest.mark.parametrize(("t", "speed"), [(0.0, 0.0), (200.0, 0.7), (400.0, 1.0), (1100.0, 0.0)])
def test_beating_begins_slowly(t: float, speed: float) -> None:
    """Low speed at first, then full, and none outside beating."""
    person = maker(replace(PLAN, slow_s=120.0))
    person.step(t)
    assert person.speed(t) == speed
