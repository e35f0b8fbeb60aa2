"""Points, budgets, and the line through them."""

from __future__ import annotations

import math

import pytest

from rigmon.probes.calibration import (
    GAIN_SD,
    Point,
    Reference,
    Share,
    combined_k,
    line_of,
    moved_k,
    point_of,
    seen_in,
    seen_on_display,
    slope_of,
)
from rigmon.probes.steadiness import Steadiness

STEADY = Steadiness(120, 0, 120.0, 0.38, 0.005, 0.03, 0.01, 0.06, 0.0625)


def point(true_c: float, read_c: float, sd_k: float, kind: str = "ice") -> Point:
    """A point with one share."""
    return Point(kind, true_c, read_c, (Share("bath", sd_k),))


def test_a_budget_holds_scatter_resolution_drift_and_reference() -> None:
    """Rectangles count by their width over √12 (GUM, 4.3.7), and all add up as squares (5.1.2)."""
    made = point_of(seen_in(STEADY), Reference("ice", 0.0, (Share("ice point", 0.06),)))
    shares = {share.what: share.sd_k for share in made.shares}
    assert shares == {
        "scatter": 0.005,
        "resolution": pytest.approx(0.0625 / math.sqrt(12.0)),
        "drift": pytest.approx(0.03 / math.sqrt(12.0)),
        "ice point": 0.06,
    }
    assert made.sd_k == pytest.approx(math.sqrt(sum(sd * sd for sd in shares.values())))
    assert made.off_k == pytest.approx(0.38)


def test_one_point_gives_an_offset_and_leaves_the_gain() -> None:
    """It is known best where it was made, and less surely away from there."""
    line = line_of([point(0.0, 0.4, 0.06)])
    assert (line.gain, line.offset_k) == (1.0, -0.4)
    assert line.true_c(-14.6) == pytest.approx(-15.0)
    assert line.sd_k(0.4) == pytest.approx(0.06)
    assert line.sd_k(-19.6) == pytest.approx(math.hypot(0.06, 20.0 * GAIN_SD))


def test_two_sure_points_decide_the_gain() -> None:
    """A probe that is 0.5 K high in ice and 1.5 K low in boiling water is right at both after."""
    line = line_of([point(0.0, 0.5, 0.005), point(99.0, 97.5, 0.005, "boil")])
    assert line.true_c(0.5) == pytest.approx(0.0, abs=0.01)
    assert line.true_c(97.5) == pytest.approx(99.0, abs=0.01)
    assert line.gain == pytest.approx(99.0 / 97.0, abs=1e-4)


def test_an_unsure_second_point_never_makes_it_worse() -> None:
    """A slush good to 0.2 K adds little beside an ice point, and takes nothing away."""
    ice = point(0.0, 0.4, 0.06)
    alone = line_of([ice])
    both = line_of([ice, point(-21.1, -20.5, 0.2, "slush")])
    for read_c in (-20.0, -10.0, 0.0, 5.0):
        assert both.sd_k(read_c) <= alone.sd_k(read_c)
    assert both.in_use_sd_k < alone.in_use_sd_k
    assert abs(both.gain - 1.0) < 0.004


def test_points_that_no_line_fits_make_it_unsure() -> None:
    """Three points whose middle is 2 K off are worth less than their own uncertainties say."""
    fitting = [point(0.0, 0.0, 0.05), point(50.0, 50.0, 0.05), point(99.0, 99.0, 0.05)]
    parted = [fitting[0], point(50.0, 52.0, 0.05), fitting[2]]
    assert line_of(parted).middle_sd_k > 5.0 * line_of(fitting).middle_sd_k


def test_the_slope_between_points_is_told_where_they_lie_apart() -> None:
    """A straight-line chip shows there: type K reads −19.0 °C at −21 and 0.77 °C at 0."""
    chip = [point(0.0, 0.77, 0.06), point(-21.0, -19.0, 0.2)]
    assert slope_of(chip) == pytest.approx(21.0 / 19.77)
    assert slope_of(chip[:1]) is None


def test_values_off_a_display_carry_its_step() -> None:
    """Three equal values are no surer than the display's last digit."""
    seen = seen_on_display((0.3, 0.3, 0.3), 0.1)
    assert seen.c == pytest.approx(0.3)
    assert combined_k(seen.shares) == pytest.approx(0.1 / math.sqrt(6.0))
    assert seen.over_s == 0.0


def test_a_probe_that_moved_is_told_with_its_sign() -> None:
    """It reads 0.3 K warmer than after its calibration; both uncertainties count."""
    before = line_of([point(0.0, 0.4, 0.06)])
    off_k, sd_k = moved_k(before, point(0.0, 0.7, 0.08))
    assert off_k == pytest.approx(0.3)
    assert sd_k == pytest.approx(math.hypot(0.06, 0.08), abs=0.001)
