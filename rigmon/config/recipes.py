"""Recipes: ingredients with amounts, or a composition in percent."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rigmon.config.faults import Fault, TomlFile, fitted
from rigmon.config.models import CompositionTable, RecipeTable
from rigmon.config.places import KeyPath
from rigmon.config.raw import Raw, table_of, tables_of
from rigmon.config.reading import read_toml
from rigmon.errors import ConfigError
from rigmon.records import Composition, IngredientLine, Measure, Recipe


def load_recipe(path: Path, cup_ml: float = 240.0) -> Recipe:
    """Reads a recipe file.

    Whether an ingredient is in the ingredient table is for others to say; each line carries its
    place in the file for that.

    Args:
        path: the file.
        cup_ml: size of the cup that the recipe means [ml].

    Raises:
        ConfigError: the file cannot be read, or says something that cannot be; lists every fault.
    """
    file = read_toml(path)
    if "rigs" in file.table:
        raise ConfigError(
            f"{file.place(('rigs',))}: this is a configuration, not a recipe; "
            "a recipe has [[ingredient]] or [composition]"
        )
    model, faults = fitted(RecipeTable, file.table)
    between = [*recipe_faults(file.table, ())]
    if faults or between or model is None:
        file.refuse(faults, between)
    return recipe_from(model, file, (), name=path.stem, cup_ml=cup_ml)


def recipe_from(
    model: RecipeTable, file: TomlFile, at: KeyPath, *, name: str, cup_ml: float
) -> Recipe:
    """The recipe that a table without faults holds; `name` is for one that has none."""
    composition = model.composition
    return Recipe(
        name=name if model.name is None else model.name,
        composition=None if composition is None else _composition(composition),
        mass_g=model.mass_g,
        ingredients=tuple(
            IngredientLine(
                name=line.name,
                amount=getattr(line, measure),
                measure=measure,
                where=file.place((*at, "ingredient", index, "name")),
            )
            for index, line in enumerate(model.ingredient)
            for measure in Measure
            if getattr(line, measure) is not None
        ),
        cup_ml=cup_ml,
    )


def recipe_faults(raw: Raw, at: KeyPath) -> Iterator[Fault]:
    """Faults between the keys of a recipe."""
    has_lines, has_shares = bool(raw.get("ingredient")), "composition" in raw
    if has_lines == has_shares:
        yield Fault(
            (*at, "composition") if has_shares else at,
            "found both [[ingredient]] and [composition], keep one of them"
            if has_shares
            else "says nothing of what is in the mix; add an [[ingredient]] for each, "
            "or a [composition] in percent",
        )
    for index, line in tables_of(raw, "ingredient"):
        given = [key for key in ("grams", "ml", "cups", "count") if key in line]
        if len(given) != 1:
            found = f"found {' and '.join(given)}" if given else "no amount"
            yield Fault(
                (*at, "ingredient", index),
                f"{found}, exactly one of grams, ml, cups, count is needed",
            )
    shares = [
        value
        for key, value in table_of(raw, "composition").items()
        if key != "glucose_syrup_de" and isinstance(value, int | float)
    ]
    if not has_shares or not all(0 <= share <= 100 for share in shares):
        return
    total = sum(shares)
    if "water" not in table_of(raw, "composition"):
        if total >= 100:
            yield Fault(
                (*at, "composition"),
                f"adds up to {total:.1f} % without water, it must stay under 100",
            )
    elif abs(total - 100) > 1:
        yield Fault(
            (*at, "composition"),
            f"adds up to {total:.1f} %, it must be 100 within 1; "
            "leave water out and it becomes the rest",
        )


def _composition(model: CompositionTable) -> Composition:
    shares = model.model_dump(exclude_unset=True)
    if "water" not in shares:
        rest = sum(share for name, share in shares.items() if name != "glucose_syrup_de")
        shares["water"] = 100.0 - rest
    return Composition(**shares)
