"""The plain cooling-curve fit."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.estimate.coolingfit import Array, exponential_approach, fit, two_term


def test_the_spread_told_is_the_spread_found() -> None:
    """Over 200 noisy curves the fitted rate misses the true one as often as its spread says."""
    rng = np.random.default_rng(5)
    x = np.linspace(0.0, 600.0, 60)
    clean = exponential_approach(x, np.array([-17.0, 0.006]))
    off = []
    for _ in range(200):
        found = fit(exponential_approach, x, clean + rng.normal(0.0, 0.3, x.size), [-10.0, 0.01])
        off.append((found.params[1] - 0.006) / found.sd[1])

    assert np.mean(np.abs(off) < 1.0) == pytest.approx(0.68, abs=0.1)
    assert np.mean(off) == pytest.approx(0.0, abs=0.25)


def test_two_decays_are_told_apart_where_the_data_hold_both() -> None:
    """A probe's lag of 5 s and a bowl's of 200 s come back from one curve."""
    x = np.concatenate([np.arange(0.0, 30.0), np.arange(30.0, 900.0, 5.0)])
    truth = np.array([-15.0, 22.0, -3.0, 1.0 / 200.0, 1.0 / 5.0])
    noisy = two_term(x, truth) + np.random.default_rng(1).normal(0.0, 0.05, x.size)
    found = fit(two_term, x, noisy, [-10.0, 20.0, -1.0, 0.01, 0.1])

    assert np.all(np.abs(found.params - truth) < 4.0 * found.sd)


def test_what_the_data_leave_open_is_said_to_be() -> None:
    """Only the product of two parameters can be seen: neither gets a spread."""

    def product(x: Array, b: Array) -> Array:
        return np.asarray(b[0] * b[1] * x + b[2])

    x = np.linspace(0.0, 1.0, 20)
    found = fit(product, x, 6.0 * x + 1.0, [1.0, 1.0, 0.5])

    assert found.undetermined == (0, 1)
    assert np.isfinite(found.sd[2])


@pytest.mark.parametrize(
    ("x", "y", "sentence"),
    [
        ([0.0, 1.0], [0.0, 1.0], "2 points cannot determine 2"),
        ([0.0, 1.0, 2.0], [0.0, float("nan"), 1.0], "not finite"),
    ],
)
def test_points_that_cannot_be_fitted_are_refused(
    x: list[float], y: list[float], sentence: str
) -> None:
    """Too few points, or one that is no number, end in a sentence."""
    with pytest.raises(ValueError, match=sentence):
        fit(exponential_approach, x, y, [1.0, 1.0])
