"""The screen in the noise that a mixer's motor makes, simulated with fixed seeds.

Scatter, spikes, wander and steps of the converter follow common practice for thermocouples beside
a brushed motor: scatter 0.2 to 0.5 K while it runs, spikes of 1 to 30 K in 1 of 100 to 300
readings, alone or two or three in a row, wander of 0.1 to 0.3 K over 20 to 60 s. No source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from rigmon.probes.screen import Screen
from rigmon.records import Place, Quality

SEEDS = range(4)
SECONDS = {1.0: 1200, 10.0: 300}
"""How long a round is simulated at each rate [Hz]."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a screen made of one simulated round.

    Args:
        good_lost: share of the readings without a spike that were refused.
        spikes: how many readings had a spike.
        spikes_in_k: of the spikes accepted, how far each lies from the truth [K].
        qualities: every quality the probe had, second by second.
    """

    good_lost: float
    spikes: int
    spikes_in_k: NDArray[np.float64]
    qualities: list[Quality]


def round_of(
    seed: int, rate_hz: float, scatter_k: float, step_k: float, pauses: bool = False
) -> Outcome:
    """Minutes of mix, from 5 °C to its freezing point and along it."""
    rng = np.random.default_rng(seed)
    n = round(SECONDS[rate_hz] * rate_hz)
    t = np.arange(n) / rate_hz
    wander = 0.2 * np.sin(2.0 * np.pi * (t / 60.0 + rng.random()))
    truth = np.maximum(-2.6 + 7.6 * np.exp(-t / 150.0), -2.5 - 0.0005 * t) + wander
    runs = (t // 120.0) % 2 == 0 if pauses else np.ones(n, dtype=bool)
    noise = rng.normal(0.0, 1.0, n) * np.where(runs, scatter_k, 0.03)
    spikes = np.zeros(n)
    for at in np.flatnonzero(rng.random(n) < 0.01):
        if spikes[max(0, at - 2) : at + 1].any():
            continue
        length = 1 if rng.random() < 0.6 else rng.integers(2, 4)
        size = rng.uniform(1.5, 30.0, length) * rng.choice([-1.0, 1.0], length)
        spikes[at : at + length] = size[: n - at]
    readings = truth + noise + spikes
    if step_k:
        readings = np.round(readings / step_k) * step_k
    screen = Screen(Place.MIX)
    accepted = np.zeros(n, dtype=bool)
    qualities = []
    for i in range(n):
        accepted[i] = screen.feed(float(t[i]), float(readings[i]), mixing=bool(runs[i])).accepted
        if i % round(rate_hz) == 0:
            qualities.append(screen.quality(float(t[i])))
    is_spike = spikes != 0.0
    return Outcome(
        good_lost=float(np.mean(~accepted[~is_spike])),
        spikes=int(is_spike.sum()),
        spikes_in_k=np.abs(readings - truth)[is_spike & accepted],
        qualities=qualities,
    )


@pytest.mark.parametrize("step_k", [0.0, 0.0625, 0.25])
@pytest.mark.parametrize("scatter_k", [0.05, 0.2])
@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_no_spike_passes_and_hardly_a_good_reading_is_lost(
    rate_hz: float, scatter_k: float, step_k: float
) -> None:
    """Of spikes of 1.5 K and more none must pass, of good readings fewer than 1 % be lost."""
    outcomes = [round_of(seed, rate_hz, scatter_k, step_k) for seed in SEEDS]
    assert sum(outcome.spikes for outcome in outcomes) > 50
    assert sum(len(outcome.spikes_in_k) for outcome in outcomes) == 0
    assert max(outcome.good_lost for outcome in outcomes) < 0.01


@pytest.mark.parametrize("step_k", [0.0, 0.25])
@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_in_heavy_scatter_what_passes_is_hardly_worse_than_the_scatter(
    rate_hz: float, step_k: float
) -> None:
    """At 0.5 K, where 2 K may be honest, fewer than 5 % of spikes pass, none 3 K off or more."""
    outcomes = [round_of(seed, rate_hz, 0.5, step_k) for seed in SEEDS]
    passed_k = np.concatenate([outcome.spikes_in_k for outcome in outcomes])
    assert len(passed_k) < 0.05 * sum(outcome.spikes for outcome in outcomes)
    assert passed_k.max(initial=0.0) < 3.0
    assert max(outcome.good_lost for outcome in outcomes) < 0.01


@pytest.mark.parametrize(("scatter_k", "share"), [(0.2, 0.01), (0.3, 0.01), (0.5, 0.03)])
def test_a_mixer_that_starts_and_stops_costs_little(scatter_k: float, share: float) -> None:
    """With the mixer on and off every 2 min only the first readings of the worst may be lost."""
    outcomes = [round_of(seed, 1.0, scatter_k, 0.0, pauses=True) for seed in SEEDS]
    assert max(outcome.good_lost for outcome in outcomes) < share


@pytest.mark.parametrize("step_k", [0.0625, 0.25])
@pytest.mark.parametrize("scatter_k", [0.02, 0.2, 0.5])
def test_a_mixers_usual_noise_leaves_the_probe_good(scatter_k: float, step_k: float) -> None:
    """Usual scatter and spikes must never make the quality anything but good, nor flicker."""
    for seed in SEEDS:
        assert set(round_of(seed, 1.0, scatter_k, step_k).qualities) == {Quality.GOOD}
