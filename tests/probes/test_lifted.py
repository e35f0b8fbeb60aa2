"""A probe lifted out of the mix."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rigmon.probes.lifted import Lifted
from rigmon.probes.screen import Screen
from rigmon.records import Place, Quality


def said(mix_c: Callable[[float], float], for_s: int, seed: int = 1) -> list[bool]:
    """Whether a probe with a mixer's noise is taken for lifted, second by second."""
    rng, probe = np.random.default_rng(seed), Lifted()
    return [probe.feed(float(t), mix_c(t) + 0.3 * float(rng.normal())) for t in range(for_s)]


def in_air(t: float) -> float:
    """Lifted at 60 s into air of 22 °C, back in the mix of −4 °C at 100 s."""
    out_c = 22.0 - 26.0 * float(np.exp(-(t - 60.0) / 45.0))
    if t < 60.0:
        return -4.0
    return out_c if t < 100.0 else -4.0 + 15.0 * float(np.exp(-(t - 100.0) / 4.0))


def test_a_lifted_tip_is_seen_in_seconds_and_trusted_within_half_a_minute_of_its_return() -> None:
    """Air warms a tip faster than any mix warms; back at the old level it counts again."""
    out = said(in_air, 200)

    assert not any(out[:60])
    assert all(out[75:100])
    assert not any(out[130:])


def test_a_mix_that_begins_to_freeze_is_not_lifted() -> None:
    """A mix that supercooled by 2 K jumps to its freezing point of −2.5 °C within seconds."""
    assert not any(said(lambda t: -4.5 if t < 60 else -2.5, 120))


def test_a_poured_mix_that_cools_is_not_lifted() -> None:
    """From 8 °C at 3 K a minute to freezing."""
    assert not any(said(lambda t: max(8.0 - t / 20.0, -2.5), 400))


def test_readings_of_a_lifted_probe_are_refused_and_its_quality_says_so() -> None:
    """What it reads in air never gets through as a temperature of the mix, once it is seen."""
    screen = Screen(Place.MIX)
    taken = [screen.feed(float(t), in_air(t), mixing=True, in_mix=True) for t in range(100)]

    assert screen.quality(99.0) is Quality.IMPLAUSIBLE
    assert "put it back" in screen.reason(99.0)
    assert max(one.c for one in taken if one.c is not None) < 5.0


def test_a_probe_that_is_not_expected_in_the_mix_may_warm() -> None:
    """Before the pour, and once packed, it may lie anywhere."""
    screen = Screen(Place.MIX)

    assert all(screen.feed(float(t), in_air(t)).why.startswith(("", "A spike")) for t in range(100))
    assert screen.quality(99.0) is Quality.GOOD
