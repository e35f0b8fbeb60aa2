"""Where water boils: what is refused, and that it falls with the height."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rigmon.physics.boiling import boiling_c, standard_pressure_hpa


@pytest.mark.parametrize("hpa", [0.0, 499.0, 1101.0, float("nan")])
def test_a_pressure_that_no_kitchen_has_is_refused(hpa: float) -> None:
    """Pascals and millimetres of mercury typed for hectopascals among them."""
    with pytest.raises(ValueError, match="hPa, allowed are 500 to 1100"):
        boiling_c(hpa)


@pytest.mark.parametrize("m", [-451.0, 5501.0, float("nan")])
def test_an_altitude_that_no_kitchen_has_is_refused(m: float) -> None:
    """Where nobody lives."""
    with pytest.raises(ValueError, match="allowed are -450 to 5500 m"):
        standard_pressure_hpa(m)


def test_it_falls_with_the_height_all_the_way() -> None:
    """About a third of a degree a hundred metres."""
    boils = [boiling_c(standard_pressure_hpa(float(m))) for m in range(-400, 5500, 100)]
    falls = [a - b for a, b in pairwise(boils)]
    assert min(falls) > 0.31
    assert max(falls) < 0.35
