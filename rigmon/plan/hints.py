"""What to watch for with a base, and what can hurt: each with who says so."""

from __future__ import annotations

from collections.abc import Iterator

from rigmon.physics.ingredients import BaseFlag
from rigmon.plan.values import Batch, Hint
from rigmon.records.planning import SaltName

PRACTICE = "common practice, no source"
FOOD_CODE = "US FDA Food Code 3-501.14"
FIRST = "Your local rules and licensed people come before this."
"""What stands above all cautions."""

_SALTS: dict[SaltName, str] = {
    SaltName.SODIUM_CHLORIDE: "sodium chloride",
    SaltName.POTASSIUM_CHLORIDE: "potassium chloride",
    SaltName.CALCIUM_CHLORIDE: "anhydrous calcium chloride",
    SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE: "calcium chloride hexahydrate",
    SaltName.MAGNESIUM_CHLORIDE_HEXAHYDRATE: "magnesium chloride hexahydrate",
}


def salt_words(salt: SaltName) -> str:
    """A salt as it is called.

    >>> salt_words(SaltName.CALCIUM_CHLORIDE)
    'anhydrous calcium chloride'
    """
    return _SALTS[salt]


def watch_for(batch: Batch, kinds: frozenset[BaseFlag]) -> tuple[Hint, ...]:
    """What to watch for with this base, in the order in which it comes up."""
    return tuple(_watch(batch, kinds))


def _watch(batch: Batch, kinds: frozenset[BaseFlag]) -> Iterator[Hint]:
    if BaseFlag.CUSTARD in kinds:
        yield Hint("cook", "Cook the custard to 82 to 84 °C; above 85 °C it curdles.", PRACTICE)
        yield Hint("cool", "Cool it 57 → 21 °C in 2 h, → 5 °C in 6 h", FOOD_CODE)
    elif BaseFlag.DAIRY in kinds:
        yield Hint("cool", "Stirred unchilled: to 5 °C within 4 h", FOOD_CODE)
    if BaseFlag.DAIRY in kinds:
        yield Hint("age", "Age it 4 h or overnight at 5 °C or below", "H. D. Goff, Guelph")
        yield Hint(
            "butter", "Beat slowly until near freezing: beaten warm, cream turns to butter.",
            PRACTICE,
        )  # fmt: skip
    if BaseFlag.ALCOHOL in kinds:
        yield Hint(
            "alcohol",
            f"Alcohol, {batch.composition.alcohol:.1f} % of the mix: 2 % lowers the freezing point "
            "by 1.7 °C, and beyond 3 to 4 % it may never stiffen here.",
            "own calculation",
        )
    if BaseFlag.FRUIT in kinds or BaseFlag.DAIRY not in kinds:
        yield Hint("water-ice", "Water ices take longer to freeze than creams.", PRACTICE)
        yield Hint(
            "fruit", "Fruit in pieces freezes to ice unless sugared first; fold it in cold.",
            PRACTICE,
        )  # fmt: skip
    yield Hint("wall", "Scrape the wall every 1 to 2 min, with the mixer unplugged.", PRACTICE)


def cautions(salt: SaltName, kinds: frozenset[BaseFlag], told: bool) -> tuple[Hint, ...]:
    """What can hurt, and the authority for each.

    Args:
        salt: which salt is in the bath.
        kinds: what the mix has in it.
        told: whether the recipe names its ingredients, so that an egg would be seen.
    """
    return tuple(_cautions(salt, kinds, told))


def _cautions(salt: SaltName, kinds: frozenset[BaseFlag], told: bool) -> Iterator[Hint]:
    yield Hint(
        "cold",
        "Cold brine and metal freeze skin in seconds: dry, insulated gloves; free a hand that "
        "sticks with lukewarm water",
        "ISO 13732-3",
    )
    yield Hint(
        "mains",
        "Mixer beside salt water: on a residual-current device only; never reach for one that fell "
        "in",
        "IEC 61008, UL 943",
    )
    if BaseFlag.EGG in kinds:
        yield Hint("eggs", "Eggs: cook the base to 71 °C or use pasteurised ones", "US FDA")
    elif not told:
        yield Hint("eggs", "If there is egg in it: cook to 71 °C or pasteurised eggs", "US FDA")
    if salt is SaltName.SODIUM_CHLORIDE:
        yield Hint(
            "salt-grade",
            "Food-grade salt in the bath too; no brine in the mix",
            "21 CFR 172.490",
        )
    else:
        yield Hint(
            "salt-grade",
            f"{sentence(salt_words(salt))} is not for food contact: cover the mix, throw away what "
            "brine has touched",
            "the supplier's safety data sheet",
        )
    if salt is SaltName.CALCIUM_CHLORIDE:
        yield Hint(
            "salt-heats",
            "Anhydrous calcium chloride heats as it dissolves and burns: goggles, gloves, a little "
            "at a time. The hexahydrate cools",
            "the supplier's safety data sheet",
        )
    yield Hint("disposal", "Brine: down a drain with water, not on soil", "US EPA 1988, chloride")
    yield Hint("metal", "Rinse bowls at once, brine pits steel", "Corrosion 57 (2001) 557")


def sentence(text: str) -> str:
    """A text with its first letter a capital, the rest as it stands.

    >>> sentence("anhydrous CaCl2")
    'Anhydrous CaCl2'
    """
    return text[:1].upper() + text[1:]
