"""What must hold of the stiffness index."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.physics.stiffness import (
    LIQUID_PA_S,
    ice_volume_fraction,
    relative_viscosity,
    stiffness_index,
)

WATER_SHARE = 0.617


def test_stiffness_starts_at_one_and_never_falls() -> None:
    """Without ice the index is 1; more ice is never thinner, and nothing runs to infinity."""
    viscosity = relative_viscosity(np.linspace(0.0, 100.0, 400), WATER_SHARE)
    assert viscosity[0] == pytest.approx(1.0)
    assert np.all(np.diff(viscosity) > 0.0)
    assert np.isfinite(viscosity).all()


@pytest.mark.parametrize(("ice_pct_of_mix", "low", "high"), [(15.0, 0.5, 2.0), (30.0, 3.0, 10.0)])
def test_stiffness_passes_through_the_usual_ranges(
    ice_pct_of_mix: float, low: float, high: float
) -> None:
    """0.5 to 2 Pa s with 15 % of the mix ice, 3 to 10 with 30 % (common figures, from memory)."""
    frozen_pct = ice_pct_of_mix / WATER_SHARE
    assert low <= LIQUID_PA_S * relative_viscosity(frozen_pct, WATER_SHARE) <= high


def test_ice_fills_more_of_the_volume_than_of_the_mass() -> None:
    """Ice is lighter than serum: its volume share is above its mass share, and 1 for pure ice."""
    assert ice_volume_fraction(50.0, WATER_SHARE) > 0.5 * WATER_SHARE
    assert ice_volume_fraction(100.0, 1.0) == pytest.approx(1.0)


def test_without_air_the_index_is_the_viscosity() -> None:
    """No air, no difference; the mix as poured stands at 1."""
    frozen = np.linspace(0.0, 60.0, 61)
    assert stiffness_index(frozen, WATER_SHARE, 0.0 * frozen) == pytest.approx(
        relative_viscosity(frozen, WATER_SHARE)
    )
    assert stiffness_index(0.0, WATER_SHARE, 0.0) == 1.0


@pytest.mark.parametrize("overrun_pct", [15.0, 40.0])
def test_more_ice_is_stiffer_with_air_too(overrun_pct: float) -> None:
    """With air in it the mix still stiffens at every step of freezing."""
    frozen = np.linspace(0.0, 100.0, 400)
    index = stiffness_index(frozen, WATER_SHARE, np.full_like(frozen, overrun_pct))
    assert np.all(np.diff(index) > 0.0)
    assert np.isfinite(index).all()


def test_air_stiffens_a_thin_mix_and_loosens_a_stiff_one() -> None:
    """Bubbles thicken a liquid, and thin out a crowd of crystals (Truby et al. 2015)."""
    thin, stiff = 10.0, 55.0
    assert stiffness_index(thin, WATER_SHARE, 30.0) > stiffness_index(thin, WATER_SHARE, 0.0)
    assert stiffness_index(stiff, WATER_SHARE, 30.0) < stiffness_index(stiff, WATER_SHARE, 0.0)


def test_a_foam_without_ice_thickens_by_its_air() -> None:
    """Round bubbles alone make a liquid stiffer by 1 over its share of the volume."""
    assert stiffness_index(0.0, WATER_SHARE, 25.0) == pytest.approx(1.25)


def test_air_matters_less_than_ice() -> None:
    """All the air of a hand mixer changes less than ten points of frozen share do."""
    for frozen_pct in (10.0, 25.0, 40.0):
        plain = stiffness_index(frozen_pct, WATER_SHARE, 0.0)
        air = stiffness_index(frozen_pct, WATER_SHARE, 40.0) / plain
        ice = stiffness_index(frozen_pct + 10.0, WATER_SHARE, 0.0) / plain
        assert 1.0 / ice < air < ice
