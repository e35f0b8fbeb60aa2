"""What a recipe's ingredients are made of, and so what the mix is made of."""

from __future__ import annotations

import csv
import dataclasses
import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from types import MappingProxyType

from rigmon.records import Composition, IngredientLine, Measure, Recipe

_SHARES = tuple(f.name for f in dataclasses.fields(Composition) if f.name != "glucose_syrup_de")

WATCHED_ALCOHOL_PCT = 0.5
"""Ethanol in a mix [%] from which it is one to watch; a spoon of extract stays under it."""
WATCHED_FRUIT_PCT = 5.0
"""Fruit in a mix [%] from which it is one to watch; a squeeze of lemon stays under it."""
_DAIRY_MSNF_PCT = 1.0


class Kind(StrEnum):
    """What an ingredient is, where that asks for care of its own."""

    DAIRY = "dairy"
    YOLK = "yolk"
    EGG_WHITE = "egg white"
    FRUIT = "fruit"


class BaseFlag(StrEnum):
    """What a mix has in it that asks for care of its own."""

    CUSTARD = "custard"
    EGG = "egg"
    DAIRY = "dairy"
    FRUIT = "fruit"
    ALCOHOL = "alcohol"


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One row of the ingredient table.

    Args:
        name: its short name.
        aliases: other names that are understood.
        kind: what it is, None for one that needs no watching.
        composition: what it is made of [% by mass]; the shares add up to 100.
        g_per_ml: mass of one ml as it lies in a measure [g], None where the table has none.
        g_per_piece: mass of one piece [g], None where it is not counted in pieces.
        source: the USDA row or where else the composition comes from.
    """

    name: str
    aliases: tuple[str, ...]
    kind: Kind | None
    composition: Composition
    g_per_ml: float | None
    g_per_piece: float | None
    source: str


def _key(name: str) -> str:
    return " ".join(name.casefold().split())


def _number(text: str) -> float | None:
    return float(text) if text else None


def _source(row: Mapping[str, str]) -> str:
    usda = f"USDA SR26, NDB {row['ndb_no']}" if row["ndb_no"] else ""
    return "; ".join(part for part in (usda, row["note"]) if part)


@cache
def _table() -> Mapping[str, Ingredient]:
    """Every ingredient under its name and each of its aliases."""
    text = resources.files("rigmon.physics").joinpath("ingredients.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    table: dict[str, Ingredient] = {}
    for row in rows:
        shares = {name: float(row[name] or 0.0) for name in _SHARES}
        item = Ingredient(
            name=row["name"],
            aliases=tuple(alias for alias in row["aliases"].split("; ") if alias),
            kind=Kind(row["kind"]) if row["kind"] else None,
            composition=Composition(
                **shares, glucose_syrup_de=float(row["glucose_syrup_de"] or 42.0)
            ),
            g_per_ml=_number(row["g_per_ml"]),
            g_per_piece=_number(row["g_per_piece"]),
            source=_source(row),
        )
        for name in (item.name, *item.aliases):
            table[_key(name)] = item
    return MappingProxyType(table)


def ingredients() -> tuple[Ingredient, ...]:
    """Every ingredient that is known, in the table's order.

    >>> len(ingredients())
    84
    """
    return tuple(dict.fromkeys(_table().values()))


def _nearest(key: str) -> list[str]:
    table = _table()
    ranked = sorted(
        table, key=lambda name: difflib.SequenceMatcher(None, key, name).ratio(), reverse=True
    )
    nearest: dict[str, str] = {}
    for name in ranked:
        nearest.setdefault(table[name].name, name)
        if len(nearest) == 3:
            break
    return list(nearest.values())


def lookup(name: str) -> Ingredient:
    """The ingredient of that name or alias; capitals and spaces do not matter.

    Raises:
        ValueError: no such ingredient; the message names the nearest three.

    >>> lookup("Double  cream").name
    'heavy cream'
    >>> lookup("duoble cream")
    Traceback (most recent call last):
    ...
    ValueError: unknown ingredient 'duoble cream'; the nearest are 'double cream', ...
    """
    item = _table().get(_key(name))
    if item is None:
        nearest = ", ".join(repr(near) for near in _nearest(_key(name)))
        raise ValueError(f"unknown ingredient {name!r}; the nearest are {nearest}")
    return item


def grams(line: IngredientLine, cup_ml: float = 240.0) -> float:
    """Mass [g] of one line of a recipe; `cup_ml` [ml] is what its cups hold.

    Raises:
        ValueError: the ingredient is unknown, the amount is none, or the table cannot turn this
            measure into grams. The message begins with the line's place.

    >>> grams(IngredientLine("egg yolk", 3, Measure.COUNT))
    51.0
    """
    place = f"{line.where}: " if line.where else ""
    if not (math.isfinite(line.amount) and line.amount > 0.0):
        raise ValueError(
            f"{place}{line.name!r} has the amount {line.amount:g}; more than 0 is needed"
        )
    try:
        item = lookup(line.name)
    except ValueError as unknown:
        raise ValueError(f"{place}{unknown}") from None
    if line.measure is Measure.GRAMS:
        return line.amount
    if line.measure is Measure.COUNT:
        each, what = item.g_per_piece, "the mass of one piece"
    else:
        each, what = item.g_per_ml, "the mass of a millilitre"
    if each is None:
        raise ValueError(
            f"{place}{line.name!r} is given in {line.measure.value!r}, but {what} is not known; "
            "weigh it and give grams"
        )
    return line.amount * each * (cup_ml if line.measure is Measure.CUPS else 1.0)


def compose(recipe: Recipe) -> Recipe:
    """The recipe with its composition and mass filled in from its ingredient lines.

    A recipe that already has a composition is given back as it is. Nothing is taken off for what
    cooking boils away.

    Raises:
        ValueError: a line cannot be understood (see `grams`), or there is neither a composition
            nor a line.

    >>> sorbet = compose(Recipe("lemon", None, ingredients=(
    ...     IngredientLine("water", 300.0), IngredientLine("sugar", 100.0))))
    >>> sorbet.mass_g, round(sorbet.composition.sucrose, 1)
    (400.0, 24.9)
    """
    if recipe.composition is not None:
        return recipe
    if not recipe.ingredients:
        raise ValueError(
            f"the recipe {recipe.name!r} has neither ingredients nor a composition; give one"
        )
    parts = [
        (grams(line, recipe.cup_ml), lookup(line.name).composition) for line in recipe.ingredients
    ]
    mass_g = sum(g for g, _ in parts)
    shares = {
        name: sum(g * getattr(composition, name) for g, composition in parts) / mass_g
        for name in _SHARES
    }
    syrup_g = [(g * composition.glucose_syrup, composition) for g, composition in parts]
    syrup = sum(g for g, _ in syrup_g)
    de = (
        sum(g * composition.glucose_syrup_de for g, composition in syrup_g) / syrup
        if syrup
        else 42.0
    )
    return dataclasses.replace(
        recipe, composition=Composition(**shares, glucose_syrup_de=de), mass_g=mass_g
    )


def base_kind(recipe: Recipe, composition: Composition) -> frozenset[BaseFlag]:
    """What a mix has in it that asks for care of its own.

    Custard: a line with yolk, for which egg is said too; egg: any egg. Dairy: a line of it, or 1 %
    milk solids not fat. Fruit: lines of it that come to 5 % of the mass. Alcohol: 0.5 % of the mix.
    A recipe that is only a composition shows nothing but dairy and alcohol.

    Args:
        recipe: the recipe with its lines.
        composition: what the mix is made of, as `compose` finds it.

    Raises:
        ValueError: a line cannot be understood (see `grams`).

    >>> ice = compose(Recipe("lemon", None, ingredients=(
    ...     IngredientLine("water", 250.0), IngredientLine("lemon juice", 50.0),
    ...     IngredientLine("egg whites", 1.0, Measure.COUNT), IngredientLine("sugar", 100.0))))
    >>> sorted(flag.value for flag in base_kind(ice, ice.composition))
    ['egg', 'fruit']
    """
    by_kind: dict[Kind | None, float] = {}
    for line in recipe.ingredients:
        kind = lookup(line.name).kind
        by_kind[kind] = by_kind.get(kind, 0.0) + grams(line, recipe.cup_ml)
    fruit_g = by_kind.get(Kind.FRUIT, 0.0)
    found = {
        BaseFlag.CUSTARD: Kind.YOLK in by_kind,
        BaseFlag.EGG: Kind.YOLK in by_kind or Kind.EGG_WHITE in by_kind,
        BaseFlag.DAIRY: Kind.DAIRY in by_kind or composition.msnf >= _DAIRY_MSNF_PCT,
        BaseFlag.FRUIT: 100.0 * fruit_g > WATCHED_FRUIT_PCT * sum(by_kind.values()),
        BaseFlag.ALCOHOL: composition.alcohol >= WATCHED_ALCOHOL_PCT,
    }
    return frozenset(flag for flag, is_in in found.items() if is_in)
