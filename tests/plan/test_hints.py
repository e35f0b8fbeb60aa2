"""What to watch for with each base, and cautions that name who says so."""

from __future__ import annotations

from itertools import chain, combinations

import pytest

from rigmon.physics.ingredients import BaseFlag
from rigmon.plan.hints import PRACTICE, cautions, watch_for
from rigmon.plan.settling import settle
from rigmon.plan.values import Wish
from rigmon.records import Recipe, SaltName

KINDS = [
    frozenset(chosen)
    for chosen in chain.from_iterable(combinations(BaseFlag, n) for n in range(len(BaseFlag) + 1))
]
SODIUM = SaltName.SODIUM_CHLORIDE


@pytest.mark.parametrize("name", list(SaltName))
def test_every_caution_names_its_authority(name: SaltName) -> None:
    """None rests on practice alone, whatever is in the mix and in the bath."""
    for kinds in KINDS:
        for told in (False, True):
            found = cautions(name, kinds, told)
            assert {"cold", "mains", "salt-grade", "disposal"} <= {one.code for one in found}
            assert [one.code for one in found if not one.basis or one.basis == PRACTICE] == []


def test_eggs_are_warned_of_where_they_are_or_may_be() -> None:
    """A recipe that names its ingredients and has none is left in peace."""

    def warned(kinds: set[BaseFlag], told: bool) -> bool:
        return "eggs" in {one.code for one in cautions(SODIUM, frozenset(kinds), told)}

    assert warned({BaseFlag.EGG}, told=True)
    assert warned({BaseFlag.DAIRY}, told=False)
    assert not warned({BaseFlag.DAIRY}, told=True)


def test_other_salts_are_kept_from_food_and_the_anhydrous_one_burns() -> None:
    """Of the two calcium chlorides only the anhydrous heats."""
    for name in set(SaltName) - {SODIUM}:
        found = {one.code: one.text for one in cautions(name, frozenset(), told=True)}
        assert "not for food contact" in found["salt-grade"]
        assert ("salt-heats" in found) is (name is SaltName.CALCIUM_CHLORIDE)
    usual = {one.code: one.text for one in cautions(SODIUM, frozenset(), told=True)}
    assert usual["salt-grade"].startswith("Food-grade")


def test_each_base_has_its_own_watchpoints(custard: Recipe) -> None:
    """Custard is cooked and cooled in two stages; alcohol and fruit are named."""
    batch = settle(custard, Wish())

    def codes(*kinds: BaseFlag) -> set[str]:
        return {one.code for one in watch_for(batch, frozenset(kinds))}

    assert {"cook", "cool", "age"} <= codes(BaseFlag.CUSTARD, BaseFlag.EGG, BaseFlag.DAIRY)
    assert "cook" not in codes(BaseFlag.DAIRY)
    assert "alcohol" in codes(BaseFlag.DAIRY, BaseFlag.ALCOHOL)
    assert "fruit" in codes(BaseFlag.FRUIT, BaseFlag.DAIRY)
    assert "water-ice" in codes()
    cooled = {one.code: one for one in watch_for(batch, frozenset({BaseFlag.CUSTARD}))}["cool"]
    assert "21 °C" in cooled.text
    assert "5 °C" in cooled.text
    assert "Food Code" in cooled.basis
