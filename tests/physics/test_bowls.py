"""What must hold of the bowls' geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rigmon.physics.bowls import depth_m, radius_m, room_for_ice_ml, wetted_area_m2
from rigmon.records import BowlSetup, BowlShape

SHAPES = list(BowlShape)


def test_depth_gives_back_the_volume_of_the_cap() -> None:
    """The cap of a sphere at the depth found holds what was poured in."""
    fill = np.linspace(0.0, 4000.0, 101)
    h = depth_m(fill, 4000.0, BowlShape.HEMISPHERE)
    radius = radius_m(4000.0, BowlShape.HEMISPHERE)
    assert 1e6 * math.pi * h**2 * (radius - h / 3.0) == pytest.approx(fill, abs=1e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_depth_and_area_rise_with_the_fill(shape: BowlShape) -> None:
    """More mix stands deeper and wets more, up to the rim and no further."""
    fill = np.linspace(0.0, 4000.0, 50)
    assert np.all(np.diff(depth_m(fill, 4000.0, shape)) > 0.0)
    assert np.all(np.diff(wetted_area_m2(fill, 4000.0, shape)) > 0.0)
    assert depth_m(5000.0, 4000.0, shape) == pytest.approx(radius_m(4000.0, shape))
    assert depth_m(0.0, 4000.0, shape) == pytest.approx(0.0, abs=1e-9)


def test_a_full_hemisphere_wets_half_a_sphere() -> None:
    """The area at the rim is 2 pi R²."""
    radius = radius_m(4000.0, BowlShape.HEMISPHERE)
    full = wetted_area_m2(4000.0, 4000.0, BowlShape.HEMISPHERE)
    assert full == pytest.approx(2.0 * math.pi * radius**2)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_float_gives_what_an_array_gives(shape: BowlShape) -> None:
    """One fill or many, the same depth."""
    assert depth_m(1200.0, 4000.0, shape) == pytest.approx(
        depth_m(np.array([1200.0]), 4000.0, shape)[0]
    )


def test_a_bowl_larger_than_its_outer_one_leaves_no_room() -> None:
    """Room for ice is never negative."""
    assert room_for_ice_ml(BowlSetup(inner_ml=5000.0, outer_ml=4000.0)) == 0.0
