"""What speaks of the bath beside its limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from rigmon.physics import brine
from rigmon.records import Estimate, Event, Forecast, Mark, MarkWord
from rigmon.run.alarms import Cause
from rigmon.run.bathcauses import BathCauses
from rigmon.run.causes import RECHARGE_WORKS_S, Seen
from rigmon.run.stages import Stages

LIMIT_C = -9.0
SHORT, GONE, ROUND_2 = "recharge-short", "ice-gone", "bath-for-round-2"


def run(*words: tuple[float, str, str]) -> Stages:
    """A run poured at 0 s, with more marks if given."""
    stages = Stages()
    for t, word, where in ((0.0, "pour", ""), *words):
        stages.hear(Mark(t, MarkWord(word), detail={"where": where} if where else {}))
    return stages


def spoken(
    causes: BathCauses,
    t: float,
    bath_c: float,
    found: Mapping[str, Cause] | None = None,
    bath: Mapping[str, float] | None = None,
) -> Mapping[str, Cause]:
    """What speaks at a time; more may be known of the bath."""
    estimate = replace(Estimate(t, bath_c=bath_c), **(bath or {}))  # type: ignore[arg-type] # by name
    return causes.at(Seen(t, estimate, run(), limit_c=LIMIT_C), found or {})


def recharged(bath_c: float) -> BathCauses:
    """A bath that was recharged at 600 s."""
    causes = BathCauses()
    causes.recharged(600.0, bath_c)
    return causes


@pytest.mark.parametrize(
    ("before_c", "after_c", "short"),
    [(-8.0, -8.3, True), (-8.0, -9.5, False), (-12.0, -11.0, True), (-12.0, -13.0, False)],
)
def test_a_recharge_is_to_bring_the_bath_down(before_c: float, after_c: float, short: bool) -> None:
    """Below its limit if it stood above, and at least not warmer if it stood below."""
    told = spoken(recharged(before_c), 601.0 + RECHARGE_WORKS_S, after_c)

    assert (SHORT in told) == short


def test_a_recharge_has_its_time_and_then_others_speak() -> None:
    """Too early nothing is said; later it is ice and salt that are missing, not stirring."""
    causes, late_s = recharged(-8.0), 600.0 + 2.0 * RECHARGE_WORKS_S

    assert SHORT not in spoken(causes, 599.0 + RECHARGE_WORKS_S, -7.0)
    assert SHORT in spoken(causes, late_s - 1.0, -7.0)
    assert SHORT not in spoken(causes, late_s, -7.0)


def test_a_short_recharge_says_whether_its_salt_lies_undissolved() -> None:
    """Salt beyond what the brine holds at its strength is on the bottom."""
    at_s, held_g = 700.0 + RECHARGE_WORKS_S, 300.0
    brine_pct = brine.strength_pct(-7.0)
    water_g = held_g * (100.0 - brine_pct) / brine_pct
    bath = {"brine_pct": brine_pct, "brine_water_g": water_g}
    caked = spoken(recharged(-8.0), at_s, -7.0, bath=bath | {"salt_g": held_g + 180.0})[SHORT]
    weak = spoken(recharged(-8.0), at_s, -7.0, bath=bath | {"salt_g": held_g + 10.0})[SHORT]

    assert "About 180 g of salt lies undissolved" in caked.text
    assert "too little salt" in weak.text


def test_a_recharge_that_fell_short_is_spoken_of_once() -> None:
    """Who has been asked for more ice and salt is not told to stir; who was told to, goes on so."""
    asked, told = recharged(-8.0), recharged(-8.0)
    at_s, wanted = 601.0 + RECHARGE_WORKS_S, {"bath-limit-near": Cause("")}
    first = spoken(asked, at_s, -8.9, wanted), spoken(told, at_s, -7.0, wanted)
    then = spoken(asked, at_s + 30.0, -7.0, wanted), spoken(told, at_s + 30.0, -7.0, wanted)

    for of_asked, of_told in (first, then):
        assert SHORT not in of_asked
        assert SHORT in of_told


def test_ice_that_ends_is_spoken_of_against_all_put_in() -> None:
    """Under 5 % of ice-in and recharges together, and never where some was not weighed."""
    causes, unweighed = BathCauses(), BathCauses()
    for ice_g in (2000.0, 1000.0):
        causes.filled(ice_g)
    unweighed.filled(2000.0)
    unweighed.filled(None)

    assert GONE not in spoken(causes, 600.0, -15.0, bath={"ice_left_g": 160.0})
    assert GONE in spoken(causes, 601.0, -15.0, bath={"ice_left_g": 140.0})
    assert GONE not in spoken(unweighed, 601.0, -15.0, bath={"ice_left_g": 0.0})
    assert GONE not in spoken(BathCauses(), 601.0, -15.0, bath={"ice_left_g": 0.0})


def test_a_bath_is_spoken_of_once() -> None:
    """Who is told to recharge needs not hear that ice is gone; nor who is told to stop."""
    causes = BathCauses()
    causes.filled(2000.0)

    for code in ("bath-limit-near", "plateau-reached"):
        assert spoken(causes, 600.0, -8.0, {code: Cause("")}, bath={"ice_left_g": 20.0}) == {}


def test_a_bath_that_waits_for_round_2_is_recharged_in_time() -> None:
    """Only with the bowl lifted out, only where it is too warm, and only when round 2 comes."""
    lifted, whole = (run((900.0, "rest-start", where)) for where in ("bowl", "rig"))

    def told(left_s: float, bath_c: float, stages: Stages) -> bool:
        ahead = {Event.REST_OVER: Forecast(1000.0, Event.REST_OVER, 1, None, 1000.0 + left_s)}
        estimate = Estimate(1000.0, bath_c=bath_c)
        seen = Seen(1000.0, estimate, stages, ahead, limit_c=LIMIT_C)
        return ROUND_2 in BathCauses().at(seen, {})

    assert told(600.0, -7.0, lifted)
    assert not told(1800.0, -7.0, lifted)
    assert not told(600.0, -12.0, lifted)
    assert not told(600.0, -7.0, whole)
