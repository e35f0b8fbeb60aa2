"""Mix that stands still: balances, order of freezing, and the ends it goes to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics.mix import FreezingCurve, freezing_curve
from rigmon.physics.numbers import Array
from rigmon.physics.still import Still, resting, tubs
from rigmon.records import Composition

CURVE = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3))


def one(value: float) -> Array:
    """A figure for an ensemble of one."""
    return np.array([value])


def bowl(curve: FreezingCurve = CURVE, start_c: float = -3.0, mass_g: float = 1200.0) -> Still:
    """A bowl of one temperature, set down to rest."""
    heat = one(mass_g * curve.enthalpy_j_g(start_c))
    nothing = one(0.0)
    return resting(curve, (one(mass_g), heat), (nothing, nothing), one(20.0), one(0.05), one(0.65))


def hardened(hours: float, air_c: float = -18.0, mass_g: float = 750.0) -> Still:
    """A tub packed at -4 °C, so many hours later."""
    body, area = tubs(CURVE, one(mass_g), -4.0, one(40.0), one(0.65))
    for _ in range(round(hours * 12.0)):
        body, _ = body.after(300.0, air_c, 9.0 * area)
    return body


@given(st.floats(-8.0, 10.0), st.floats(-30.0, 25.0), st.floats(0.1, 60.0), st.floats(1.0, 600.0))
def test_what_comes_in_is_what_the_body_gains(
    start_c: float, outside_c: float, film_w_k: float, dt: float
) -> None:
    """Enthalpy changes by what came in through the surface, to 1e-9 of what is stored."""
    body = bowl(start_c=start_c)
    later, into = body.after(dt, outside_c, one(film_w_k))
    gained = later.heat_j.sum() - body.heat_j.sum()
    assert gained == pytest.approx(into[0], abs=1e-9 * (1200.0 + np.abs(body.heat_j).sum()))


def test_the_wall_freezes_while_the_middle_hardly_moves() -> None:
    """After an hour at -18 °C the edge is 3 K colder, the middle within 0.2 K, the ice doubled."""
    body = bowl()
    before = body.mixed()[1][0]
    for _ in range(60):
        body, _ = body.after(60.0, -18.0, one(4.0))
    assert body.core_c()[0] == pytest.approx(-3.0, abs=0.2)
    assert body.edge_c()[0] < -6.0
    assert body.mixed()[1][0] > 2.0 * before
    assert body.edge_c()[0] < body.mixed()[0][0] < body.core_c()[0]


def test_a_body_ends_at_the_temperature_around_it() -> None:
    """A small tub left for three days has the freezer's temperature all through."""
    temperatures, _ = hardened(72.0, mass_g=300.0).state()
    assert temperatures == pytest.approx(-18.0, abs=0.01)


def test_the_core_hardens_last_and_small_tubs_first() -> None:
    """The core is warmer than the edge, and that of a small tub colder than that of a large one."""
    large, small = hardened(6.0), hardened(6.0, mass_g=375.0)
    assert large.core_c()[0] > large.edge_c()[0]
    assert small.core_c()[0] < large.core_c()[0] - 1.0


def test_many_bodies_are_carried_as_each_alone() -> None:
    """An ensemble gives what its members give by themselves, since nothing crosses over."""
    both = tubs(CURVE, np.array([400.0, 800.0]), -4.0, np.full(2, 40.0), np.full(2, 0.65))
    together, _ = both[0].after(1.0, -18.0, 9.0 * both[1])
    for k, mass in enumerate((400.0, 800.0)):
        alone, area = tubs(CURVE, one(mass), -4.0, one(40.0), one(0.65))
        alone, _ = alone.after(1.0, -18.0, 9.0 * area)
        assert together.heat_j[:, k] == pytest.approx(alone.heat_j[:, 0], rel=1e-12)


def test_what_sticks_to_the_wall_and_what_is_soft_make_the_whole() -> None:
    """Splitting loses neither mass nor heat, and the hard part is the colder one."""
    body = bowl()
    for _ in range(60):
        body, _ = body.after(60.0, -18.0, one(4.0))
    soft_g, soft_j, hard_g, hard_j = body.split(38.0)
    assert (soft_g + hard_g)[0] == pytest.approx(1200.0)
    assert (soft_j + hard_j)[0] == pytest.approx(body.heat_j.sum())
    assert (hard_j / hard_g)[0] < (soft_j / soft_g)[0]
    assert hard_g[0] > 100.0


def test_a_frozen_lining_lies_outside() -> None:
    """A bowl set down with a lining on its wall keeps mass and heat, the cold on the outside."""
    soft = (one(900.0), one(900.0 * CURVE.enthalpy_j_g(-3.0)))
    hard = (one(300.0), one(300.0 * CURVE.enthalpy_j_g(-8.0)))
    body = resting(CURVE, soft, hard, one(20.0), one(0.05), one(0.65))
    assert body.heat_j.sum() == pytest.approx(float(soft[1][0] + hard[1][0]))
    temperatures, _ = body.state()
    assert temperatures[0, 0] == pytest.approx(-3.0, abs=0.01)
    assert temperatures[-1, 0] == pytest.approx(-8.0, abs=0.01)
