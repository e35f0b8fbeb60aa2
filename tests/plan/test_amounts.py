"""Ice and salt in grams and in cups."""

from __future__ import annotations

import pytest

from rigmon.physics.brine import bulk_density_g_ml
from rigmon.physics.salts import salt
from rigmon.plan.amounts import measures, usual_ratio
from rigmon.records import SaltName

SODIUM = SaltName.SODIUM_CHLORIDE


def test_cups_differ_by_material_as_bulk_densities_do() -> None:
    """A cup of kosher salt is lighter than one of rock salt, so that more of them are needed."""
    found = {m.material: m for m in measures(2600.0, 650.0, SODIUM, ("cubes", "rock"), 240.0)}
    for one in found.values():
        low, usual, high = bulk_density_g_ml(one.material)
        assert one.cups * 240.0 * usual == pytest.approx(one.g)
        assert one.cups_low * 240.0 * high == pytest.approx(one.g)
        assert one.cups_high * 240.0 * low == pytest.approx(one.g)
    assert found["kosher"].cups > found["rock"].cups > found["fine"].cups
    assert found["cubes"].cups > found["crushed"].cups
    assert {name for name, one in found.items() if one.planned} == {"cubes", "rock"}


def test_a_smaller_cup_needs_more_of_them() -> None:
    """The cup is the maker's own."""
    small, large = (measures(2600.0, 650.0, SODIUM, ("cubes", "rock"), ml) for ml in (200.0, 250.0))
    assert [a.cups / b.cups for a, b in zip(small, large, strict=True)] == pytest.approx([1.25] * 5)


def test_no_cups_are_told_of_a_salt_whose_bulk_is_not_known() -> None:
    """Only the ice is then measured so."""
    found = measures(2600.0, 650.0, SaltName.CALCIUM_CHLORIDE, ("cubes", "rock"), 240.0)
    assert [one.material for one in found] == ["crushed", "cubes"]


@pytest.mark.parametrize("name", list(SaltName))
def test_every_salt_gets_a_ratio_that_holds_its_eutectic(name: SaltName) -> None:
    """At the usual ratio most of the ice, not all, has melted when the bath leaves the eutectic."""
    of, ratio = salt(name), usual_ratio(name)
    # Of 1 g of salt and `ratio` g of ice, the brine when a share of the ice has melted.
    for share, warmer in ((0.75, False), (0.95, True)):
        anhydrous = of.anhydrous_share
        strength = 100.0 * anhydrous / (1.0 + share * ratio)
        assert (of.freezing_c(strength) > of.eutectic_c + 0.01) is warmer
