"""What must hold of one bowl, whatever its shape."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics.bowlshapes import Bowl, depth_m, fill_to_ml, full_depth_m, wetted_area_m2
from rigmon.records import BowlShape

HEMISPHERE = Bowl(4000.0)
CYLINDER = Bowl(4000.0, BowlShape.CYLINDER)
FRUSTUM = Bowl(4000.0, BowlShape.FRUSTUM, rim_mm=240.0, base_mm=120.0)
CONE = Bowl(4000.0, BowlShape.FRUSTUM, rim_mm=300.0, base_mm=0.0)
MEASURED = Bowl(
    4000.0, BowlShape.MEASURED, table=((20.0, 350.0), (50.0, 1200.0), (90.0, 2700.0), (120.0, 4e3))
)
BOWLS = {
    "hemisphere": HEMISPHERE,
    "cylinder": CYLINDER,
    "frustum": FRUSTUM,
    "cone": CONE,
    "measured": MEASURED,
}
every_shape = pytest.mark.parametrize("bowl", BOWLS.values(), ids=BOWLS.keys())


@st.composite
def bowls(draw: st.DrawFn) -> Bowl:
    """Bowls of every shape, from a cup to a bucket."""
    shape, ml = draw(st.sampled_from(BowlShape)), draw(st.floats(100.0, 20_000.0))
    if shape is BowlShape.FRUSTUM:
        rim = draw(st.floats(50.0, 600.0))
        return Bowl(ml, shape, rim_mm=rim, base_mm=draw(st.floats(20.0, rim)))
    if shape is BowlShape.MEASURED:
        deeper = draw(st.lists(st.floats(5.0, 60.0), min_size=1, max_size=6))
        more = draw(st.lists(st.floats(0.1, 1.0), min_size=len(deeper), max_size=len(deeper)))
        volumes = np.cumsum(more) / sum(more) * ml
        volumes[-1] = ml
        table = tuple(zip(np.cumsum(deeper).tolist(), volumes.tolist(), strict=True))
        return Bowl(ml, shape, table=table)
    return Bowl(ml, shape)


@given(bowls(), st.floats(0.0, 1.0))
def test_depth_and_volume_undo_each_other(bowl: Bowl, share: float) -> None:
    """What is poured in stands at a depth to which the bowl holds just that."""
    fill = share * bowl.ml
    assert fill_to_ml(depth_m(fill, bowl), bowl) == pytest.approx(fill, abs=1e-6 * bowl.ml)
    depth = share * full_depth_m(bowl)
    assert depth_m(fill_to_ml(depth, bowl), bowl) == pytest.approx(depth, abs=1e-7)


@given(bowls())
def test_a_full_bowl_stands_at_the_rim(bowl: Bowl) -> None:
    """The full depth holds the full volume, and what is more stays at the rim."""
    full = full_depth_m(bowl)
    assert fill_to_ml(full, bowl) == pytest.approx(bowl.ml)
    assert depth_m(2.0 * bowl.ml, bowl) == pytest.approx(full)
    assert fill_to_ml(2.0 * full, bowl) == pytest.approx(bowl.ml)
    assert fill_to_ml(-0.01, bowl) == 0.0


@every_shape
def test_depth_and_area_rise_with_the_fill(bowl: Bowl) -> None:
    """More mix stands deeper and wets more, from an empty bowl on."""
    fill = np.linspace(0.0, bowl.ml, 50)
    assert np.all(np.diff(depth_m(fill, bowl)) > 0.0)
    assert np.all(np.diff(wetted_area_m2(fill, bowl)) > 0.0)
    assert depth_m(0.0, bowl) == pytest.approx(0.0, abs=1e-9)


@every_shape
def test_a_float_gives_what_an_array_gives(bowl: Bowl) -> None:
    """One fill or many, the same depth, volume and area, and a float is answered by a float."""
    for function in (depth_m, fill_to_ml, wetted_area_m2):
        x = 0.05 if function is fill_to_ml else 1200.0
        one = function(x, bowl)
        assert isinstance(one, float)
        assert one == pytest.approx(function(np.array([x]), bowl)[0])


@pytest.mark.parametrize(
    ("fill_ml", "depth_cm", "area_m2"),
    [(1000.0, 5.5, 0.043), (1500.0, 6.9, 0.054), (2000.0, 8.1, 0.063)],
)
def test_a_4_litre_hemisphere_is_as_reckoned(
    fill_ml: float, depth_cm: float, area_m2: float
) -> None:
    """Depth and wetted area of 1 to 2 l in a hemisphere of 12.4 cm radius (own calculation)."""
    assert 100.0 * full_depth_m(HEMISPHERE) == pytest.approx(12.4, abs=0.05)
    assert 100.0 * depth_m(fill_ml, HEMISPHERE) == pytest.approx(depth_cm, abs=0.05)
    assert wetted_area_m2(fill_ml, HEMISPHERE) == pytest.approx(area_m2, abs=5e-4)


def test_a_full_hemisphere_wets_half_a_sphere() -> None:
    """The area at the rim is 2 pi R²."""
    full = wetted_area_m2(4000.0, HEMISPHERE)
    assert full == pytest.approx(2.0 * math.pi * full_depth_m(HEMISPHERE) ** 2)


def test_straight_sides_make_a_cylinder_of_a_frustum() -> None:
    """With one diameter throughout, depth and area are those of a cylinder."""
    across = 2000.0 * full_depth_m(CYLINDER)
    straight = Bowl(4000.0, BowlShape.FRUSTUM, rim_mm=across, base_mm=across)
    for fill in (0.0, 700.0, 2500.0, 4000.0):
        assert depth_m(fill, straight) == pytest.approx(depth_m(fill, CYLINDER))
        assert wetted_area_m2(fill, straight) == pytest.approx(wetted_area_m2(fill, CYLINDER))


def test_a_cone_wets_what_a_cone_wets() -> None:
    """From its tip a cone has a third of its cylinder's volume, and the area pi r s."""
    height = full_depth_m(CONE)
    assert height == pytest.approx(3.0 * 4e-3 / (math.pi * 0.15**2))
    assert wetted_area_m2(4000.0, CONE) == pytest.approx(math.pi * 0.15 * math.hypot(0.15, height))


