"""What was said is taken, then the rig's usual amounts, then a suggestion that owns up to it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.errors import UsageError
from rigmon.physics.bowls import ice_that_fits_g
from rigmon.plan.settling import settle
from rigmon.plan.values import Wish
from rigmon.records import BathSetup, BowlSetup, IceKind, Recipe, RigSetup, SaltKind, SaltName

RIG = RigSetup(
    bath=BathSetup(ice_g=3000.0, salt_g=600.0, ice_kind=IceKind.CUBES, salt_kind=SaltKind.ROCK),
    bowls=BowlSetup(inner_ml=3500.0, outer_ml=9000.0),
    room_c=26.0,
)


def test_with_nothing_said_ice_and_salt_are_suggested(custard: Recipe) -> None:
    """Four of ice to one of salt by mass, to 10 g, with a spare, and both are owned up to."""
    batch = settle(custard, Wish())
    assert batch.needed_g is not None
    assert batch.start.ice_g == batch.wanted_g == pytest.approx(1.15 * batch.needed_g, abs=5.0)
    assert batch.start.salt_g == pytest.approx(batch.start.ice_g / 4.0, abs=5.0)
    assert batch.start.ice_g % 10.0 == batch.start.salt_g % 10.0 == 0.0
    assert "4 of ice to 1 of salt by mass" in batch.assumed
    assert "bowls of 4 l in 9.5 l" in batch.assumed


def test_the_rigs_usual_amounts_go_before_a_suggestion(custard: Recipe) -> None:
    """So do its bowls, its room, its ice and its salt."""
    batch = settle(custard, Wish(), RIG)
    start = batch.start
    assert (start.ice_g, start.salt_g, start.room_c) == (3000.0, 600.0, 26.0)
    assert (start.ice_kind, start.salt_kind) == (IceKind.CUBES, SaltKind.ROCK)
    assert batch.bowls == RIG.bowls
    assert batch.wanted_g is None
    assert not [one for one in batch.assumed if "room" in one or "salt by mass" in one]


def test_what_is_said_goes_before_the_rig(custard: Recipe) -> None:
    """Salt that is not said follows other ice by the rig's ratio, or by the ratio that is said."""
    assert settle(custard, Wish(ice_g=2000.0), RIG).start.salt_g == 400.0
    assert settle(custard, Wish(ratio=6.0), RIG).start.salt_g == 500.0
    said = settle(custard, Wish(salt_g=555.0, room_c=18.0, ice_kind=IceKind.CRUSHED), RIG).start
    assert (said.ice_g, said.salt_g, said.room_c) == (3000.0, 555.0, 18.0)
    assert said.ice_kind is IceKind.CRUSHED


def test_a_suggestion_keeps_to_what_fits(custard: Recipe) -> None:
    """A small outer bowl limits the ice; how much would be wanted is still said."""
    small = BowlSetup(inner_ml=3000.0, outer_ml=6000.0)
    batch = settle(custard, Wish(), RigSetup(bowls=small))
    assert batch.wanted_g is not None
    assert batch.start.ice_g <= ice_that_fits_g(small, batch.start.ice_kind)[1]
    assert batch.start.ice_g < batch.wanted_g
    assert batch.start.salt_g == pytest.approx(batch.start.ice_g / 4.0, abs=5.0)


def test_a_warmer_heavier_mix_is_given_more_ice(custard: Recipe) -> None:
    """Ice is for the batch, not for the bowl."""
    usual = settle(custard, Wish(ratio=10.0)).start.ice_g
    assert settle(custard, Wish(mix_g=1500.0, ratio=10.0)).start.ice_g > usual
    assert settle(custard, Wish(mix_c=50.0, ratio=10.0)).start.ice_g > usual


def test_the_rigs_salt_is_no_amount_of_another_salt(custard: Recipe) -> None:
    """600 g of sodium chloride say nothing of the hexahydrate."""
    other = SaltName.CALCIUM_CHLORIDE_HEXAHYDRATE
    start = settle(custard, Wish(salt=other), RIG).start
    assert start.salt is other
    assert start.salt_g > 3000.0


def test_the_rigs_bath_limit_is_kept(custard: Recipe) -> None:
    """A limit that is configured goes before the one that follows from the mix."""
    rig = RigSetup(bath=BathSetup(limit_c=-12.5))
    assert settle(custard, Wish(), rig).limit_c == -12.5
    assert settle(custard, Wish()).limit_c == pytest.approx(
        settle(custard, Wish()).curve.temperature_c(45.0) - 4.0
    )


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        (Wish(salt_g=500.0, ratio=4.0), "give one of them"),
        (Wish(mix_c=-3.0), "frozen in part"),
    ],
)
def test_what_contradicts_itself_is_refused(custard: Recipe, wish: Wish, says: str) -> None:
    """In one sentence that says what to do."""
    with pytest.raises(UsageError, match=says):
        settle(custard, wish)


def test_a_batch_without_a_mass_is_refused(sorbet: Recipe) -> None:
    """A declared composition may have none, and then the maker must say it."""
    with pytest.raises(UsageError, match="--mix-g"):
        settle(sorbet, Wish())
    assert settle(sorbet, Wish(mix_g=900.0)).start.mix_g == 900.0
    assert settle(replace(sorbet, mass_g=800.0), Wish()).start.mix_g == 800.0
