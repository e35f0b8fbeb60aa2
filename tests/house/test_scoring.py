"""Forecasts are scored as they ought to be: hand-made cases of the benches' own arithmetic."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import numpy as np
import pytest


@pytest.fixture
def scoring(root: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The benches' scores; a bench imports from its own folder."""
    monkeypatch.syspath_prepend(root / "tests" / "bench")
    import scoring

    return scoring


@pytest.fixture
def peers(root: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The forecasters that the monitor is held against."""
    monkeypatch.syspath_prepend(root / "tests" / "bench")
    import peers

    return peers


def test_pinball_weighs_each_side_by_its_level(scoring: ModuleType) -> None:
    """A truth 10 s after all three quantiles costs 1, 5 and 9 s; 10 s before them 9, 5 and 1 s."""
    assert scoring.pinball_s((90.0, 90.0, 90.0), 100.0) == pytest.approx((1.0 + 5.0 + 9.0) / 3.0)
    assert scoring.pinball_s((110.0, 110.0, 110.0), 100.0) == pytest.approx(15.0 / 3.0)
    assert scoring.pinball_s((90.0, 100.0, 120.0), 100.0) == pytest.approx((1.0 + 0.0 + 2.0) / 3.0)


def test_pinball_is_least_at_the_true_quantiles(scoring: ModuleType) -> None:
    """Over truths spread evenly no other three times lose less than their 10, 50 and 90 %."""
    truths = np.arange(0.5, 100.0)

    def loss(*times: float) -> float:
        return float(np.mean([scoring.pinball_s(times, float(truth)) for truth in truths]))

    best = loss(10.0, 50.0, 90.0)
    for moved in ((14.0, 50.0, 90.0), (10.0, 46.0, 90.0), (10.0, 50.0, 94.0), (6.0, 50.0, 90.0)):
        assert loss(*moved) > best


@pytest.mark.parametrize(
    ("truth_s", "held", "place"),
    [(9.0, False, 0), (10.0, True, 0), (15.0, True, 1), (25.0, True, 2), (31.0, False, 3)],
)
def test_a_truth_falls_into_one_part(
    scoring: ModuleType, truth_s: float, held: bool, place: int
) -> None:
    """The interval holds its ends, and the three times cut the line into four parts."""
    times = (10.0, 20.0, 30.0)
    assert scoring.holds(times, truth_s) is held
    assert scoring.part(times, truth_s) == place


def test_deciles_of_an_even_spread_hold_a_tenth_each(scoring: ModuleType) -> None:
    """Of times spread evenly between 0 and 100 s ten fall into each tenth of their distribution."""
    deciles = [100.0 * level for level in scoring.DECILES]
    places = [scoring.part(deciles, truth_s) for truth_s in np.arange(0.5, 100.0)]
    assert np.bincount(places).tolist() == [10] * 10


def test_what_lies_beyond_the_horizon_counts_as_the_horizon(scoring: ModuleType) -> None:
    """None becomes the horizon from the time of the forecast; a forecast of Nones says nothing."""
    assert scoring.filled((50.0, 60.0, None), 40.0) == (50.0, 60.0, 40.0 + scoring.HORIZON_S)
    assert scoring.told((50.0, None, None))
    assert not scoring.told((None, None, None))


def test_ratio_is_of_sums_and_rigs_stay_whole(scoring: ModuleType) -> None:
    """Where each rig has half its peer's loss every draw of rigs gives one half."""
    own = np.array([1.0, 10.0, 100.0])
    figure = scoring.over_rigs(scoring.ratio, own, 2.0 * own)
    assert (figure.value, figure.low, figure.high) == (0.5, 0.5, 0.5)
    assert scoring.over_rigs(scoring.ratio, [1.0, 9.0], [2.0, 2.0]).value == pytest.approx(2.5)


def test_bootstrap_interval_is_that_of_a_mean(scoring: ModuleType) -> None:
    """Of 400 normal values the interval of the mean is ±1.645 of its standard error."""
    values = np.random.default_rng(3).standard_normal(400)
    figure = scoring.over_rigs(scoring.mean, values)
    half = 1.645 * float(np.std(values)) / 20.0
    assert figure.value == pytest.approx(float(np.mean(values)))
    assert figure.low == pytest.approx(figure.value - half, abs=0.15 * half)
    assert figure.high == pytest.approx(figure.value + half, abs=0.15 * half)


def test_median_bears_what_was_never_said(scoring: ModuleType) -> None:
    """Errors of forecasts that were not made are infinite, and count as the largest."""
    assert scoring.over_rigs(scoring.median, [5.0, 7.0, np.inf]).value == 7.0
    assert scoring.over_rigs(scoring.median, [5.0, np.inf, np.inf]).value == np.inf
    assert scoring.over_rigs(scoring.median, []).text() == "-"


def test_other_rigs_are_asked_only_if_not_over(peers: ModuleType) -> None:
    """The peer that knows other rigs leaves out those whose plateau has passed."""
    assert peers.not_yet(250.0, [100.0, 200.0, 300.0, 400.0, 500.0]) == (320.0, 400.0, 480.0)
    assert peers.not_yet(900.0, [100.0, 200.0]) == (900.0, 900.0, 900.0)


def test_rigs_made_alike_differ_only_by_what_was_not_to_be_expected(peers: ModuleType) -> None:
    """Where each rig takes a tenth longer than expected so will this one."""
    others = [(1.1 * usual_s, usual_s) for usual_s in (500.0, 900.0, 1400.0)]
    assert peers.alike(60.0, 1000.0, others) == pytest.approx((1100.0, 1100.0, 1100.0))


def test_a_median_is_put_right_by_a_line_through_the_others(peers: ModuleType) -> None:
    """Medians that miss by a power and a factor, and by nothing else, are put right in full."""
    medians_s = (600.0, 800.0, 1000.0, 1500.0)
    others = [(3.0 * median_s**0.9, median_s) for median_s in medians_s]
    truth_s = 3.0 * 1200.0**0.9
    assert peers.put_right(60.0, 1200.0, others) == pytest.approx((truth_s, truth_s, truth_s))


def test_plain_fit_finds_the_plateau_of_its_own_curve(peers: ModuleType) -> None:
    """On an exact exponential the fit's plateau is where that curve's gain falls below 2 %."""
    from rigmon.physics.mix import freezing_curve
    from rigmon.records import Composition, PlateauSetting

    curve = freezing_curve(Composition(water=62.0, fat=12.0, msnf=11.0, sucrose=15.0))
    t = np.arange(0.0, 1500.0)
    mix_c = -8.0 + 6.0 * np.exp(-t / 400.0)
    share = np.asarray(curve.frozen_pct(mix_c))
    true_s = float(np.flatnonzero(share[120:] - share[:-120] >= 2.0)[-1])
    fitted = peers.CoolingCurve(curve, PlateauSetting()).times(t[:300], mix_c[:300], -60.0, 300.0)
    assert 300.0 < true_s < 1300.0
    assert fitted == pytest.approx((true_s, true_s, true_s), abs=30.0)
