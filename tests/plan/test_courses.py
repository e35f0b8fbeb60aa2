"""Several starts in one pass go as each would go alone."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest

from rigmon.physics.course import Course, Start, bath_limit_s, course
from rigmon.physics.mix import FreezingCurve, freezing_curve
from rigmon.physics.rigparameters import draw_rigs, usual_rig
from rigmon.plan.courses import HORIZON_S, STEP_S, courses, reached_s
from rigmon.records import Composition, IceKind, SaltKind

BASE = Start(mix_g=1200.0, ice_g=2400.0, salt_g=600.0)


@pytest.fixture(scope="module")
def curve() -> FreezingCurve:
    """An uncooked cream."""
    return freezing_curve(Composition(water=62.0, fat=16.0, msnf=6.0, sucrose=16.0))


def test_one_pass_gives_what_each_start_gives_alone(curve: FreezingCurve) -> None:
    """Whatever the starts differ in: figures, forms, grain, a towel."""
    starts = [
        BASE,
        replace(BASE, mix_c=12.0, ice_g=1500.0, bowls_c=-15.0, sun_w=40.0, room_c=30.0),
        replace(BASE, ice_kind=IceKind.CUBES, salt_kind=SaltKind.ROCK, wrapped=True),
    ]
    rigs = [draw_rigs(2, seed, None) for seed in (1, 2, 3)]
    together = courses(curve, list(zip(starts, rigs, strict=True)))
    for start, each, found in zip(starts, rigs, together, strict=True):
        alone = course(curve, start, each, beat_s=HORIZON_S, step_s=STEP_S)
        for field in fields(Course):
            np.testing.assert_allclose(
                getattr(found, field.name), getattr(alone, field.name), rtol=1e-9, atol=1e-9
            )


def test_more_ice_at_the_same_ratio_never_shortens_the_baths_life(curve: FreezingCurve) -> None:
    """For any rig: it has more cold to give."""
    rigs = draw_rigs(20, 5, None)
    ices = (600.0, 900.0, 1400.0, 2200.0, 3400.0)
    ran = courses(curve, [(replace(BASE, ice_g=ice, salt_g=ice / 5.0), rigs) for ice in ices])
    lives = np.array([bath_limit_s(one, -8.5) for one in ran])
    assert np.isfinite(lives[0]).all()
    assert (lives[1:] >= lives[:-1]).all()


def test_a_time_is_told_between_the_times_of_the_course(curve: FreezingCurve) -> None:
    """Small changes to the start move it a little, not by whole steps."""
    usual = usual_rig(None)
    warm = [replace(BASE, mix_c=4.0 + 0.05 * step) for step in range(6)]
    times = [reached_s(one, 10.0) for one in courses(curve, [(start, usual) for start in warm])]
    assert all(0.0 < later - sooner < STEP_S for sooner, later in pairwise(times))
    never = courses(curve, [(replace(BASE, ice_g=100.0, salt_g=10.0), usual)])
    assert reached_s(never[0], 60.0) == float("inf")
