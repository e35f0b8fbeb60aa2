"""A plan in words: one screen, in the maker's units."""

from __future__ import annotations

import re

import pytest

from rigmon.plan.page import LABEL, WIDTH, Words, lines, saves
from rigmon.plan.planning import plan
from rigmon.plan.values import Help, Plan, Wish
from rigmon.records import BathSetup, Recipe, RigSetup, SaltName


def text(of: Plan, words: Words | None = None) -> str:
    """A plan as a terminal shows it."""
    return "\n".join(f"{label:{LABEL}}{line}".rstrip() for label, line in lines(of, words))


def test_it_fits_a_screen(plain: Plan, made: Plan) -> None:
    """80 columns; 45 lines where nothing is compared."""
    assert max(map(len, text(made).splitlines())) <= WIDTH
    assert len(list(lines(plain))) <= 45


def test_it_says_things_in_the_order_of_the_evening(made: Plan) -> None:
    """Whether it fits and the amounts come first, cautions last."""
    said = [label for label, _ in lines(made) if label]
    assert said == [
        "Mix", "Fits", "Ice", "Salt", "Cups", "Freezing", "Bath", "Round 1", "Recharge", "Saves",
        "Compare", "Recipe", "Watch", "Take care", "Assumed",
    ]  # fmt: skip


def test_amounts_are_told_in_grams_and_in_cups(made: Plan) -> None:
    """With the range, and for every material that a kitchen has."""
    said, start = text(made), made.batch.start
    assert f"{start.ice_g:.0f} g crushed" in said
    assert f"{start.salt_g:.0f} g fine" in said
    for material in ("crushed", "cubes", "fine", "kosher", "rock"):
        assert re.search(rf"{material} [\d.]+ \([\d.]+–[\d.]+\)", said)


def test_units_are_the_makers(made: Plan) -> None:
    """Fahrenheit and ounces where they are configured."""
    said = text(made, Words("F", "oz"))
    assert "°C off the mix" in said
    assert "oz crushed" in said
    assert f"begins at {made.batch.curve.initial_c * 1.8 + 32.0:.1f} °F" in said
    assert not re.search(r"\d g\b", said.partition("Recipe")[0])


def test_a_hopeless_batch_is_told_in_words(hopeless: Plan) -> None:
    """No figure that is none, and what could be changed."""
    said = text(hopeless)
    assert not re.search(r"\b(nan|inf|None)\b", said)
    assert "more or finer salt, or crushed ice" in " ".join(said.split())
    assert "likely (100 %)" in said


def test_a_salt_that_cannot_get_cold_enough_is_named_as_the_cause(custard: Recipe) -> None:
    """Potassium chloride ends at −10.7 °C, and a mix with much sugar wants a colder bath."""
    rig = RigSetup(bath=BathSetup(limit_c=-14.0))
    said = text(plan(custard, Wish(salt=SaltName.POTASSIUM_CHLORIDE), rig))
    assert "colder than this salt can make it" in " ".join(said.split())


@pytest.mark.parametrize(
    ("saves_s", "says"),
    [(90.0, "towel 1.5"), (-30.0, "towel −0.5"), (11.0, "nothing worth it"), (None, "cannot be")],
)
def test_what_saves_less_than_a_fifth_of_a_minute_is_not_worth_it(
    saves_s: float | None, says: str
) -> None:
    """Signs, and what cannot be told, are told as they are."""
    (line,) = saves([Help("towel", "towel", saves_s, 0.0)], Words())
    assert says in line
