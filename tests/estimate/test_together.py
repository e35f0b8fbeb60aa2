"""Several probes of one place, which begin, fall silent and come back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.estimate.levels import Levels
from rigmon.estimate.together import Together
from rigmon.records import Place, ProbeSetup, Reading

UPPER, LOWER = -14.0, -16.0


def fed(together: Together, name: str, level_c: float, from_s: int, to_s: int) -> None:
    """A noisy reading each second."""
    rng = np.random.default_rng(from_s)
    for t in range(from_s, to_s):
        together.add(name, float(t), level_c + 0.1 * float(rng.normal()), 1.0)


def side_by_side(to_s: int) -> Together:
    """Two probes two kelvin apart from the start."""
    together = Together()
    for t in range(to_s):
        fed(together, "bath", UPPER, t, t + 1)
        fed(together, "bath_2", LOWER, t, t + 1)
    return together


def mean(together: Together, t: float, over_s: float = 15.0) -> float:
    """The place's temperature over the last seconds."""
    found = together.blocks.mean_of_last(t, over_s)
    assert found is not None
    return found


@given(
    st.lists(st.tuples(st.floats(0.0, 1e4), st.floats(-60.0, 60.0)), min_size=1, max_size=40),
)
def test_one_probe_is_taken_as_it_reads(readings: list[tuple[float, float]]) -> None:
    """With nothing beside it nothing is taken off, after whatever silence."""
    together = Together()

    assert [together.add("bath", t, c, 1.0) for t, c in readings] == [c for _, c in readings]


def test_two_probes_from_the_start_make_the_mean_of_both() -> None:
    """Neither goes before the other."""
    assert mean(side_by_side(300), 299.0) == pytest.approx(0.5 * (UPPER + LOWER), abs=0.1)


@pytest.mark.parametrize(("left", "level_c"), [("bath", UPPER), ("bath_2", LOWER)])
def test_a_probe_that_falls_silent_makes_no_jump(left: str, level_c: float) -> None:
    """The other goes on at the level of both, at once and after ten minutes."""
    together = side_by_side(300)
    before = mean(together, 299.0)
    fed(together, left, level_c, 300, 900)

    for t in (305.0, 320.0, 899.0):
        assert mean(together, t, 5.0) == pytest.approx(before, abs=0.25)


def test_a_probe_that_comes_later_makes_no_jump() -> None:
    """A newcomer follows the level that there was, and can carry it on alone."""
    together = Together()
    fed(together, "bath", UPPER, 0, 300)
    for t in range(300, 400):
        fed(together, "bath", UPPER, t, t + 1)
        fed(together, "bath_2", LOWER, t, t + 1)
    fed(together, "bath_2", LOWER, 400, 500)

    for at in (303.0, 309.0, 399.0, 410.0, 499.0):
        assert mean(together, at, 5.0) == pytest.approx(UPPER, abs=0.25)


def test_a_probe_put_back_elsewhere_makes_no_jump() -> None:
    """After minutes of silence a probe is a newcomer, whatever it read before."""
    together = side_by_side(300)
    before = mean(together, 299.0)
    fed(together, "bath", UPPER, 300, 700)
    for t in range(700, 800):
        fed(together, "bath", UPPER, t, t + 1)
        fed(together, "bath_2", UPPER - 5.0, t, t + 1)

    for at in (703.0, 709.0, 799.0):
        assert mean(together, at, 5.0) == pytest.approx(before, abs=0.25)


def test_unequal_rates_do_not_tilt_the_mean() -> None:
    """A probe that reads five times as often has no more to say once its difference is known."""
    together = Together()
    for t in range(600):
        fed(together, "bath", UPPER, t, t + 1)
        if t % 5 == 0:
            fed(together, "bath_2", LOWER, t, t + 1)
    before = mean(together, 599.0)
    fed(together, "bath_2", LOWER, 600, 660)

    assert mean(together, 659.0) == pytest.approx(before, abs=0.25)


def test_two_probes_are_surer_than_one_and_one_left_is_not() -> None:
    """Errors of their own average out, as long as both speak."""
    levels = Levels(
        (
            ProbeSetup("bath", Place.BATH, "T", uncertainty_k=0.5),
            ProbeSetup("deep", Place.BATH, "T", uncertainty_k=0.5),
        )
    )
    for t in range(120):
        levels.take(Reading(float(t), "bath", UPPER))
        levels.take(Reading(float(t), "deep", LOWER))
    assert levels.sd_k[Place.BATH] == pytest.approx(0.5 / 2.0**0.5)
    assert levels.count(Place.BATH) == 2
    for t in range(120, 200):
        levels.take(Reading(float(t), "deep", LOWER))
    assert levels.sd_k[Place.BATH] == pytest.approx(0.5)
    assert levels.count(Place.BATH) == 1
    assert levels.level(Place.BATH, 199.0) == pytest.approx(0.5 * (UPPER + LOWER), abs=0.1)
