"""The whole rig: its balances, the ends it goes to, and what a maker's hand does to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.physics import rig
from rigmon.physics.bath import equilibrium
from rigmon.physics.course import Start, before_the_pour
from rigmon.physics.mix import freezing_curve
from rigmon.physics.numbers import Array
from rigmon.physics.rig import Drive, RigState
from rigmon.physics.rigparameters import Rigs, draw_rigs, usual_rig
from rigmon.physics.salts import salt
from rigmon.records import Composition, SaltName

CURVE = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3))
BEATING, STANDING, FREEZER = Drive(1.0), Drive(0.0), Drive(0.0, -18.0, -18.0)
START = Start(mix_g=1200.0, ice_g=3000.0, salt_g=750.0)


def run(state: RigState, seconds: float, drive: Drive, dt: float = 1.0) -> RigState:
    """Carry a rig on."""
    for _ in range(round(seconds / dt)):
        state = rig.advanced(state, dt, drive)
    return state


def poured(start: Start = START, rigs: Rigs | None = None, zones: int = 1) -> RigState:
    """A rig four minutes after ice-in, just poured."""
    made = before_the_pour(CURVE, start, usual_rig() if rigs is None else rigs, zones)
    return rig.poured(run(made, 240.0, STANDING), start.mix_g, start.mix_c)


def water_g(state: RigState) -> Array:
    """Water and salt in the outer bowl [g]."""
    z = state.zones
    return np.asarray((z.ice_g + z.water_g + z.dissolved_g + z.grains_g).sum(axis=0))


def salt_g(state: RigState) -> Array:
    """Salt in the outer bowl, without water of crystallisation [g]."""
    z = state.zones
    return np.asarray((z.dissolved_g + z.grains_g * z.salt.anhydrous_share).sum(axis=0))


def rests(state: RigState) -> RigState:
    """A rest of the whole rig."""
    return rig.rested(state, bowl_in=True)


def bare_rests(state: RigState) -> RigState:
    """A rest of the inner bowl alone."""
    return rig.rested(state, bowl_in=False)


@settings(deadline=None, max_examples=40)
@given(
    st.integers(0, 10_000),
    st.sampled_from([1, 2]),
    st.sampled_from(SaltName),
    st.floats(500.0, 4000.0),
    st.floats(0.0, 1500.0),
    st.floats(0.0, 500.0),
    st.lists(st.sampled_from(["beat", "scrape", "rest", "rest bare", "drain"]), max_size=6),
)
def test_nothing_is_lost_over_any_run(
    seed: int, zones: int, name: SaltName, ice: float, salt_in: float, water: float, do: list[str]
) -> None:
    """Over random rigs and runs energy closes to 1e-9, and so do water and salt, salt, and mix."""
    start = Start(1100.0, ice, salt_in, water_g=water, salt=name)
    state = poured(start, draw_rigs(6, seed), zones)
    mass, salted = water_g(state), salt_g(state)
    for what in do:
        if what == "scrape":
            state = rig.scraped(state)
        elif what == "drain":
            bath, gone_j = state.zones.drained(200.0)
            drained = rig.charged(state, bath, -gone_j)
            mass = mass + water_g(drained) - water_g(state)
            salted = salted + salt_g(drained) - salt_g(state)
            state = drained
        elif what == "beat":
            state = run(rig.taken_up(state), 120.0, BEATING)
        elif state.mix.still is None:
            state = run(rig.rested(state, what == "rest"), 600.0, FREEZER, 5.0)
    size = np.abs(state.enthalpy_j()) + np.abs(state.came_in_j)
    assert np.abs(state.enthalpy_j() - state.came_in_j) == pytest.approx(0.0, abs=1e-9 * size.max())
    assert water_g(state) == pytest.approx(mass, rel=1e-9)
    assert salt_g(state) == pytest.approx(salted, rel=1e-9, abs=1e-9)
    assert state.mix.mass_g() == pytest.approx(1100.0, rel=1e-9)
    z = state.zones
    assert min(part.min() for part in (z.ice_g, z.water_g, z.dissolved_g, z.grains_g)) >= 0.0


def test_ice_without_salt_stays_at_0_degrees() -> None:
    """A bath without salt has 0 °C, and freezes no mix."""
    state = run(poured(Start(1000.0, 2000.0, 0.0, water_g=200.0)), 1800.0, BEATING)
    assert state.bath_c()[0] == pytest.approx(0.0, abs=0.6)
    assert state.mix.seen()[1][0] == 0.0


@pytest.mark.parametrize("zones", [1, 2])
def test_without_beaters_and_leak_the_rig_comes_to_equilibrium(zones: int) -> None:
    """Left alone and shut off, bath and mix end at the one temperature that their enthalpy has."""
    shut = Drive(0.0, 0.0, 0.0, leak_share=0.0)
    rigs = replace(draw_rigs(1, 3), open_w_k=np.zeros(1))
    state = rig.poured(before_the_pour(CURVE, START, rigs, zones), 1200.0, 4.0)
    state = run(state, 8.0 * 3600.0, shut, 2.0)
    metal_j_k = float(state.zones.metal_j_k.sum())
    end_c = float(state.bath_c()[0])
    mix_j = 1200.0 * CURVE.enthalpy_j_g(end_c)
    bath_j = float(state.enthalpy_j()[0]) - mix_j - metal_j_k * end_c
    z = state.zones
    rest = equilibrium(
        salt(SaltName.SODIUM_CHLORIDE),
        float(z.ice_g.sum()),
        float(z.water_g.sum()),
        float(salt_g(state)[0]),
        bath_j,
    )
    assert state.mix.seen()[0][0] == pytest.approx(end_c, abs=0.02)
    assert rest.t_c == pytest.approx(end_c, abs=0.02)
    assert rest.ice_g == pytest.approx(float(z.ice_g.sum()), abs=5.0)


def test_the_bath_comes_within_2_k_of_its_coldest_in_minutes() -> None:
    """Crushed ice and fine salt take five to seven minutes (own calculation of the trade)."""
    state = before_the_pour(CURVE, START, usual_rig())
    bath_c = []
    for _ in range(900):
        state = rig.advanced(state, 1.0, STANDING)
        bath_c.append(float(state.bath_c()[0]))
    within = next(t for t, c in enumerate(bath_c) if c < min(bath_c) + 2.0)
    assert 120 < within < 480


def test_beating_heats_and_a_slower_hand_heats_less() -> None:
    """Half the speed freezes slower by the film, and brings a quarter of the beaters' heat."""
    fast = run(poured(), 60.0, BEATING)
    slow = run(poured(), 60.0, Drive(0.5))
    assert slow.wall_w[0] < fast.wall_w[0]
    assert slow.mix.seen()[0][0] > fast.mix.seen()[0][0]


