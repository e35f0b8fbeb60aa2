"""Signals that follow what each member knows, at a level and a slope of their own."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.estimate.signals import Line


def test_level_and_slope_are_those_of_least_squares() -> None:
    """Without drift and with a wide prior the next value is foretold as a straight fit does."""
    rng = np.random.default_rng(3)
    x = rng.uniform(0.0, 3.0, 40)
    y = 130.0 + 11.0 * x + rng.normal(0.0, 1.0, 40)
    line = Line(1, (0.0, 1e3), (0.0, 1e3), (0.0, 0.0), 1.0, 1e3)
    for t, (one_x, one_y) in enumerate(zip(x, y, strict=True)):
        line.see(float(t), float(one_y), np.array([one_x]))
    slope, level = np.polyfit(x, y, 1)

    for figure in (0.0, 5.0):
        assert line.at(np.array([figure]))[0] == pytest.approx(level + slope * figure, rel=1e-3)


def test_a_member_whose_figure_bends_otherwise_is_less_likely() -> None:
    """What is straight in one member's figure is not in another's, whatever level and slope."""
    rng = np.random.default_rng(4)
    line = Line(2, (120.0, 60.0), (12.0, 8.0), (0.1, 0.02), 2.0, 10.0)
    found = np.zeros(2)
    for t in range(120):
        right = t / 40.0
        power_w = 140.0 + 15.0 * right + float(rng.normal(0.0, 1.0))
        found += line.see(5.0 * t, power_w, np.array([right, 3.0 * np.sqrt(right / 3.0)]))

    assert found[0] > found[1] + 5.0


def test_a_step_is_another_level_and_says_nothing() -> None:
    """A mixer set slower is followed at once, and no member is the less likely for it."""
    line = Line(2, (120.0, 60.0), (12.0, 8.0), (0.1, 0.02), 2.0, 10.0)
    figures = np.array([0.0, 1.0])
    for t in range(60):
        line.see(5.0 * t, 150.0, figures)

    assert np.all(line.see(300.0, 110.0, figures) == 0.0)
    line.see(305.0, 110.0, figures)
    assert line.at(figures) == pytest.approx(110.0, abs=1.0)
