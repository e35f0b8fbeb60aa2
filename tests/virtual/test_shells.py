"""Still freezing: the resting bowl and the tub."""

from __future__ import annotations

import math

import pytest

from rigmon.virtual.shells import Shells
from rigmon.virtual.tables import MixTables
from rigmon.virtual.tub import Tubs


def resting(mix: MixTables, at_c: float) -> Shells:
    """A bowl of mix left to rest, all of one temperature."""
    heat = 1200.0 * mix.enthalpy_j_g.at(at_c)
    return Shells.resting(mix, (1200.0, heat), (0.0, 0.0), 1400.0, 0.05, 0.65)


def test_a_body_gains_just_the_heat_that_came_in(typical_mix: MixTables) -> None:
    """Heat moves between the shells and none is lost."""
    body = resting(typical_mix, -3.0)
    before = math.fsum(body.heats_j)
    came_in = math.fsum(body.step(1.0, -18.0, 9.0) for _ in range(1800))
    assert came_in < 0.0
    assert math.fsum(body.heats_j) - before == pytest.approx(came_in, rel=1e-9)


def test_the_middle_shows_nothing_while_the_wall_freezes(typical_mix: MixTables) -> None:
    """After an hour beside a cold bath the wall is hard and the middle as it was."""
    body = resting(typical_mix, -3.0)
    for _ in range(3600):
        body.step(1.0, -16.0, 9.0)
    temperatures = body.temperatures_c()
    assert temperatures[0] == pytest.approx(-3.0, abs=0.3)
    assert temperatures[-1] < -10.0
    assert body.mean_frozen_pct() > 1.5 * resting(typical_mix, -3.0).mean_frozen_pct()


def test_a_bare_bowl_in_still_air_freezes_slower_than_a_rig(typical_mix: MixTables) -> None:
    """Air takes less heat than brine."""
    in_brine, in_air = resting(typical_mix, -3.0), resting(typical_mix, -3.0)
    for _ in range(3600):
        in_brine.step(1.0, -16.0, 9.0)
        in_air.step(1.0, -18.0, 8.0 * 0.05)
    assert in_air.mean_frozen_pct() < in_brine.mean_frozen_pct() - 5.0


def test_what_was_frozen_to_the_wall_stays_outside(typical_mix: MixTables) -> None:
    """A bowl laid to rest keeps its wall layer on the wall and its enthalpy whole."""
    soft = (1000.0, 1000.0 * typical_mix.enthalpy_j_g.at(-3.0))
    hard = (200.0, 200.0 * typical_mix.enthalpy_j_g.at(-8.0))
    body = Shells.resting(typical_mix, soft, hard, 1400.0, 0.05, 0.65)
    temperatures = body.temperatures_c()
    assert temperatures[0] == pytest.approx(-3.0, abs=0.01)
    assert temperatures[-1] == pytest.approx(-8.0, abs=0.01)
    assert math.fsum(body.heats_j) == pytest.approx(soft[1] + hard[1], rel=1e-12)


def test_a_one_litre_tub_hardens_in_hours_and_a_small_one_sooner(typical_mix: MixTables) -> None:
    """The core of a litre passes -12 °C between 4 and 12 h in still air of -18 °C.

    Own calculation for a sphere of the same volume: 7 h. Household practice: a day.
    """
    hours = {}
    for count in (1, 2):
        heat = 870.0 * typical_mix.enthalpy_j_g.at(-4.0)
        tubs = Tubs.packed(typical_mix, 870.0, heat, 24.0, count, 0.65)
        t = 0.0
        while tubs.core_c() > -12.0:
            tubs.step(10.0, -18.0, 8.0)
            t += 10.0
        hours[count] = t / 3600.0
    assert 4.0 < hours[1] < 12.0
    assert hours[2] < hours[1] - 0.5


def test_a_tub_left_long_enough_takes_the_temperature_of_the_air(typical_mix: MixTables) -> None:
    """There is no other place for it to end."""
    heat = 450.0 * typical_mix.enthalpy_j_g.at(-4.0)
    tubs = Tubs.packed(typical_mix, 450.0, heat, 24.0, 1, 0.65)
    for _ in range(48 * 360):
        tubs.step(10.0, -18.0, 8.0)
    assert tubs.core_c() == pytest.approx(-18.0, abs=0.05)