def test_a_measured_cylinder_is_a_cylinder() -> None:
    """A table taken from straight sides gives their depth and area exactly."""
    radius = full_depth_m(CYLINDER)
    depths = np.linspace(0.2, 1.0, 5) * radius
    table = tuple((1000.0 * d, 4000.0 * d / radius) for d in depths)
    measured = Bowl(4000.0, BowlShape.MEASURED, table=table)
    for fill in (0.0, 700.0, 2500.0, 4000.0):
        assert depth_m(fill, measured) == pytest.approx(depth_m(fill, CYLINDER))
        assert wetted_area_m2(fill, measured) == pytest.approx(wetted_area_m2(fill, CYLINDER))


def test_a_hemisphere_measured_at_six_depths_is_near_one() -> None:
    """A maker's table of a round bowl gives depth to 3 mm and area to 5 % from a fifth full on."""
    depths = np.linspace(0.0, full_depth_m(HEMISPHERE), 7)[1:]
    volumes = fill_to_ml(depths, HEMISPHERE)
    volumes[-1] = 4000.0
    table = tuple(zip((1000.0 * depths).tolist(), volumes.tolist(), strict=True))
    measured = Bowl(4000.0, BowlShape.MEASURED, table=table)
    fill = np.linspace(800.0, 4000.0, 33)
    assert depth_m(fill, measured) == pytest.approx(depth_m(fill, HEMISPHERE), abs=3e-3)
    assert wetted_area_m2(fill, measured) == pytest.approx(
        wetted_area_m2(fill, HEMISPHERE), rel=0.05
    )


@pytest.mark.parametrize(
    ("bowl", "said"),
    [
        (Bowl(4000.0, BowlShape.FRUSTUM, rim_mm=240.0), "diameters of its rim and of its base"),
        (Bowl(4000.0, BowlShape.MEASURED), "its table of depth and volume"),
    ],
)
def test_a_shape_without_its_measures_is_refused(bowl: Bowl, said: str) -> None:
    """What is missing is named."""
    with pytest.raises(ValueError, match=said):
        depth_m(1000.0, bowl)
