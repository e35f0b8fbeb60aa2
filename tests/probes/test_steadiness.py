"""When readings stand still, and how sure that is."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.probes.steadiness import WINDOWS_S, Steadiness, settled, steadiness, step_k


def seen(
    seconds: int, noise_k: float, step: float, drift_k_s: float = 0.0, seed: int = 1
) -> Steadiness:
    """What a made-up probe at 0.37 °C shows, read once a second."""
    rng = np.random.default_rng(seed)
    t = np.arange(seconds + 1)
    c = np.round((0.37 + drift_k_s * t + rng.normal(0.0, noise_k, t.size)) / step) * step
    found = settled(t.tolist(), c.tolist())
    assert found is not None
    return found


def test_a_quiet_bath_stands_still_within_two_minutes() -> None:
    """A good converter in packed ice needs no more than the shortest stretch."""
    found = seen(120, 0.06, 0.0625)
    assert found.still
    assert found.over_s == WINDOWS_S[0]
    assert found.step_k == pytest.approx(0.0625)
    assert found.scatter_k == pytest.approx(0.06, abs=0.02)


def test_a_coarse_and_noisy_probe_needs_longer() -> None:
    """Steps of 0.25 K with as much noise rarely stand still in two minutes, in eight they do."""
    still = {s: sum(seen(s, 0.25, 0.25, seed=k).still for k in range(20)) for s in (120, 480)}
    assert still[120] < 10
    assert still[480] > 16


@pytest.mark.parametrize("drift_k_s", [-0.01, 0.002])
def test_a_bath_that_warms_or_cools_does_not_stand_still(drift_k_s: float) -> None:
    """0.12 K a minute is no ice point; it is known to move, in the right direction."""
    found = seen(120, 0.03, 0.0625, drift_k_s)
    assert not found.still
    assert found.moves
    assert found.drift_k == pytest.approx(120.0 * drift_k_s, abs=0.06)


def test_the_uncertainty_of_the_mean_is_what_repetition_shows() -> None:
    """Over many repetitions the mean's error is what its uncertainty says, within a fifth."""
    found = [seen(120, 0.1, 0.01, seed=seed) for seed in range(150)]
    off = [(one.mean_c - 0.37) / one.mean_sd_k for one in found]
    assert np.std(off) == pytest.approx(1.0, abs=0.2)


def test_spikes_are_left_out() -> None:
    """A motor's spikes do not move the mean."""
    values = [0.3 + 0.02 * (k % 3) for k in range(121)]
    clean = settled(list(range(121)), values)
    values[40], values[90] = 17.5, -8.0
    spiked = settled(list(range(121)), values)
    assert clean is not None
    assert spiked is not None
    assert spiked.spikes == 2
    assert spiked.mean_c == pytest.approx(clean.mean_c, abs=0.002)


def test_too_few_readings_say_nothing() -> None:
    """Neither a handful, nor a stretch that is half empty, nor one that is too short."""
    assert steadiness(range(10), [0.0] * 10) is None
    gap = [*range(20), *range(110, 120)]
    assert steadiness(gap, [0.1 * (t % 2) for t in gap]) is None
    assert settled(list(range(60)), [0.0] * 60) is None


def test_a_drift_hides_in_a_coarse_step() -> None:
    """Readings that never leave one step do not prove that nothing moves."""
    flat = steadiness(range(120), [0.25 if t < 119 else 0.5 for t in range(120)])
    assert flat is not None
    assert flat.drift_sd_k > 0.02


def test_rounding_is_no_step() -> None:
    """What arithmetic leaves behind the eighth decimal is not the converter's resolution."""
    assert step_k((0.1 + 0.2, 0.3, 0.55)) == pytest.approx(0.25)
