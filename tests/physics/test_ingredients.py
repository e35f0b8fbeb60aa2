"""What must hold of the ingredient table and of recipes made from it."""

from __future__ import annotations

import dataclasses

import pytest

from rigmon.physics.ingredients import (
    BaseFlag,
    Ingredient,
    Kind,
    base_kind,
    compose,
    grams,
    ingredients,
    lookup,
)
from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition, IngredientLine, Measure, Recipe

TABLE = ingredients()


def _total(composition: Composition) -> float:
    shares = dataclasses.asdict(composition)
    del shares["glucose_syrup_de"]
    return float(sum(shares.values()))


@pytest.mark.parametrize("item", TABLE, ids=lambda item: item.name)
def test_every_row_adds_up_and_names_its_source(item: Ingredient) -> None:
    """Each ingredient is whole, nothing in it is negative, and it says where it comes from."""
    assert _total(item.composition) == pytest.approx(100.0, abs=0.01)
    assert min(dataclasses.asdict(item.composition).values()) >= 0.0
    assert item.source or item.name == "stabiliser"


def test_no_name_means_two_things() -> None:
    """Every name and alias leads to the row it stands in."""
    for item in TABLE:
        for name in (item.name, *item.aliases):
            assert lookup(name) is item


def test_names_are_found_whatever_their_capitals_and_spaces() -> None:
    """A recipe need not copy the table's spelling of a space."""
    assert lookup("  WHOLE   Milk ") is lookup("milk")


def test_unknown_ingredient_names_the_nearest_three() -> None:
    """A slip of the pen is answered with three known names, the right one first."""
    with pytest.raises(
        ValueError, match=r"'whole mlik'; the nearest are 'whole milk', '.+', '.+'$"
    ):
        lookup("whole mlik")


@pytest.mark.parametrize(
    ("line", "mass_g"),
    [
        (IngredientLine("milk", 500.0), 500.0),
        (IngredientLine("milk", 500.0, Measure.MILLILITRES), 515.0),
        (IngredientLine("milk", 2.0, Measure.CUPS), 2 * 250.0 * 1.03),
        (IngredientLine("egg yolk", 4.0, Measure.COUNT), 68.0),
    ],
)
def test_measures_become_grams(line: IngredientLine, mass_g: float) -> None:
    """Millilitres, cups of a given size and pieces come to the table's mass."""
    assert grams(line, cup_ml=250.0) == pytest.approx(mass_g)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (IngredientLine("mlik", 1.0, where="r.toml: ingredient 2"), "unknown ingredient 'mlik'"),
        (
            IngredientLine("strawberries", 1.0, Measure.CUPS, "r.toml: ingredient 2"),
            "mass of a millilitre is not known; weigh it",
        ),
        (
            IngredientLine("milk", 1.0, Measure.COUNT, "r.toml: ingredient 2"),
            "mass of one piece is not known; weigh it",
        ),
        (IngredientLine("milk", -1.0, where="r.toml: ingredient 2"), "more than 0 is needed"),
        (IngredientLine("milk", float("nan"), where="r.toml: ingredient 2"), "more than 0"),
    ],
)
def test_a_line_that_cannot_be_is_refused_at_its_place(line: IngredientLine, said: str) -> None:
    """The message begins with where the line stands and says what to do."""
    with pytest.raises(ValueError, match=rf"^r\.toml: ingredient 2: .*{said}"):
        compose(Recipe("bad", None, ingredients=(IngredientLine("water", 100.0), line)))


def test_a_recipe_with_a_composition_passes_through() -> None:
    """What the maker declared is not second-guessed."""
    recipe = Recipe("declared", Composition(water=70.0, sucrose=30.0), mass_g=900.0)
    assert compose(recipe) is recipe


def test_a_recipe_with_nothing_is_refused() -> None:
    """No lines and no composition is said so, with what to do."""
    with pytest.raises(ValueError, match="'empty' has neither ingredients nor a composition"):
        compose(Recipe("empty", None))


