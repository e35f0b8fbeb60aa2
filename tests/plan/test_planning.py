"""A plan as a whole, and alternatives beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigmon.errors import UsageError
from rigmon.plan.planning import fits, plan
from rigmon.plan.settling import settle
from rigmon.plan.values import Plan, Wish
from rigmon.records import BowlSetup, Recipe, RigSetup, SaltKind


def test_the_same_seed_gives_the_same_plan(custard: Recipe, made: Plan, plain: Plan) -> None:
    """Whatever it is compared with; another seed gives other rigs, but not another batch."""
    assert plain.outlook.plateau_s == made.outlook.plateau_s
    assert np.array_equal(plain.outlook.bath_c.p90, made.outlook.bath_c.p90)
    other = plan(custard, Wish(seed=1))
    assert other.outlook.bath_limit_s != made.outlook.bath_limit_s
    assert other.batch.start == made.batch.start


def test_heat_is_that_of_the_mix_from_its_start_to_minus_five(custard: Recipe, made: Plan) -> None:
    """Its freezing curve says it, and twice the mix takes twice the heat."""
    curve = made.batch.curve
    per_g = curve.enthalpy_j_g(4.0) - curve.enthalpy_j_g(-5.0)
    assert made.heat_kj == pytest.approx(per_g * made.batch.start.mix_g / 1000.0)
    warm = plan(custard, Wish(mix_g=2.0 * made.batch.start.mix_g, mix_c=10.0))
    assert warm.heat_kj > 2.0 * made.heat_kj


def test_alternatives_differ_in_what_is_compared_alone(custard: Recipe, made: Plan) -> None:
    """Ice is not suggested anew, and the salt follows other ice."""
    start = made.batch.start
    for one in made.alternatives:
        other = one.batch.start
        assert other.ice_g == one.value
        assert other.ice_g / other.salt_g == pytest.approx(start.ice_g / start.salt_g, rel=0.02)
        assert replace(other, ice_g=start.ice_g, salt_g=start.salt_g) == start
    warm = plan(custard, Wish(ratio=6.0), compare=("room_c", (15.0, 35.0)))
    assert [one.batch.start.room_c for one in warm.alternatives] == [15.0, 35.0]
    assert {one.batch.start.salt_g for one in warm.alternatives} == {warm.batch.start.salt_g}


def test_an_alternative_like_the_plan_is_the_plan(custard: Recipe, made: Plan) -> None:
    """They are run on the same drawn rigs."""
    (same,) = plan(custard, Wish(), compare=("mix_c", (4.0,))).alternatives
    assert same.outlook.plateau_s == made.outlook.plateau_s
    assert same.outlook.bath_limit_s == made.outlook.bath_limit_s


@pytest.mark.parametrize(
    ("wish", "key"), [(Wish(salt_g=500.0), "ratio"), (Wish(ratio=4.0), "salt_g")]
)
def test_what_is_given_cannot_be_compared_as_well(custard: Recipe, wish: Wish, key: str) -> None:
    """Salt and ratio say the same thing."""
    compare = ("ratio", (4.0,)) if key == "ratio" else ("salt_g", (400.0,))
    with pytest.raises(UsageError, match="cannot be compared"):
        plan(custard, wish, compare=compare)  # type: ignore[arg-type]  # the key is a literal


def test_what_does_not_fit_is_told_in_millilitres(custard: Recipe) -> None:
    """Too much ice spills, and too much mix."""
    bowls = RigSetup(bowls=BowlSetup(inner_ml=1500.0, outer_ml=4000.0))
    for wish in (Wish(mix_g=500.0, ice_g=4000.0), Wish(mix_g=2500.0, ice_g=800.0)):
        found = fits(settle(custard, wish, bowls))
        assert not found.ok
        assert found.spill_ml > 0.0


def test_what_helps_helps(custard: Recipe, made: Plan) -> None:
    """A colder mix is sooner stiff, crushed ice and shade too; a towel spares ice."""
    found = {one.code: one for one in made.helps}
    assert found["crushed-ice"].in_use
    for code in ("mix-colder", "crushed-ice", "shade"):
        assert (found[code].saves_s or 0.0) > 0.0
    assert found["towel"].saves_ice_g > 0.0
    assert "fine-salt" not in found
    rock = plan(custard, Wish(salt_kind=SaltKind.ROCK, mix_c=1.5))
    other = {one.code: one for one in rock.helps}
    assert (other["fine-salt"].saves_s or 0.0) > 0.0
    assert "mix-colder" not in other


def test_a_batch_that_never_stiffens_is_no_error(hopeless: Plan) -> None:
    """What cannot be said is left out."""
    assert hopeless.stiff_pct < 1.0
    assert hopeless.outlook.plateau_s.p10 is None
    assert [one.code for one in hopeless.helps if one.saves_s is not None] == []
