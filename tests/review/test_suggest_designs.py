"""What may be suggested at all."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.physics.bowls import bath_ml, heap_ml, room_for_ice_ml
from rigmon.physics.course import Start
from rigmon.records import BowlSetup, Composition, IceKind, SaltKind
from rigmon.review.designs import (
    ICE_STEP,
    LEAST_ICE_PER_MIX,
    RATIO_STEP,
    WEAKEST,
    candidates,
    most_ice_g,
    reach,
    strongest_ratio,
)
from rigmon.review.tried import Tried

MIX = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.3)
USUAL = Start(1000.0, 2600.0, 650.0)


def run(ratio: float, ice_g: float, kind: SaltKind = SaltKind.FINE) -> Tried:
    """A run with these amounts."""
    start = replace(USUAL, ice_g=ice_g, salt_g=ice_g / ratio, salt_kind=kind)
    return Tried(f"run-{ratio}-{ice_g}", 0.0, "mix", MIX, start, 20.0, 900.0, 500.0)


runs = st.lists(
    st.builds(run, st.floats(1.5, 14.0), st.floats(800.0, 6000.0)), min_size=1, max_size=4
)
bowls = st.builds(
    lambda inner, gap: BowlSetup(inner_ml=inner, outer_ml=inner + gap),
    st.floats(2000.0, 6000.0),
    st.floats(1500.0, 9000.0),
)


def test_the_strongest_ratio_is_that_of_the_eutectic() -> None:
    """At the eutectic brine holds 23.3 % of salt (CRC Handbook): 3.29 of ice to 1."""
    assert strongest_ratio() == pytest.approx(76.7 / 23.3)


@settings(max_examples=25)
@given(runs, bowls, st.booleans())
def test_nothing_is_suggested_that_does_not_dissolve_or_fit(
    tried: list[Tried], rig_bowls: BowlSetup, beyond: bool
) -> None:
    """However strange what was tried, salt dissolves and ice stays within the bowl."""
    within, room_ml = reach(tried, USUAL, rig_bowls, beyond=beyond), room_for_ice_ml(rig_bowls)
    for design in candidates(within, USUAL, rig_bowls):
        assert design.ratio >= 76.7 / 23.3 - 1e-9
        assert design.ratio <= WEAKEST * 1.0001
        assert heap_ml(design.ice_g, design.salt_g, 0.0, design.ice_kind) <= room_ml
        assert bath_ml(design.ice_g, design.salt_g) <= room_ml
        assert design.ice_g <= most_ice_g(rig_bowls, USUAL)


@settings(max_examples=25)
@given(runs, bowls)
def test_nothing_is_suggested_beyond_one_step(tried: list[Tried], rig_bowls: BowlSetup) -> None:
    """Ratio and ice keep within a step of what was tried, but for the bounds of salt and bowl."""
    ratios = [one.ratio for one in tried]
    ices = [one.start.ice_g for one in tried]
    for design in candidates(reach(tried, USUAL, rig_bowls), USUAL, rig_bowls):
        highest = max(max(ratios) + RATIO_STEP, 3.3)
        assert min(*ratios, WEAKEST + RATIO_STEP) - RATIO_STEP <= design.ratio + 1e-6
        assert design.ratio <= highest + 1e-6
        assert design.ice_g <= max(ices) * (1.0 + ICE_STEP) + 1e-6 or design.ice_g <= 100.0
        least_g = min(min(ices) * (1.0 - ICE_STEP), most_ice_g(rig_bowls, USUAL))
        assert design.ice_g >= min(least_g, LEAST_ICE_PER_MIX * USUAL.mix_g) - 100.0


def test_another_grain_is_one_step_only() -> None:
    """From rock salt and cubes, fine salt and crushed ice at once are too much of a change."""
    start = replace(USUAL, ice_kind=IceKind.CUBES, salt_kind=SaltKind.ROCK)
    tried = [replace(run(4.0, 2600.0), start=start)]

    kinds = set(reach(tried, start, BowlSetup()).kinds)

    assert kinds == {
        (IceKind.CUBES, SaltKind.ROCK),
        (IceKind.CUBES, SaltKind.KOSHER),
        (IceKind.CRUSHED, SaltKind.ROCK),
    }
    assert len(reach(tried, start, BowlSetup(), beyond=True).kinds) == 6
    same = reach(tried, start, BowlSetup(), same_grain=True)
    assert same.kinds == ((IceKind.CUBES, SaltKind.ROCK),)


def test_beyond_reaches_further_and_never_less() -> None:
    """What may be suggested without it may be suggested with it."""
    tried = [run(5.0, 2600.0), run(4.5, 2600.0)]
    near, far = (reach(tried, USUAL, BowlSetup(), beyond=one) for one in (False, True))

    assert set(candidates(near, USUAL, BowlSetup())) < set(candidates(far, USUAL, BowlSetup()))
