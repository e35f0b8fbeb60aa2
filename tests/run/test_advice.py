"""What to do, in grams and minutes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics import brine
from rigmon.records import BowlSetup, Estimate, Event, Forecast, Slowdown
from rigmon.run import advice
from rigmon.run.advice import HOLD_S, USUAL_LOAD_W, Recharge, recharge
from rigmon.run.alarms import Cause
from rigmon.run.speech import Speech

LIMIT_C = -8.7
WIDE = BowlSetup(inner_ml=4000.0, outer_ml=12_000.0)


def bath(bath_c: float, ice_g: float, salt_g: float) -> Estimate:
    """A bath in which all salt is dissolved in the water that rests with ice at `bath_c`."""
    water_g = brine.melt_g(salt_g, bath_c)
    return Estimate(
        0.0,
        bath_c=bath_c,
        brine_pct=brine.strength_pct(bath_c),
        ice_left_g=ice_g,
        salt_g=salt_g,
        brine_water_g=water_g,
    )


def given_amount(estimate: Estimate, bowls: BowlSetup = WIDE) -> Recharge:
    """The recharge advised for a bath."""
    amount = recharge(estimate, LIMIT_C, bowls)
    assert amount is not None
    return amount


def heat_j(t_c: float, ice_g: float, water_g: float, salt_g: float) -> float:
    """Enthalpy of ice, and of the brine that rests with it [J], against water and salt at 0 °C."""
    w = 100.0 * salt_g / (salt_g + water_g)
    warmed = (water_g + salt_g) * brine.specific_heat_j_gk(w, t_c) * t_c
    dissolved = salt_g * brine.heat_of_solution_j_g(w, 0.0)
    return ice_g * brine.ice_enthalpy_j_g(t_c) + warmed + dissolved


def settled(estimate: Estimate, amount: Recharge, load_w: float) -> tuple[float, float]:
    """Where a bath stands twenty minutes after a recharge: temperature [°C] and ice [g].

    Brine is drained, ice at −2 °C and salt at 20 °C go in, the load flows; then ice and brine rest
    together at the temperature that closes the enthalpy balance, found by bisection.
    """
    assert estimate.ice_left_g is not None
    assert estimate.salt_g is not None
    assert estimate.brine_water_g is not None
    assert estimate.bath_c is not None
    brine_g = estimate.salt_g + estimate.brine_water_g
    kept = 1.0 - amount.drain_g / brine_g
    salt_g = estimate.salt_g * kept + amount.salt_g
    water_g = estimate.brine_water_g * kept
    total_j = (
        heat_j(estimate.bath_c, estimate.ice_left_g, water_g, estimate.salt_g * kept)
        + amount.ice_g * brine.ice_enthalpy_j_g(-2.0)
        + amount.salt_g * 0.86 * 20.0
        + load_w * HOLD_S
    )
    all_g = water_g + estimate.ice_left_g + amount.ice_g
    cold_c, warm_c = -21.0, -0.5
    for _ in range(60):
        t_c = 0.5 * (cold_c + warm_c)
        in_brine_g = min(brine.melt_g(salt_g, t_c), all_g)
        if heat_j(t_c, all_g - in_brine_g, in_brine_g, salt_g) > total_j:
            warm_c = t_c
        else:
            cold_c = t_c
    return t_c, all_g - in_brine_g


BATHS = st.builds(bath, st.floats(-16.0, -5.0), st.floats(0.0, 3000.0), st.floats(100.0, 900.0))


@given(BATHS, st.floats(2500.0, 12_000.0), st.floats(1000.0, 9000.0))
def test_recharge_advice_never_exceeds_the_bowl(
    estimate: Estimate, outer_ml: float, inner_ml: float
) -> None:
    """Ice, brine and salt fit between the bowls after it, unless they did not fit before.

    The new ice is counted as the heap that it is, the old as what it displaces.
    """
    bowls = BowlSetup(inner_ml=inner_ml, outer_ml=outer_ml)
    amount = given_amount(estimate, bowls)
    assert estimate.ice_left_g is not None
    assert estimate.salt_g is not None
    assert estimate.brine_water_g is not None
    brine_g = estimate.salt_g + estimate.brine_water_g
    density = brine.density_g_ml(estimate.brine_pct or 0.0, estimate.bath_c or 0.0)
    before_ml = estimate.ice_left_g / brine.ICE_DENSITY_G_ML + brine_g / density
    after_ml = before_ml - amount.drain_g / density + amount.ice_g / 0.55

    assert 0.0 <= amount.drain_g <= brine_g
    assert min(amount.ice_g, amount.salt_g) >= 0.0
    assert after_ml <= max(outer_ml - inner_ml, before_ml) + 1e-6


@pytest.mark.parametrize(
    ("bath_c", "ice_g", "salt_g"),
    [(-9.5, 600.0, 500.0), (-11.0, 200.0, 400.0), (-7.0, 900.0, 250.0), (-8.7, 0.0, 600.0)],
)
def test_the_advised_salt_and_ice_bring_the_brine_to_the_strength_aimed_at(
    bath_c: float, ice_g: float, salt_g: float
) -> None:
    """By the enthalpy of ice and brine, twenty minutes later the bath is 2 K under its limit.

    Within 1 K: cooling the brine and dissolving the salt melt a little ice that is not counted.
    And some ice still floats.
    """
    estimate = bath(bath_c, ice_g, salt_g)
    settled_c, left_g = settled(estimate, given_amount(estimate), USUAL_LOAD_W)

    assert settled_c == pytest.approx(LIMIT_C - advice.BELOW_LIMIT_K, abs=1.0)
    assert left_g > 50.0


def test_a_strong_bath_short_of_ice_gets_ice_and_no_salt() -> None:
    """Salt that is there already is not asked for again."""
    amount = given_amount(bath(-15.0, 100.0, 900.0))

    assert amount.ice_g > 500.0
    assert amount.salt_g == 0.0


def test_a_weak_bath_full_of_ice_gets_salt() -> None:
    """Ice without salt does not cool."""
    amount = given_amount(bath(-5.0, 2500.0, 200.0))

    assert amount.salt_g > 150.0
    assert amount.ice_g < 400.0


def test_what_does_not_fit_is_drained_first() -> None:
    """A bowl full of brine gives some up; what is left needs less salt, and comes out the same."""
    full, bowls = bath(-9.0, 300.0, 700.0), BowlSetup(inner_ml=4000.0, outer_ml=8600.0)
    tight, wide = given_amount(full, bowls), given_amount(full)

    assert tight.drain_g > 0.0
    assert wide.drain_g == 0.0
    assert tight.salt_g < wide.salt_g
    assert settled(full, tight, USUAL_LOAD_W)[0] == pytest.approx(
        settled(full, wide, USUAL_LOAD_W)[0], abs=0.3
    )


def test_without_weights_no_grams_are_advised() -> None:
    """The sentence says what to do all the same, and how to do better next time."""
    unknown = Estimate(0.0, bath_c=-9.0, brine_pct=13.0)
    cause = advice.add_ice_and_salt(unknown, LIMIT_C, None, WIDE, Speech())

    assert recharge(unknown, LIMIT_C, WIDE) is None
    assert cause.advice == {"do": "recharge"}
    assert "Weigh both" in cause.text


def crossing(p10: float | None, p50: float | None) -> Forecast:
    """A bath-limit forecast made at 100 s."""
    return Forecast(100.0, Event.BATH_LIMIT, 1, p10, p50, None)


@pytest.mark.parametrize(
    ("until", "begins"),
    [
        (
            crossing(280.0, 460.0),
            "The bath is at −11.2 °C and will pass its limit of −8.7 °C in about 6 min, perhaps",
        ),
        (
            crossing(100.0, 120.0),
            "The bath is at −11.2 °C and will pass its limit of −8.7 °C in about a minute.",
        ),
        (None, "The bath is at −11.2 °C, above its limit of −8.7 °C."),
    ],
)
def test_the_sentence_says_how_long_there_is(until: Forecast | None, begins: str) -> None:
    """It reads well aloud, with one time where both would be the same."""
    cause = advice.add_ice_and_salt(bath(-11.24, 300.0, 400.0), LIMIT_C, until, WIDE, Speech())

    assert cause.text.startswith(begins)
    assert cause.call.startswith(f"Recharge: {cause.advice['ice_g']:.0f} g ice, ")
    assert cause.text.endswith("Gloves: it is far below freezing.")


def stopping(estimate: Estimate, why: Slowdown | None = None) -> Cause:
    """What is said at the plateau."""
    return advice.stop_beating(estimate, why, LIMIT_C, WIDE, Speech())


def test_stopping_says_how_stiff_the_mix_is_if_that_is_known() -> None:
    """With the share where there is one, without where there is none."""
    known = stopping(Estimate(0.0, frozen_pct=31.4, frozen_pct_sd=2.1)).text

    assert known == "The mix has stopped stiffening, with 31 ± 4 % of its water ice."
    assert stopping(Estimate(0.0)).text == "The mix has stopped stiffening."


@pytest.mark.parametrize(
    ("why", "held_by", "words"),
    [
        (Slowdown(0.8, 0.1, 0.1, 0.1, 0.1, 0.1), "bath", "Recharge: "),
        (Slowdown(0.1, 0.8, 0.1, 0.1, 0.1, 0.1), "wall", "scrape"),
        (Slowdown(0.1, 0.1, 0.8, 0.1, 0.1, 0.1), "beater", "slower"),
        (Slowdown(0.1, 0.6, 0.3, 0.1, 0.2, 0.2), None, ""),
    ],
)
def test_stopping_says_what_holds_the_mix_up_if_that_is_sure(
    why: Slowdown, held_by: str | None, words: str
) -> None:
    """One term with more than half of it, a standard deviation off; else the mix has done its all.

    A weak bath comes with the ice and salt that would strengthen it.
    """
    cause = stopping(bath(-7.0, 900.0, 250.0), why)

    assert cause.advice.get("held_by") == held_by
    assert words in cause.text
    assert ("salt_g" in cause.advice) == (held_by == "bath")


def test_amounts_are_in_the_makers_units() -> None:
    """Ounces with cups of the maker's own size, to a quarter, for a maker who has no scales.

    900 g of crushed ice at 0.63 g/ml are 5.7 cups of 250 ml, 180 g of salt at 1.3 g/ml are 0.55.
    """
    amount = Recharge(900.0, 180.0, 0.0)
    cups = Speech(mass_unit="oz", cup_ml=250.0)

    assert advice.added(amount, Speech()) == "Recharge: 900 g ice, 180 g salt"
    assert advice.added(amount, cups) == "Recharge: 32 oz (5¾ cups) ice, 6 oz (½ cup) salt"
    assert advice.added(Recharge(900.0, 0.0, 0.0), Speech()) == "Recharge: 900 g ice, no salt"
