"""What marks can say at all."""

from __future__ import annotations

import pytest

from rigmon.estimate.amounts import amounts_of
from rigmon.records import Mark, MarkWord, RigSetup
from rigmon.run import marks


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("mix_g", 1.0),
        ("mix_g", 1e9),
        ("ice_g", -5.0),
        ("salt_g", float("nan")),
        ("bath_c", 300.0),
        ("core_c", -200.0),
        ("mixer_w", 1e6),
        ("for_min", 1e9),
    ],
)
def test_figures_that_cannot_be_are_refused_with_what_can(key: str, value: float) -> None:
    """A slip of the finger is answered, not believed."""
    with pytest.raises(ValueError, match=f"{key} is .*; it lies between"):
        marks.check({key: value})


def test_figures_of_a_kitchen_pass() -> None:
    """What a maker says in earnest is not in the way."""
    marks.check({"ice_g": 2600.0, "salt_g": 650.0, "ice_c": -18.0, "mix_g": 900.0, "note": "x"})
    marks.check({"bath_c": -21.0, "mix_c": 85.0, "room_c": 31.0, "tubs": 2.0, "tub_ml": 500.0})


@pytest.mark.parametrize(
    ("text", "detail"),
    [
        ("Bath recharged: 900 g ice, 200 g salt.", {"ice_g": 900.0, "salt_g": 200.0}),
        (
            "Bath recharged: 400 g brine poured off, 210 g ice.",
            {"drained_g": 400.0, "ice_scoops": 3.0},
        ),
        (
            "Bath recharged, amounts unknown: the ice left can no longer be told.",
            {"note": "half a bag"},
        ),
    ],
)
def test_a_recharge_is_answered_with_what_it_came_to(
    text: str, detail: dict[str, float | str]
) -> None:
    """The maker hears at once whether the balance of the bath goes on."""
    mark = Mark(0.0, MarkWord.RECHARGE, detail=detail)

    assert marks.recharged(mark, amounts_of(mark, RigSetup(scoop_g=70.0))) == text


def test_scoops_without_grams_are_answered_with_what_is_missing() -> None:
    """The sentence names what to set, and that the ice left is unknown now."""
    mark = Mark(0.0, MarkWord.RECHARGE, detail={"ice_scoops": 3.0, "salt_g": 150.0})
    text = marks.recharged(mark, amounts_of(mark, RigSetup()))

    assert text.startswith("Bath recharged: 3 scoops of ice, whose grams are not set")
    assert text.endswith("150 g salt: the ice left can no longer be told.")
