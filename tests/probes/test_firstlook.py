"""What a few seconds of readings say of probes."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.probes.firstlook import chip_steps, clock_rate, noise_of, swapped


def test_scatter_is_that_of_the_readings_and_not_of_their_course() -> None:
    """A probe that cools by 3 K a minute scatters as one at rest."""
    rng = np.random.default_rng(5)
    t = np.arange(60)
    noise = noise_of((4.0 - 0.05 * t + rng.normal(0.0, 0.1, 60)).tolist())
    assert noise is not None
    assert noise.scatter_k == pytest.approx(0.1, abs=0.03)
    assert noise.spikes == 0


def test_spikes_are_counted_and_left_out_of_the_scatter() -> None:
    """One in ten throws the reading about by 10 K."""
    values = [4.0 + 0.05 * (k % 2) + (10.0 if k % 10 == 5 else 0.0) for k in range(60)]
    noise = noise_of(values)
    assert noise is not None
    assert noise.spikes == 6
    assert noise.scatter_k < 0.06
    assert noise.median_c == pytest.approx(4.0, abs=0.06)
    assert noise_of(values[:4]) is None


@pytest.mark.parametrize(
    ("bath_c", "mix_c", "answer"),
    [(-15.0, 3.5, False), (3.5, -15.0, True), (21.0, 21.5, None), (18.0, 4.0, None)],
)
def test_swapped_probes_are_told_from_alike_ones(
    bath_c: float, mix_c: float, answer: bool | None
) -> None:
    """A mix far below its freezing point beside a warm bath; a warm bath is no proof of any."""
    assert swapped(bath_c, mix_c) is answer


def test_a_boards_clock_is_held_to_ours() -> None:
    """A board without a crystal runs 4 % slow; too few pairs say nothing."""
    pairs = [(1000.0 + t, 7.0 + 0.96 * t) for t in range(10)]
    assert clock_rate(pairs) == pytest.approx(0.96)
    assert clock_rate(pairs[:3]) is None


def test_a_chips_steps_are_a_reason_to_look() -> None:
    """A quarter of a degree for the probe and a sixteenth for the board, and nothing else."""
    coarse = noise_of([3.0, 3.25, 3.25, 3.0, 3.5, 3.25])
    fine = noise_of([3.0, 3.0625, 3.125, 3.0, 3.0625, 3.0])
    assert coarse is not None
    assert fine is not None
    assert chip_steps(coarse, [25.0, 25.0625])
    assert not chip_steps(coarse, [25.01, 25.02])
    assert not chip_steps(coarse, [])
    assert not chip_steps(fine, [25.0, 25.0625])
