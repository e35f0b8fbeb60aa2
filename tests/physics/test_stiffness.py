"""What must hold of the stiffness index."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.physics.stiffness import LIQUID_PA_S, ice_volume_fraction, relative_viscosity

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
