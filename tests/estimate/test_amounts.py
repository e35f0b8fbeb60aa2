"""What went into the bath, as marks and configuration say."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from rigmon.estimate.amounts import Amounts, amounts_of
from rigmon.records import BathSetup, DetailValue, IceKind, Mark, MarkWord, RigSetup

USUAL = RigSetup(bath=BathSetup(ice_g=2600.0, salt_g=650.0, water_g=100.0), scoop_g=70.0)


def said(word: str, detail: Mapping[str, DetailValue], rig: RigSetup = USUAL) -> Amounts:
    """The amounts of a mark."""
    return amounts_of(Mark(0.0, MarkWord(word), detail=detail), rig)


def test_ice_in_is_as_usual_but_for_what_it_names() -> None:
    """The mark overrides the configuration, one amount at a time."""
    amounts = said("ice-in", {"salt_g": 500.0, "ice_c": -8.0, "ice_kind": "cubes", "wet_pct": 5.0})

    assert (amounts.ice_g, amounts.salt_g, amounts.water_g) == (2600.0, 500.0, 100.0)
    assert (amounts.ice_c, amounts.ice_kind, amounts.wet_share) == (-8.0, IceKind.CUBES, 0.05)


def test_ice_in_without_a_usual_bath_is_unknown() -> None:
    """What neither mark nor configuration says is None, and not 0."""
    amounts = said("ice-in", {"salt_g": 500.0}, RigSetup())

    assert (amounts.ice_g, amounts.salt_g) == (None, 500.0)


@pytest.mark.parametrize(
    ("detail", "ice_g", "salt_g"),
    [
        ({"ice_g": 900.0, "salt_g": 200.0}, 900.0, 200.0),
        ({"salt_g": 200.0}, 0.0, 200.0),
        ({"ice_g": 900.0}, 900.0, 0.0),
        ({"drained_g": 400.0}, 0.0, 0.0),
        ({"ice_scoops": 3.0}, 210.0, 0.0),
        ({"note": "a bag"}, None, None),
        ({}, None, None),
    ],
)
def test_a_recharge_that_names_anything_names_all(
    detail: dict[str, DetailValue], ice_g: float | None, salt_g: float | None
) -> None:
    """Amounts that are named are what went in; a bare recharge says only that something did."""
    amounts = said("recharge", detail)

    assert (amounts.ice_g, amounts.salt_g) == (ice_g, salt_g)


@pytest.mark.parametrize("word", ["ice-in", "recharge"])
def test_scoops_that_were_never_weighed_are_unknown_ice(word: str) -> None:
    """Without the grams of a scoop neither 0 nor the usual amount is true."""
    amounts = said(word, {"ice_scoops": 3.0, "salt_g": 100.0}, RigSetup(bath=USUAL.bath))

    assert (amounts.ice_g, amounts.salt_g) == (None, 100.0)