def test_a_custard_comes_out_as_its_parts() -> None:
    """Mass is the sum of the lines; dairy gives msnf, yolks give fat and solids, sugar sucrose."""
    recipe = compose(
        Recipe(
            "custard",
            None,
            ingredients=(
                IngredientLine("whole milk", 500.0),
                IngredientLine("heavy cream", 500.0),
                IngredientLine("sugar", 180.0),
                IngredientLine("egg yolks", 6.0, Measure.COUNT),
            ),
        )
    )
    mix = recipe.composition
    assert mix is not None
    assert recipe.mass_g == pytest.approx(1282.0)
    assert _total(mix) == pytest.approx(100.0, abs=0.01)
    assert mix.msnf == pytest.approx((500 * 8.60 + 500 * 5.29) / 1282.0, abs=0.01)
    assert mix.sucrose == pytest.approx(180 * 99.8 / 1282.0, abs=0.05)
    assert mix.fat == pytest.approx((500 * 3.27 + 500 * 37.0 + 102 * 26.54) / 1282.0, abs=0.01)
    assert -2.3 < freezing_curve(mix).initial_c < -1.7


def test_syrup_keeps_the_de_of_what_was_poured() -> None:
    """With syrup the mean DE is the syrup's own; without any it stays at the usual 42."""
    lines = (IngredientLine("water", 700.0), IngredientLine("glucose syrup", 300.0))
    mix = compose(Recipe("syrup", None, ingredients=lines)).composition
    assert mix is not None
    assert mix.glucose_syrup == pytest.approx(0.3 * 76.77, abs=0.01)
    assert mix.glucose_syrup_de == pytest.approx(42.0)


def test_milk_from_the_table_freezes_like_milk() -> None:
    """Whole milk from its USDA row freezes at -0.52 to -0.56 °C, as milk does."""
    milk = compose(Recipe("milk", None, ingredients=(IngredientLine("milk", 1000.0),)))
    assert milk.composition is not None
    assert -0.56 < freezing_curve(milk.composition).initial_c < -0.52


def flags(*lines: IngredientLine) -> set[str]:
    """What a recipe of these lines asks care for."""
    recipe = compose(Recipe("base", None, ingredients=lines))
    assert recipe.composition is not None
    return {flag.value for flag in base_kind(recipe, recipe.composition)}


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (IngredientLine("yolks", 4.0, Measure.COUNT), {"custard", "egg"}),
        (IngredientLine("eggs", 2.0, Measure.COUNT), {"custard", "egg"}),
        (IngredientLine("egg white", 1.0, Measure.COUNT), {"egg"}),
        (IngredientLine("whole milk", 300.0), {"dairy"}),
        (IngredientLine("butter", 20.0), {"dairy"}),
        (IngredientLine("raspberries", 300.0), {"fruit"}),
        (IngredientLine("lemon juice", 1.0, Measure.COUNT), set()),
        (IngredientLine("rum", 30.0), {"alcohol"}),
        (IngredientLine("vanilla extract", 5.0), set()),
        (IngredientLine("oat milk", 300.0), set()),
    ],
    ids=lambda value: value.name if isinstance(value, IngredientLine) else "",
)
def test_a_base_is_known_by_its_lines(line: IngredientLine, expected: set[str]) -> None:
    """Eggs, dairy, fruit and alcohol are noticed, a squeeze of lemon or a spoon of extract not."""
    assert flags(IngredientLine("water", 800.0), IngredientLine("sugar", 200.0), line) == expected


def test_a_declared_composition_shows_what_it_can() -> None:
    """Without lines, milk and alcohol still show by their shares."""
    mix = Composition(water=62.0, fat=12.0, msnf=10.0, sucrose=14.0, alcohol=2.0)
    kinds = base_kind(Recipe("declared", mix), mix)
    assert kinds == {BaseFlag.DAIRY, BaseFlag.ALCOHOL}


def test_every_kind_stands_in_the_table() -> None:
    """Each kind that is watched for is carried by some ingredient."""
    assert {item.kind for item in TABLE} == {None, *Kind}
