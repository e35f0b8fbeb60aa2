"""The bath: where it settles, and that nothing is lost in it."""

from __future__ import annotations

import math

import pytest

from rigmon.physics import brine
from rigmon.records import IceKind, SaltKind
from rigmon.virtual.bath import FUSION_J_G, ICE_J_GK, SALT_J_GK, Bath
from rigmon.virtual.layer import Layer
from rigmon.virtual.parameters import RigParameters

TIGHT = RigParameters(leak_w_k=1e-9, outer_metal_j_k=1.0)
"""A rig into which no heat leaks."""


def filled(
    rig: RigParameters,
    salt_g: float,
    ice: IceKind = IceKind.CRUSHED,
    salt: SaltKind = SaltKind.FINE,
) -> Bath:
    """A bath of three kilograms of ice."""
    bath = Bath(rig, 0.0)
    bath.add_ice(3000.0, -2.0, ice)
    bath.add_salt(salt_g, 20.0, salt)
    return bath


def run(bath: Bath, seconds: int, heat_w: float = 0.0, air_c: float = 22.0) -> float:
    """Step by step; returns the heat that came in from outside [J]."""
    return math.fsum(heat_w + bath.step(1.0, heat_w, air_c, shaken=False) for _ in range(seconds))


def counted_j(bath: Bath) -> float:
    """Enthalpy of the bath from what can be seen of it, counted anew [J]."""

    def layer_j(layer: Layer) -> float:
        w = layer.strength_pct
        cp = brine.specific_heat_j_gk(w, -8.0)
        solution = brine.heat_of_solution_j_g(min(max(w, 5.0), 25.0), 0.0)
        grains = layer.grain_g * SALT_J_GK * 20.0
        return layer.liquid_g * cp * layer.temperature_c() + layer.dissolved_g * solution + grains

    ice = bath.ice_g * (ICE_J_GK * bath.ice_c() - FUSION_J_G)
    return layer_j(bath.upper) + layer_j(bath.lower) + ice + bath.rig.outer_metal_j_k * bath.outer_c


def test_a_bath_without_salt_settles_at_the_ice_point() -> None:
    """Ice and its melt rest at 0 °C, but for what a leak keeps the melt above the ice."""
    bath = filled(RigParameters(), salt_g=0.0)
    run(bath, 1800)
    assert bath.ice_c() == pytest.approx(0.0, abs=0.01)
    assert 0.0 < bath.temperature_c() < 0.25


def test_a_bath_left_alone_comes_to_rest_on_the_liquidus() -> None:
    """Without leak and load, brine and ice end where brine of that strength freezes."""
    bath = filled(TIGHT, salt_g=60.0)
    for _ in range(4):
        run(bath, 1800)
        bath.stir()
    run(bath, 600)
    assert bath.upper.grain_g + bath.lower.grain_g < 1.0
    assert bath.upper.temperature_c() == pytest.approx(
        brine.freezing_c(bath.upper.strength_pct), abs=0.05
    )


def test_more_salt_than_the_ice_can_use_ends_at_the_eutectic() -> None:
    """With salt left over the bath comes to the eutectic and not below."""
    bath = filled(TIGHT, salt_g=1500.0)
    coldest_c = 0.0
    for _ in range(6):
        run(bath, 1200)
        bath.stir()
        coldest_c = min(coldest_c, bath.temperature_c())
    assert coldest_c == pytest.approx(brine.EUTECTIC_C, abs=0.3)
    assert bath.upper.grain_g + bath.lower.grain_g > 100.0


def test_water_and_salt_are_neither_made_nor_lost() -> None:
    """Ice, water and salt add up to what was put in, less what was drained."""
    bath = filled(RigParameters(), salt_g=600.0)
    bath.add_water(200.0, 10.0)
    run(bath, 900, heat_w=130.0)
    strength, drained_g = bath.strength_pct(), 400.0
    bath.drain(drained_g)
    bath.add_ice(500.0, -5.0, IceKind.CUBES, wet_pct=8.0)
    run(bath, 900, heat_w=130.0)
    layers = (bath.upper, bath.lower)
    salt_g = sum(layer.dissolved_g + layer.grain_g for layer in layers)
    water_g = bath.ice_g + sum(layer.water_g for layer in layers)
    salt_drained_g = drained_g * strength / 100.0
    assert salt_g == pytest.approx(600.0 - salt_drained_g, rel=1e-9)
    assert water_g == pytest.approx(3700.0 - (drained_g - salt_drained_g), rel=1e-9)


def test_the_energy_balance_closes_when_counted_from_temperatures() -> None:
    """Enthalpy counted from masses and temperatures rises by just the heat that came in."""
    bath = filled(RigParameters(), salt_g=750.0)
    # Straight lines of the model's tables against the formulas: a part in a million.
    before = counted_j(bath)
    came_in = run(bath, 1800, heat_w=130.0)
    assert counted_j(bath) - before == pytest.approx(came_in, abs=1e-6 * abs(before))


@pytest.mark.parametrize("salt_g", [375.0, 750.0])
def test_fine_salt_on_crushed_ice_is_colder_sooner_than_rock_salt_on_cubes(salt_g: float) -> None:
    """Surface makes the cold come fast."""
    fast = filled(RigParameters(), salt_g)
    slow = filled(RigParameters(), salt_g, IceKind.CUBES, SaltKind.ROCK)
    run(fast, 300, heat_w=130.0)
    run(slow, 300, heat_w=130.0)
    assert fast.temperature_c() < slow.temperature_c() - 2.0


def test_the_brine_below_is_stronger_than_the_brine_around_the_ice() -> None:
    """Melt stays on top, and the salt sinks."""
    bath = filled(RigParameters(), salt_g=375.0)
    run(bath, 1200, heat_w=130.0)
    assert bath.lower.strength_pct > bath.upper.strength_pct + 0.3


def test_a_bath_warms_once_its_ice_is_gone() -> None:
    """The last ice holds the bath at the liquidus; then nothing does."""
    bath = filled(RigParameters(), salt_g=400.0)
    run(bath, 5400, heat_w=200.0)
    assert bath.ice_g == 0.0
    before_c = bath.temperature_c()
    run(bath, 600, heat_w=200.0)
    assert bath.temperature_c() > before_c + 5.0
