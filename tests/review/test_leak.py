"""The leak of the outer bowl, from a bath that warms alone."""

from __future__ import annotations

import pytest

from rigmon.physics import brine
from rigmon.records import Estimate, Stage
from rigmon.review.follow import Sample
from rigmon.review.leak import leak_w_k

ICE_G, SALT_G = 4000.0, 400.0


def warming(w_k: float, for_s: float, *, alone: bool = True, dry_g: float = 0.0) -> list[Sample]:
    """A bath with its salt dissolved that takes up so much heat, by its balance step by step."""
    samples, melted_g = [], SALT_G * (100.0 / brine.strength_pct(-15.0) - 1.0)
    for second in range(0, int(for_s), 60):
        strength = 100.0 * SALT_G / (SALT_G + melted_g)
        bath_c = brine.freezing_c(strength)
        held = Estimate(
            float(second),
            bath_c=bath_c,
            brine_pct=strength,
            ice_left_g=ICE_G - melted_g,
            salt_g=SALT_G + dry_g,
            brine_water_g=melted_g,
        )
        samples.append(Sample(float(second), Stage.REST, 1, not alone, alone, held))
        melts_j = brine.heat_of_fusion_j_g(bath_c)
        # Melting dilutes, and what is diluted warms: both take heat.
        next_c = brine.freezing_c(100.0 * SALT_G / (SALT_G + melted_g + 1.0))
        store_j = (melted_g + SALT_G) * 3.4 + (ICE_G - melted_g) * 2.05 + 450.0
        melted_g += w_k * (22.0 - bath_c) * 60.0 / (melts_j + store_j * (next_c - bath_c))
    return samples


@pytest.mark.parametrize("w_k", [1.0, 1.5, 2.2])
def test_a_bath_left_alone_tells_its_leak(w_k: float) -> None:
    """Two hours of warming narrow what was not known, and the range holds the truth."""
    found, told = leak_w_k(warming(w_k, 7200.0), ICE_G, 22.0)
    assert told
    assert found.p10 < w_k < found.p90
    assert found.p90 / found.p10 < 1.7


def test_a_bath_that_cannot_tell_says_so() -> None:
    """The mix's heat drowns the leak, and so does salt that lies there: it is that of any rig."""
    usual, told = leak_w_k([], ICE_G, 22.0)
    assert not told
    assert usual.p10 < 1.5 < usual.p90
    for samples, put_g in (
        (warming(1.0, 7200.0, alone=False), ICE_G),
        (warming(1.0, 500.0), ICE_G),
        (warming(1.0, 7200.0, dry_g=100.0), ICE_G),
        (warming(1.0, 7200.0), None),
    ):
        assert leak_w_k(samples, put_g, 22.0) == (usual, False)
