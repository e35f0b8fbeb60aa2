"""The balance of ice, salt, water and heat of one bath."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.estimate.amounts import Amounts
from rigmon.estimate.bath import Bath, Watts, at_least
from rigmon.estimate.bathahead import BY_TREND, crossing_s, gone_s
from rigmon.physics import brine
from rigmon.records import IceKind

NO_ROOM_C = 0.0
DRY = Amounts(3000.0, 750.0, ice_c=-2.0, wet_share=0.0)


def filled(*amounts: Amounts, room_c: float = 21.0, bath_c: float = -15.0) -> Bath:
    """A bath with amounts in."""
    bath = Bath(IceKind.CRUSHED, room_c)
    for amount in amounts:
        bath.charge(amount, bath_c)
    return bath


def melted_g(bath: Bath, bath_c: float, heat_j: float) -> float:
    """Ice that a heat melts out of a bath that stays at one temperature [g]."""
    before = bath.at(bath_c, 0.1).ice_left_g
    bath.carry_on(100.0, bath_c, bath_c, 0.0, Watts(heat_j / 100.0))
    after = bath.at(bath_c, 0.1).ice_left_g
    assert before is not None
    assert after is not None
    return before - after


def test_heat_melts_ice_by_its_heat_of_fusion() -> None:
    """At one temperature and strength every joule melts ice into brine; salt takes its part too.

    Melting a gram dissolves w/(1 − w) g of salt, which takes up 3 to 10 % of the heat.
    """
    bath = filled(DRY)
    bath.salt_known = False
    by_fusion_g = 60_000.0 / brine.heat_of_fusion_j_g(-10.0)

    assert melted_g(bath, -10.0, 60_000.0) == pytest.approx(by_fusion_g, rel=0.1)
    assert melted_g(bath, -10.0, 60_000.0) < by_fusion_g


def test_a_bath_mixed_without_heat_from_outside_keeps_its_enthalpy() -> None:
    """What melted to cool the rest, worked out here by enthalpy, is what the balance says.

    3 kg of ice and 750 g of salt at 0 °C come to −15 °C: ice, brine of 18.8 % and the bowls have
    given their heat to what has melted and dissolved.
    """
    bath = filled(Amounts(3000.0, 750.0, ice_c=0.0, wet_share=0.0), room_c=NO_ROOM_C)
    bath.salt_known = False
    found = bath.at(-15.0, 0.1)
    assert found.ice_left_g is not None
    w = found.brine_pct
    ice_g, water_g = found.ice_left_g, 3000.0 - found.ice_left_g
    salt_g = water_g * w / (100.0 - w)
    bowls_g = 1200.0
    cooled_j = 15.0 * (
        ice_g * brine.ice_specific_heat_j_gk(-7.5)
        + (water_g + salt_g) * brine.specific_heat_j_gk(w, -15.0)
        + (750.0 - salt_g) * 0.86
        + bowls_g * 0.5
    )
    taken_j = water_g * brine.heat_of_fusion_j_g(0.0) + salt_g * brine.heat_of_solution_j_g(w, 0.0)

    assert taken_j == pytest.approx(cooled_j, rel=0.01)


def test_the_brine_never_holds_more_salt_than_was_put_in() -> None:
    """With little salt a cold bath cannot have melted much, whatever heat is said to be in it."""
    little, unknown = filled(Amounts(3000.0, 200.0)), filled(Amounts(3000.0, 200.0))
    unknown.salt_known = False
    for bath in (little, unknown):
        bath.carry_on(1000.0, -15.0, 21.0, 1.0, Watts(400.0))
    bounded, free = little.at(-15.0, 0.2), unknown.at(-15.0, 0.2)
    assert bounded.ice_left_g is not None
    assert free.ice_left_g is not None
    assert bounded.ice_left_g_sd is not None
    most_brine_g = brine.melt_g(200.0, -15.0)

    assert free.ice_left_g < 3000.0 - 2.0 * most_brine_g
    assert bounded.ice_left_g + 2.0 * bounded.ice_left_g_sd > 3000.0 - most_brine_g


@given(
    st.floats(100.0, 6000.0),
    st.floats(0.0, 2000.0),
    st.floats(-40.0, 30.0),
    st.floats(-2e6, 2e6),
)
def test_ice_left_lies_between_none_and_all(
    ice_g: float, salt_g: float, bath_c: float, heat_j: float
) -> None:
    """Whatever heat is said to have flowed, the figures stay possible and finite."""
    bath = filled(Amounts(ice_g, salt_g, ice_c=-5.0))
    bath.carry_on(100.0, bath_c, 21.0, 1.0, Watts(heat_j / 100.0, 5.0))
    found = bath.at(bath_c, 0.5)
    assert found.ice_left_g is not None
    assert found.ice_left_g_sd is not None

    assert 0.0 <= found.ice_left_g <= ice_g
    assert 0.0 <= found.brine_pct <= brine.EUTECTIC_PCT
    assert found.ice_left_g_sd >= 0.0
    assert math.isfinite(found.ice_left_g_sd)


def test_a_colder_bath_is_a_stronger_brine() -> None:
    """Strength follows the liquidus, a little below the temperature read."""
    bath = filled()
    strengths = [bath.at(c, 0.3).brine_pct for c in (-2.0, -8.0, -14.0, -19.0)]

    assert strengths == sorted(strengths)
    assert strengths[2] == pytest.approx(brine.strength_pct(-14.7), abs=0.2)


def test_a_recharge_adds_and_a_drain_takes_away() -> None:
    """Ice and salt add up; brine poured off takes salt and water by its strength."""
    bath = filled(
        Amounts(3000.0, 750.0, ice_c=0.0, wet_share=0.1),
        Amounts(900.0, 200.0, 50.0, drained_g=500.0, ice_c=0.0, wet_share=0.0),
    )
    drained_salt_g = 5.0 * brine.strength_pct(-15.0)

    assert bath.salt_g == pytest.approx(950.0 - drained_salt_g)
    assert bath.ice_g == pytest.approx(2700.0 + 900.0)
    assert bath.water_g == pytest.approx(300.0 + 50.0 - (500.0 - drained_salt_g))


def test_pouring_brine_off_leaves_the_ice_as_it_was() -> None:
    """The brine carries its own heat away with it."""
    kept, drained = filled(DRY), filled(DRY)
    for bath in (kept, drained):
        bath.salt_known = False
        bath.carry_on(600.0, -14.3, 21.0, 1.0, Watts(150.0))
    drained.charge(Amounts(0.0, 0.0, drained_g=400.0, ice_c=0.0, wet_share=0.0), -15.0)

    assert drained.at(-14.3, 0.1).ice_left_g == pytest.approx(
        kept.at(-14.3, 0.1).ice_left_g, rel=0.01
    )


def test_ice_that_nobody_weighed_is_unknown_from_then_on() -> None:
    """A bare recharge ends what can be said of the ice, and a weighed one does not mend it."""
    bath = filled(DRY)
    assert bath.at(-15.0, 0.3).ice_left_g is not None
    bath.charge(Amounts(None, None), -15.0)
    bath.charge(Amounts(900.0, 200.0), -15.0)
    found = bath.at(-15.0, 0.3)

    assert (found.ice_left_g, found.ice_left_g_sd, found.brine_water_g) == (None, None, None)
    assert found.brine_pct > 15.0


@given(st.floats(-3.0, 3.0), st.floats(0.3, 3.0), st.floats(-3.0, 3.0), st.floats(0.0, 3.0))
def test_a_lower_bound_cuts_a_figure_as_sampling_does(
    mean: float, sd: float, least: float, least_sd: float
) -> None:
    """Moments of the closed form against those of samples that keep the bound."""
    rng = np.random.default_rng(1)
    x = rng.normal(mean, sd, 400_000)
    kept = x[x > rng.normal(least, least_sd, x.size)]
    cut_mean, cut_sd = at_least(mean, sd, least, least_sd)

    assert cut_mean >= mean
    assert cut_sd <= sd
    if kept.size > 20_000:
        assert cut_mean == pytest.approx(kept.mean(), abs=0.03 * sd)
        assert cut_sd == pytest.approx(kept.std(), abs=0.03 * sd)


def test_a_bound_far_above_takes_over() -> None:
    """Where figure and bound contradict each other they are weighed as two measurements are."""
    mean, sd = at_least(0.0, 1.0, 200.0, 1.0)

    assert mean == pytest.approx(100.0, abs=0.1)
    assert sd == pytest.approx(math.sqrt(0.5), rel=0.02)


def test_more_ice_holds_the_bath_longer_and_more_heat_shorter() -> None:
    """Those of the crossing times that follow the ice move the way ice and heat do."""
    normal = np.random.default_rng(0).standard_normal((400, 3))

    def median(ice_g: float, load_w: float) -> float:
        bath = filled(Amounts(ice_g, ice_g / 4.0, ice_c=-2.0, wet_share=0.0))
        times = crossing_s(bath, bath.at(-15.0, 0.3), -15.0, 0.0, -9.0, load_w, normal)
        return float(np.median(times[round(BY_TREND * 400) :]))

    assert median(3000.0, 200.0) > median(1500.0, 200.0) > median(1500.0, 400.0)
    # Twice the heat takes half the time, and less, since it stands the bath higher above its ice.
    assert 2.0 < median(3000.0, 200.0) / median(3000.0, 400.0) < 2.5


def test_an_unweighed_bath_is_judged_by_its_trend() -> None:
    """A kelvin a minute reaches a limit 5 K away in five minutes; a cooling bath never does."""
    normal = np.random.default_rng(0).standard_normal((400, 3))
    bath = filled(Amounts(None, None))
    now = bath.at(-15.0, 0.3)
    warming = crossing_s(bath, now, -15.0, 1.0 / 60.0, -10.0, 200.0, normal)
    cooling = crossing_s(bath, now, -15.0, -1.0 / 60.0, -10.0, 200.0, normal)

    assert np.median(warming) == pytest.approx(300.0, rel=0.05)
    assert np.isinf(cooling).all()


def test_a_limit_that_no_brine_reaches_is_reached_once_the_ice_is_gone() -> None:
    """A limit at 0 °C is crossed with the last ice; it takes finite time all the same."""
    normal = np.random.default_rng(0).standard_normal((100, 3))
    bath = filled(Amounts(1000.0, 250.0, ice_c=0.0, wet_share=0.0))
    now = bath.at(-15.0, 0.3)
    crossing = crossing_s(bath, now, -15.0, 0.0, 0.0, 300.0, normal)[75:]
    gone = gone_s(bath, now, -15.0, 300.0, normal)[75:]

    assert np.isfinite(crossing).all()
    assert np.all(crossing > 0.95 * gone)


def test_little_ice_lets_the_bath_run_away_before_it_is_gone() -> None:
    """Under one load a spent bath of cubes passes its limit sooner than one of crushed ice."""
    normal = np.random.default_rng(0).standard_normal((400, 3))
    medians = []
    for kind in (IceKind.CUBES, IceKind.CRUSHED):
        amounts = Amounts(900.0, 130.0, ice_c=-2.0, wet_share=0.0, ice_kind=kind)
        bath = filled(amounts)
        now = replace(bath.at(-11.0, 0.3), ice_left_g=350.0, ice_left_g_sd=20.0)
        medians.append(
            float(np.median(crossing_s(bath, now, -11.0, 0.0, -8.5, 180.0, normal)[300:]))
        )
    assert medians[0] < 0.9 * medians[1]


def test_ice_is_gone_when_a_twentieth_is_left() -> None:
    """The time told is that of melting all the ice there is, less 5 % of what was put in."""
    bath = filled(Amounts(2000.0, 500.0, ice_c=-2.0, wet_share=0.0))
    now = bath.at(-15.0, 0.3)
    assert now.ice_left_g is not None
    (time_s,) = gone_s(bath, now, -15.0, 250.0, np.zeros((1, 3)))

    melting_j = (now.ice_left_g - 100.0) * brine.heat_of_fusion_j_g(-15.0)
    assert time_s == pytest.approx(melting_j / 250.0)
