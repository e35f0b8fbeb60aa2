"""A recipe file becomes a recipe: ingredients with amounts, or a composition in percent."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigmon.config import load_recipe
from rigmon.errors import ConfigError
from rigmon.records import Composition, IngredientLine, Measure, Recipe

Write = Callable[..., Path]


def test_a_composition_arrives_as_written(write: Write, full_recipe: str) -> None:
    """Every share that is given arrives, the others are 0, nothing is scaled."""
    assert load_recipe(write(full_recipe, "quince.toml"), cup_ml=250) == Recipe(
        "quince, March",
        Composition(
            water=61.5,
            fat=10,
            msnf=9.5,
            sucrose=14,
            glucose_syrup=4,
            glucose_syrup_de=38,
            lactose=0.5,
            stabiliser=0.4,
        ),
        mass_g=900,
        cup_ml=250,
    )


def test_water_left_out_is_the_rest(write: Write) -> None:
    """Without water the composition adds up to 100; the syrup's equivalent is no share."""
    recipe = load_recipe(
        write("[composition]\nfat = 8\nsucrose = 15\nglucose_syrup = 2\nglucose_syrup_de = 60\n")
    )
    assert recipe.composition == Composition(
        water=75, fat=8, sucrose=15, glucose_syrup=2, glucose_syrup_de=60
    )


def test_a_recipe_without_a_name_has_that_of_its_file(write: Write) -> None:
    """The file's name stands in."""
    assert load_recipe(write("[composition]\nfat = 8\n", "plum.toml")).name == "plum"


def test_ingredients_arrive_with_their_place(write: Write) -> None:
    """Each line has its amount, its measure and where it stands, for whoever looks it up."""
    recipe = load_recipe(
        write(
            'name = "quince"\n\n[[ingredient]]\nname = "cream"\ngrams = 300\n\n'
            '[[ingredient]]\nml = 250\nname = "milk"\n'
            '[[ingredient]]\nname = "sugar"\ncups = 0.5\n'
            '[[ingredient]]\nname = "egg yolk"\ncount = 4\n',
            "quince.toml",
        )
    )
    assert recipe == Recipe(
        "quince",
        None,
        ingredients=(
            IngredientLine("cream", 300, Measure.GRAMS, "quince.toml:4 ingredient[0].name"),
            IngredientLine("milk", 250, Measure.MILLILITRES, "quince.toml:9 ingredient[1].name"),
            IngredientLine("sugar", 0.5, Measure.CUPS, "quince.toml:11 ingredient[2].name"),
            IngredientLine("egg yolk", 4, Measure.COUNT, "quince.toml:14 ingredient[3].name"),
        ),
    )


@pytest.mark.parametrize("water", [75.0, 77.0])
def test_a_composition_within_one_percent_of_100_is_taken(write: Write, water: float) -> None:
    """99 and 101 % are what rounding makes of 100."""
    recipe = load_recipe(write(f"[composition]\nwater = {water}\nfat = 8\nsucrose = 16\n"))
    assert recipe.composition == Composition(water=water, fat=8, sucrose=16)


FAULTY = {
    "nothing": (
        'name = "air"\n',
        (
            "recipe.toml:1: says nothing of what is in the mix; add an [[ingredient]] for each, "
            "or a [composition] in percent"
        ),
    ),
    "both": (
        '[[ingredient]]\nname = "cream"\ngrams = 3\n[composition]\nfat = 8\n',
        "recipe.toml:4 composition: found both [[ingredient]] and [composition], keep one of them",
    ),
    "two amounts": (
        '[[ingredient]]\nname = "cream"\ngrams = 300\nml = 300\n',
        (
            "recipe.toml:1 ingredient[0]: found grams and ml, "
            "exactly one of grams, ml, cups, count is needed"
        ),
    ),
    "no amount": (
        '[[ingredient]]\nname = "cream"\n',
        "recipe.toml:1 ingredient[0]: no amount, exactly one of grams, ml, cups, count is needed",
    ),
    "no name": (
        "[[ingredient]]\ngrams = 300\n",
        (
            "recipe.toml:1 ingredient[0].name: missing, add the ingredient's name from the "
            "ingredient table"
        ),
    ),
    "measure misspelt": (
        '[[ingredient]]\nname = "cream"\ngrams = 1\ngram = 1\n',
        "recipe.toml:4 ingredient[0].gram: unknown key, the nearest known one is grams",
    ),
    "too little": (
        "[composition]\nwater = 60\nfat = 8\nsucrose = 15\n",
        (
            "recipe.toml:1 composition: adds up to 83.0 %, it must be 100 within 1; "
            "leave water out and it becomes the rest"
        ),
    ),
    "too much without water": (
        "[composition]\nfat = 60\nsucrose = 50\n",
        "recipe.toml:1 composition: adds up to 110.0 % without water, it must stay under 100",
    ),
    "negative share": (
        "[composition]\nfat = -8\n",
        "recipe.toml:2 composition.fat: found -8, allowed is a number from 0 to 100 %",
    ),
    "mass after the table": (
        "[composition]\nfat = 8\nmass_g = 900\n",
        (
            "recipe.toml:3 composition.mass_g: not known here, it belongs at the top of the file, "
            "above the first line that begins with ["
        ),
    ),
    "a configuration": (
        "[rigs.a]\nroom_c = 20\n",
        (
            "recipe.toml:1 rigs: this is a configuration, not a recipe; "
            "a recipe has [[ingredient]] or [composition]"
        ),
    ),
}


@pytest.mark.parametrize(("text", "says"), FAULTY.values(), ids=FAULTY.keys())
def test_a_faulty_recipe_is_said_in_one_sentence(write: Write, text: str, says: str) -> None:
    """Each faulty recipe gives exactly this one line."""
    with pytest.raises(ConfigError) as raised:
        load_recipe(write(text, "recipe.toml"))
    assert str(raised.value) == says
