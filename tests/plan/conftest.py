"""Recipes to plan, and one plan that many tests look at."""

from __future__ import annotations

import pytest

from rigmon.physics.ingredients import compose
from rigmon.plan.planning import plan
from rigmon.plan.values import Plan, Wish
from rigmon.records import Composition, IngredientLine, Recipe


@pytest.fixture(scope="session")
def custard() -> Recipe:
    """A custard of some 1.2 kg."""
    lines = {"whole milk": 600.0, "heavy cream": 350.0, "sugar": 160.0, "egg yolk": 80.0}
    parts = tuple(IngredientLine(name, grams) for name, grams in lines.items())
    return compose(Recipe("Plain custard", None, ingredients=parts))


@pytest.fixture(scope="session")
def sorbet() -> Recipe:
    """A declared water ice without a mass."""
    return Recipe("Quince ice", Composition(water=74.0, sucrose=26.0))


@pytest.fixture(scope="session")
def made(custard: Recipe) -> Plan:
    """The custard planned with nothing said, three amounts of ice beside it."""
    return plan(custard, Wish(), compare=("ice_g", (900.0, 1800.0, 3000.0)))


@pytest.fixture(scope="session")
def plain(custard: Recipe) -> Plan:
    """The custard planned with nothing said, and nothing beside it."""
    return plan(custard, Wish())


@pytest.fixture(scope="session")
def hopeless(sorbet: Recipe) -> Plan:
    """A batch in a bath of far too little ice, with hardly any salt."""
    return plan(sorbet, Wish(mix_g=2500.0, ice_g=300.0, salt_g=3.0, mix_c=25.0, room_c=35.0))
