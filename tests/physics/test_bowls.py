"""What must hold of the two bowls in one another."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics.bowls import (
    bath_level,
    between_ml,
    displaced_ml,
    fit,
    heap_ml,
    ice_that_fits_g,
    level_m,
    mix_that_fits_ml,
    room_for_ice_ml,
)
from rigmon.physics.bowlshapes import depth_m, full_depth_m, inner_bowl, outer_bowl
from rigmon.records import BowlSetup, BowlShape, IceKind

USUAL = BowlSetup()
DEEP = BowlSetup(
    inner_ml=4000.0,
    outer_ml=9500.0,
    inner_shape=BowlShape.FRUSTUM,
    inner_rim_mm=200.0,
    inner_base_mm=140.0,
    outer_shape=BowlShape.FRUSTUM,
    outer_rim_mm=360.0,
    outer_base_mm=300.0,
)
"""An inner bowl of 175 mm in an outer one of 111 mm."""
BOWLS = {"level rims": USUAL, "inner deeper": DEEP}

amounts = st.floats(0.0, 6000.0)


def test_each_bowl_takes_its_own_measures() -> None:
    """Nothing of the inner bowl ends up in the outer one."""
    assert full_depth_m(inner_bowl(DEEP)) == pytest.approx(0.175, abs=1e-3)
    assert full_depth_m(outer_bowl(DEEP)) == pytest.approx(0.111, abs=1e-3)
    tables = BowlSetup(
        1000.0,
        5000.0,
        BowlShape.MEASURED,
        BowlShape.MEASURED,
        inner_table=((40.0, 400.0), (80.0, 1000.0)),
        outer_table=((50.0, 2000.0), (130.0, 5000.0)),
    )
    assert full_depth_m(inner_bowl(tables)) == pytest.approx(0.080)
    assert full_depth_m(outer_bowl(tables)) == pytest.approx(0.130)


def test_with_level_rims_the_room_is_the_difference() -> None:
    """Outer less inner, and no part of the inner bowl is under a level at its own bottom."""
    assert room_for_ice_ml(USUAL) == pytest.approx(9500.0 - 4000.0)
    gap_m = full_depth_m(outer_bowl(USUAL)) - full_depth_m(inner_bowl(USUAL))
    assert displaced_ml(gap_m, USUAL) == pytest.approx(0.0, abs=1e-9)
    assert between_ml(gap_m, USUAL) > 0.0


def test_a_bowl_deeper_than_its_outer_one_stands_out() -> None:
    """Only what is under the outer rim takes room from the ice."""
    inner, outer = inner_bowl(DEEP), outer_bowl(DEEP)
    assert displaced_ml(full_depth_m(outer), DEEP) < 4000.0
    assert 9500.0 - 4000.0 < room_for_ice_ml(DEEP) < 9500.0
    assert depth_m(displaced_ml(full_depth_m(outer), DEEP), inner) == pytest.approx(
        full_depth_m(outer)
    )


def test_a_raised_bowl_leaves_more_room() -> None:
    """Each centimetre that the inner rim stands over the outer one is room for ice."""
    rooms = [room_for_ice_ml(USUAL, raised) for raised in (0.0, 0.01, 0.02, 0.124)]
    assert rooms == sorted(rooms)
    assert room_for_ice_ml(USUAL, full_depth_m(inner_bowl(USUAL))) == pytest.approx(9500.0)


def test_a_bowl_larger_than_its_outer_one_leaves_no_room() -> None:
    """Room for ice is never negative."""
    assert room_for_ice_ml(BowlSetup(inner_ml=5000.0, outer_ml=4000.0)) == 0.0


@pytest.mark.parametrize("bowls", BOWLS.values(), ids=BOWLS.keys())
@given(share=st.floats(0.0, 1.0))
def test_level_undoes_the_volume_between(bowls: BowlSetup, share: float) -> None:
    """A bath stands where the bowls hold just that much between them, and never over the rim."""
    bath = share * room_for_ice_ml(bowls)
    assert between_ml(level_m(bath, bowls), bowls) == pytest.approx(bath, abs=1e-6)
    assert level_m(2.0 * 9500.0, bowls) == pytest.approx(full_depth_m(outer_bowl(bowls)))


def test_dry_ice_and_salt_lie_in_their_own_volumes() -> None:
    """Before anything has melted, the bath is ice, grains and water beside one another."""
    start = bath_level(USUAL, 2000.0, 500.0, 0.0, melted_pct=0.0)
    assert start.bath_ml == pytest.approx(2000.0 / 0.9167 + 500.0 / 2.165)


def test_a_melted_bath_is_brine_of_its_strength() -> None:
    """3 kg ice and 750 g salt end as 3.75 kg of 20 % brine, 1.163 g/ml at -16.5 °C (CoolProp)."""
    assert bath_level(USUAL, 3000.0, 750.0).bath_ml == pytest.approx(3750.0 / 1.163, rel=2e-3)


def test_salt_that_cannot_dissolve_stays_in_the_bath() -> None:
    """More salt than the water takes up raises the level by the volume of its grains."""
    less, more = bath_level(USUAL, 2000.0, 700.0), bath_level(USUAL, 2000.0, 1133.0)
    assert more.bath_ml - less.bath_ml == pytest.approx(433.0 / 2.165)


@given(ice=amounts, salt=amounts, water=amounts)
def test_a_melting_bath_sinks(ice: float, salt: float, water: float) -> None:
    """The level never rises as ice melts and salt dissolves in it."""
    levels = [bath_level(USUAL, ice, salt, water, melted) for melted in (0.0, 25.0, 60.0, 100.0)]
    volumes = [level.bath_ml for level in levels]
    assert all(later <= sooner + 1e-6 for sooner, later in itertools.pairwise(volumes))
    for level in levels:
        assert level.margin_ml == pytest.approx(5500.0 - level.bath_ml)
        assert level.below_rim_mm == pytest.approx(165.5 - 1000.0 * level.level_m, abs=0.05)


def test_salt_lies_in_the_voids_of_the_ice() -> None:
    """A usual share of salt leaves the heap as it is; water beyond the voids swells it."""
    ice = heap_ml(3000.0, 0.0, 0.0, IceKind.CUBES)
    assert ice == pytest.approx(3000.0 / 0.55)
    assert heap_ml(3000.0, 750.0, 300.0, IceKind.CUBES) == ice
    flooded = heap_ml(3000.0, 750.0, 3000.0, IceKind.CUBES)
    assert flooded == pytest.approx(3000.0 / 0.9167 + 750.0 / 2.165 + 3000.0)


@pytest.mark.parametrize("kind", IceKind)
def test_the_ice_that_fits_fits(kind: IceKind) -> None:
    """The usual mass just goes in with its salt; a hundredth more goes over the rim."""
    least, usual, greatest = ice_that_fits_g(USUAL, kind)
    assert least < usual < greatest
    assert fit(USUAL, 1500.0, usual, usual / 4.0, ice_kind=kind).ok
    over = fit(USUAL, 1500.0, 1.01 * usual, usual / 4.0, ice_kind=kind)
    assert not over.ok
    assert over.spill_ml == pytest.approx(0.01 * 5500.0)


def test_a_mix_that_swells_over_the_rim_does_not_fit() -> None:
    """What does not fit of the mix is counted, and with the ice that does not."""
    mix_only = fit(USUAL, 4200.0, 3000.0, 750.0)
    assert not mix_only.ok
    assert (mix_only.spill_ml, mix_only.margin_ml) == pytest.approx((200.0, -200.0))
    both = fit(USUAL, 4200.0, 6000.0, 1500.0)
    assert both.spill_ml == pytest.approx(200.0 + 6000.0 / 0.62 - 5500.0)


def test_a_bath_filled_up_with_water_spills() -> None:
    """Water counts once the voids are full, even where the ice alone would fit."""
    assert fit(USUAL, 1500.0, 3000.0, 750.0, 500.0).ok
    assert not fit(USUAL, 1500.0, 3000.0, 750.0, 2500.0).ok


@given(
    mix=st.floats(0.0, 6000.0),
    ice=amounts,
    salt=amounts,
    water=amounts,
    kind=st.sampled_from(IceKind),
)
def test_nothing_spills_where_a_margin_is_left(
    mix: float, ice: float, salt: float, water: float, kind: IceKind
) -> None:
    """Fit, spill and margin tell one story, and the numbers behind them bear it out."""
    found = fit(USUAL, mix, ice, salt, water, kind)
    assert found.ok == (found.spill_ml == 0.0)
    assert found.ok == (found.margin_ml >= -1e-6)
    assert all(math.isfinite(x) for x in (found.spill_ml, found.margin_ml, found.brine_ml))
    most = max(found.ice_heap_ml, found.brine_ml)
    assert found.margin_ml == pytest.approx(
        min(found.ice_room_ml - most, found.mix_room_ml - found.mix_ml)
    )
    assert found.brine_ml <= found.ice_heap_ml + 1e-6


def test_mix_leaves_room_for_its_air() -> None:
    """With much air the rim is the limit, with little the splashing."""
    assert mix_that_fits_ml(USUAL, 100.0) == pytest.approx(2000.0)
    assert mix_that_fits_ml(USUAL, 15.0) == pytest.approx(4000.0 * 2.0 / 3.0)
    air = np.linspace(0.0, 120.0, 13)
    fits = np.array([mix_that_fits_ml(USUAL, float(a)) for a in air])
    assert np.all(fits * (1.0 + air / 100.0) <= 4000.0 + 1e-6)
