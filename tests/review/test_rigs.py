"""A rig over its runs: drift, probe and forecasts, with what chance does not explain."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from rigmon.estimate.cloud import PRIOR
from rigmon.records import Event, RunFit
from rigmon.review.measures import Held, Measures, Span
from rigmon.review.memory import Taught
from rigmon.review.rigs import _first, _misses, drift, together

DAY = 86_400.0

NORRIS = """
0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3  998.5 996.3
449.1 448.6  778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9  339.3 338.0
448.9 447.5  10.8 11.6  557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6  119.6 120.2  0.3 0.3
0.6 0.3  557.6 556.8  339.3 339.1  888.0 887.2  998.5 999.0  778.9 779.0  10.2 11.1  117.6 118.3
228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5
"""
"""y and x of the Norris calibration, NIST Statistical Reference Datasets, linear regression (points
and certified values from memory; that they agree to ten digits shows that none is wrong)."""


def says(log_more: float, sd: float = 0.05) -> RunFit:
    """A run that by itself says so much of the wall, as a logarithm above the usual."""
    covariance = [list(row) for row in PRIOR.covariance]
    prior, own = PRIOR.covariance[0][0], sd**2
    covariance[0][0] = prior * own / (prior + own)
    mean = PRIOR.mean[0] + log_more * prior / (prior + own)
    return RunFit(
        PRIOR.names,
        PRIOR.transforms,
        (mean, *PRIOR.mean[1:]),
        tuple(map(tuple, covariance)),
        PRIOR.model_version,
        PRIOR,
    )


def runs(values: list[float]) -> list[Taught]:
    """One run a week."""
    return [Taught(7.0 * DAY * n, f"r{n}", says(value)) for n, value in enumerate(values)]


def test_the_line_is_the_certified_one() -> None:
    """The regression used for drift meets NIST's Norris: slope, intercept, slope's deviation."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    line = stats.linregress(x, y)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-11)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.stderr == pytest.approx(0.000429796848199937, rel=1e-9)


def test_each_run_says_what_it_says_by_itself() -> None:
    """What was believed before it is taken out again."""
    found = drift(runs([0.2]), "ua_w_k")
    (day,) = found.days
    assert day.value.p50 == pytest.approx(math.exp(PRIOR.mean[0] + 0.2), rel=1e-6)
    assert day.value.p90 / day.value.p50 == pytest.approx(math.exp(1.2816 * 0.05), rel=1e-4)
    assert found.pct_month is None


def test_a_wall_that_lasts_does_not_drift() -> None:
    """Scatter alone is not called a drift, and neither are runs that all say the same."""
    for values in ([0.03, -0.02, 0.01, -0.03, 0.02, 0.0], [0.1] * 6):
        assert not drift(runs(values), "ua_w_k").surely


def test_a_wall_that_wears_drifts_by_so_much() -> None:
    """Ten percent a month, seen over ten weeks, is told as about that."""
    slope = math.log(0.9) / 30.0
    found = drift(runs([7.0 * n * slope for n in range(11)]), "ua_w_k")
    assert found.surely
    assert found.pct_month == pytest.approx(-10.0, abs=0.5)


def test_offsets_are_weighed_by_their_ranges() -> None:
    """Two as sure as each other meet in the middle; where they contradict, the range is wider."""
    near = together([Span(0.3, 0.5, 0.7), Span(0.5, 0.7, 0.9)])
    far = together([Span(-1.2, -1.0, -0.8), Span(1.0, 1.2, 1.4)])
    sure = together([Span(0.49, 0.5, 0.51), Span(0.0, 1.0, 2.0)])
    assert near is not None
    assert far is not None
    assert sure is not None
    assert near.p50 == pytest.approx(0.6)
    assert far.p50 == pytest.approx(0.1)
    assert far.p90 - far.p10 > 3.0 * (near.p90 - near.p10)
    assert sure.p50 == pytest.approx(0.5, abs=0.01)
    assert together([]) is None


def test_forecasts_are_held_against_the_time_from_the_pour() -> None:
    """Two minutes of twenty are a tenth; a range that missed is counted."""
    run = Measures("a", "a", True, 0.0, "m", poured_s=180.0)
    good = Held(Event.PLATEAU, 1, 300.0, 1200.0, 1500.0, 1800.0, happened_s=1380.0)
    late = replace(good, happened_s=2580.0)
    firsts = [_first(replace(run, forecasts=(one,))) for one in (good, late)]
    found = _misses([one for one in firsts if one is not None])
    assert found is not None
    assert (found.runs, found.held) == (2, 1)
    assert found.missed_pct == pytest.approx((10.0 + 45.0) / 2.0)