def test_a_mix_supercools_before_it_freezes() -> None:
    """With 1 K of supercooling the mix falls 1 K under its freezing point, then jumps back."""
    rigs = replace(usual_rig(), supercooling_k=np.ones(1))
    state, coldest, before = poured(rigs=rigs), 10.0, 0.0
    for _ in range(600):
        before = float(state.mix.seen()[0][0])
        state = rig.advanced(state, 1.0, BEATING)
        coldest = min(coldest, before)
        if state.mix.nucleated[0]:
            break
    assert coldest == pytest.approx(CURVE.initial_c - 1.0, abs=0.15)
    assert state.mix.seen()[0][0] > before + 0.5


def test_scraping_the_wall_frees_the_heat() -> None:
    """Taking the layer off raises the flow of heat by a tenth or more for a while."""
    state = run(poured(), 900.0, BEATING)
    unscraped = run(state, 20.0, BEATING)
    scraped = run(rig.scraped(state), 20.0, BEATING)
    assert state.mix.layer_g[0] > 20.0
    assert scraped.wall_w[0] > 1.1 * unscraped.wall_w[0]


@pytest.mark.parametrize("hand", [rests, bare_rests])
def test_round_2_dips_and_then_warms(hand: Callable[[RigState], RigState]) -> None:
    """After a rest the frozen lining is stirred in: the mix falls fast to a minimum."""
    state = hand(run(poured(), 600.0, BEATING))
    state = run(state, 3600.0, FREEZER, 5.0)
    middle = float(state.mix.seen()[0][0])
    rested_pct = float(state.mix.seen()[1][0])
    state = rig.taken_up(state)
    state = run(state, 60.0, BEATING)
    assert float(state.mix.seen()[0][0]) < middle - 0.3
    assert float(state.mix.seen()[1][0]) == pytest.approx(rested_pct, abs=2.0)


def test_the_whole_rig_rests_colder_than_the_bowl_alone() -> None:
    """An hour in the bath freezes more than an hour in freezer air of the bath's temperature."""
    state = run(poured(), 600.0, BEATING)
    in_bath = run(rests(state), 3600.0, FREEZER, 5.0)
    bare = run(bare_rests(state), 3600.0, FREEZER, 5.0)
    assert in_bath.mix.seen()[1][0] > bare.mix.seen()[1][0] + 5.0


def test_two_zones_part_when_they_exchange_little() -> None:
    """With next to no exchange the pool and the ice above it drift apart."""
    rigs = replace(usual_rig(), exchange_g_s=np.array([0.01]), sunk_share=np.array([0.6]))
    state = run(poured(rigs=rigs, zones=2), 1200.0, BEATING)
    upper, lower = state.zones.temperature_c()[:, 0]
    assert abs(upper - lower) > 1.0


def test_a_recharge_makes_the_bath_cold_again() -> None:
    """A spent bath that gets ice and salt falls by kelvins within five minutes."""
    state = run(poured(Start(1200.0, 900.0, 130.0)), 2400.0, BEATING)
    before = float(state.bath_c()[0])
    bath, _ = state.zones.drained(300.0)
    state = rig.charged(
        state, *bath.add(800.0, -2.0, START.ice_kind, 3.0, 200.0, START.salt_kind, 22.0)
    )
    state = run(state, 300.0, BEATING)
    assert float(state.bath_c()[0]) < before - 3.0
