"""What to do, in grams and minutes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.physics import brine
from rigmon.records import BowlSetup, Estimate, Event, Forecast, Slowdown
from rigmon.run import advice
from rigmon.run.advice import Adviser
from rigmon.run.alarms import Cause
from rigmon.run.recharging import Recharge, recharge
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


def test_without_weights_no_grams_are_advised() -> None:
    """The sentence says what to do all the same, and how to do better next time."""
    unknown = Estimate(0.0, bath_c=-9.0, brine_pct=13.0)
    cause = advice.add_ice_and_salt(unknown, LIMIT_C, None, None, Speech())

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
    amount = Recharge(400.0, 120.0, 0.0, 900.0, -13.2, 240.0)
    cause = advice.add_ice_and_salt(bath(-11.24, 300.0, 400.0), LIMIT_C, until, amount, Speech())

    assert cause.text.startswith(begins)
    assert cause.call == "Recharge: 400 g ice, 120 g salt"
    assert cause.text.endswith(
        "Stirred, it comes down to −13 °C in about 4 min and lasts for at least 15 min."
        " Gloves: it is far below freezing."
    )


def told(estimate: Estimate, amount: Recharge) -> Cause:
    """What is said of a bath above its limit."""
    return advice.add_ice_and_salt(estimate, LIMIT_C, None, amount, Speech())


def test_a_bath_whose_salt_lies_undissolved_is_to_be_stirred() -> None:
    """The call is to stir, and the sentence says how much lies there; nobody needs gloves."""
    dissolved = bath(-7.0, 1500.0, 300.0)
    caked = replace(dissolved, salt_g=480.0)
    cause = told(caked, Recharge(0.0, 0.0, 0.0, 1200.0, -11.0, 180.0))

    assert cause.call == "Stir the bath"
    assert "About 180 g of salt lies undissolved" in cause.text
    assert cause.advice == {"do": "stir-bath"}
    assert "Gloves" not in cause.text


def test_where_nothing_that_fits_helps_the_maker_is_told_so() -> None:
    """No grams are named that would do nothing."""
    cause = told(bath(-6.0, 1500.0, 300.0), Recharge(0.0, 0.0, 0.0, 0.0))

    assert cause.call == "Make up a new bath"
    assert cause.advice == {"do": "remake-bath"}
    assert "No ice and salt that fit" in cause.text


def test_brine_is_poured_off_before_ice_goes_in() -> None:
    """The sentence and the figures say how much."""
    cause = told(bath(-8.0, 1500.0, 300.0), Recharge(500.0, 200.0, 340.0, 1200.0, -11.0, 180.0))

    assert "Pour off 340 g of brine first." in cause.text
    assert cause.advice["drain_g"] == 340.0


def test_a_bath_that_is_cold_still_is_not_said_to_come_down() -> None:
    """What matters of it is how long it lasts."""
    cause = told(bath(-14.0, 100.0, 500.0), Recharge(600.0, 0.0, 0.0, 1200.0, -13.8, 0.0))

    assert "Stirred, it lasts for at least 20 min." in cause.text


@pytest.mark.parametrize(
    ("now", "load_w"),
    [
        (Estimate(0.0, bath_c=-8.7, mix_c=-4.0), None),
        (Estimate(0.0, bath_c=-8.7, cooling_w=100.0), 160.0),
        (Estimate(0.0, bath_c=-12.7, mix_c=-4.0, cooling_w=100.0), 160.0),
        (Estimate(0.0, bath_c=-5.0, mix_c=-4.0, cooling_w=100.0), 310.0),
    ],
)
def test_a_colder_bath_takes_more_heat_from_the_mix(now: Estimate, load_w: float | None) -> None:
    """By the distance of mix and bath, never less than now, and no more than 2.5 times."""
    assert advice.load_after_w(now, LIMIT_C) == load_w


def test_an_advice_stands_while_it_is_weighed_out() -> None:
    """Within a minute the amounts do not change, whatever the readings do; then they do."""
    adviser = Adviser()
    first = adviser.amount(bath(-9.0, 600.0, 400.0), LIMIT_C, WIDE)
    same = adviser.amount(replace(bath(-8.0, 400.0, 400.0), t=50.0), LIMIT_C, WIDE)
    later = adviser.amount(replace(bath(-8.0, 400.0, 400.0), t=70.0), LIMIT_C, WIDE)

    assert first is same
    assert later != first


def test_stirring_is_advised_once() -> None:
    """A bath that stays warm gets ice and salt then; once it got them it may be stirred again."""
    adviser, caked = Adviser(), replace(bath(-7.0, 1500.0, 300.0), salt_g=800.0)

    def stirs(t: float) -> bool:
        amount = adviser.amount(replace(caked, t=t), LIMIT_C, WIDE)
        assert amount is not None
        return advice.stirs(amount)

    assert [stirs(t) for t in (0.0, 120.0, 300.0)] == [True, True, False]
    adviser.forget()
    assert stirs(310.0)


STRONGER = Recharge(300.0, 200.0, 0.0, 1200.0, -12.0, 240.0)


def stopping(
    estimate: Estimate, why: Slowdown | None = None, amount: Recharge | None = STRONGER
) -> Cause:
    """What is said at the plateau."""
    return advice.stop_beating(estimate, why, amount, Speech())


def test_stopping_says_how_stiff_the_mix_is_if_that_is_known() -> None:
    """With the share where there is one, without where there is none."""
    known = stopping(Estimate(0.0, frozen_pct=31.4, frozen_pct_sd=2.1)).text

    assert known == "The mix has stopped stiffening, with 31 ± 4 % of its water ice."
    assert stopping(Estimate(0.0)).text == "The mix has stopped stiffening."


WEAK_BATH = Slowdown(0.8, 0.1, 0.1, 0.1, 0.1, 0.1)
ALL_IT_CAN = "It has done all it can in this bath."


@pytest.mark.parametrize(
    ("why", "held_by", "words"),
    [
        (WEAK_BATH, "bath", "Or: Recharge: 300 g ice, 200 g salt."),
        (Slowdown(0.1, 0.8, 0.1, 0.1, 0.1, 0.1), "wall", "scrape"),
        (Slowdown(0.1, 0.1, 0.8, 0.1, 0.1, 0.1), "beater", "slower"),
        (Slowdown(0.1, 0.6, 0.3, 0.1, 0.2, 0.2), None, ALL_IT_CAN),
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


def test_a_weak_bath_that_nothing_strengthens_is_no_reason_to_beat_on() -> None:
    """Then the mix has done all it can."""
    cause = stopping(bath(-7.0, 900.0, 250.0), WEAK_BATH, Recharge(0.0, 0.0, 0.0, 0.0))

    assert cause.text.endswith(ALL_IT_CAN)
    assert cause.advice == {"do": "stop-beating"}


def test_amounts_are_in_the_makers_units() -> None:
    """Ounces with cups of the maker's own size, to a quarter, for a maker who has no scales.

    900 g of crushed ice at 0.63 g/ml are 5.7 cups of 250 ml, 180 g of salt at 1.3 g/ml are 0.55.
    """
    amount = Recharge(900.0, 180.0, 0.0)
    cups = Speech(mass_unit="oz", cup_ml=250.0)

    assert advice.added(amount, Speech()) == "Recharge: 900 g ice, 180 g salt"
    assert advice.added(amount, cups) == "Recharge: 32 oz (5¾ cups) ice, 6 oz (½ cup) salt"
    assert advice.added(Recharge(900.0, 0.0, 0.0), Speech()) == "Recharge: 900 g ice, no salt"
    assert advice.added(Recharge(0.0, 180.0, 0.0), Speech()) == "Recharge: 180 g salt, no ice"
