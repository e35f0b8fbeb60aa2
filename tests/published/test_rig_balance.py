"""The whole rig against the first law, its equilibrium, and what old hand freezers did."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from rigmon.physics import rig
from rigmon.physics.bath import equilibrium
from rigmon.physics.brine import heat_of_fusion_j_g
from rigmon.physics.course import Start, before_the_pour, course, reached_s
from rigmon.physics.mix import freezing_curve
from rigmon.physics.rig import Drive
from rigmon.physics.rigparameters import draw_rigs, usual_rig
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

CURVE = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3))
START = Start(mix_g=1200.0, ice_g=3000.0, salt_g=750.0)


def test_energy_closes_over_drawn_rigs(held: Held) -> None:
    """Enthalpy less what came in stays the same through round, rest, round and recharge."""
    state = before_the_pour(CURVE, START, draw_rigs(40, 8), zones=2)
    for _ in range(240):
        state = rig.advanced(state, 1.0, Drive())
    state = rig.poured(state, START.mix_g, START.mix_c)
    for _ in range(2):
        for _ in range(600):
            state = rig.advanced(state, 1.0, Drive(1.0))
        state = rig.rested(rig.scraped(state), bowl_in=True)
        for _ in range(360):
            state = rig.advanced(state, 5.0, Drive(0.0, -18.0, -18.0))
        bath, gone_j = state.zones.drained(300.0)
        state = rig.taken_up(rig.charged(state, bath, -gone_j))
        added = state.zones.add(
            400.0, -2.0, START.ice_kind, 3.0, 100.0, START.salt_kind, START.room_c
        )
        state = rig.charged(state, *added)
    off = np.abs(state.enthalpy_j() - state.came_in_j) / np.abs(state.came_in_j)
    held(
        "Rig, energy lost or won over two rounds, two rests and two recharges, 40 drawn rigs",
        1e9 * float(off.max()),
        0.0,
        within=1.0,
        unit="ppb",
        source="first law",
    )


def test_a_rig_left_alone_comes_to_equilibrium(held: Held) -> None:
    """Shut off from the room and not beaten, its bath ends where its energy puts ice and brine."""
    rigs = replace(usual_rig(), open_w_k=np.zeros(1))
    start = replace(START, salt_g=300.0)
    state = rig.poured(before_the_pour(CURVE, start, rigs), 1200.0, 4.0)
    for _ in range(9_000):
        state = rig.advanced(state, 2.0, Drive(leak_share=0.0))
    end_c = float(state.bath_c()[0])
    z = state.zones
    rest = equilibrium(
        z.salt,
        float(z.ice_g.sum()),
        float(z.water_g.sum()),
        float((z.dissolved_g + z.grains_g).sum()),
        float((z.heat_j - z.metal_j_k * end_c).sum()),
    )
    held(
        "Rig shut off from the room, bath after 5 h",
        end_c,
        rest.t_c,
        within=0.02,
        unit="°C",
        source="phase equilibrium of its ice, brine and salt",
    )


def test_ice_without_salt_stays_at_its_melting_point(held: Held) -> None:
    """A bath of ice and water takes the mix's heat at 0 °C."""
    start = replace(START, salt_g=0.0, water_g=800.0)
    of = course(CURVE, start, usual_rig(), beat_s=1800.0, step_s=2.0)
    held(
        "Rig without salt, bath after half an hour of beating",
        float(of.bath_c[-1, 0]),
        0.0,
        within=0.6,
        unit="°C",
        source="melting point of ice",
    )


def test_ice_melts_by_what_the_room_lets_in(held: Held) -> None:
    """Idle salt-free slush melts by the leak over the heat of fusion."""
    rigs, hours = usual_rig(), 2.0
    start = replace(START, salt_g=0.0, wet_pct=25.0, ice_c=0.0, bowls_c=0.0)
    state = before_the_pour(CURVE, start, rigs)
    before = float(state.zones.ice_g[0, 0])
    for _ in range(round(hours * 1800.0)):
        state = rig.advanced(state, 2.0, Drive(0.0, 22.0, 22.0))
    melted = before - float(state.zones.ice_g[0, 0])
    held(
        "Rig idle with ice and water, ice melted in 2 h by a leak of 1.5 W/K in a 22 °C room",
        melted,
        1.5 * 22.0 * hours * 3600.0 / heat_of_fusion_j_g(0.0),
        within=15.0,
        unit="g",
        source="leak over heat of fusion",
    )


def test_a_turned_and_scraped_freezer_freezes_two_quarts_in_ten_minutes(held: Held) -> None:
    """Rorer: two quarts in about ten minutes of turning, ten pounds of ice, 1.5 quarts of salt.

    A turned can in moving brine with a scraper: 0.11 m² of wall at 300 W/(m² K) (own estimate), no
    layer, and finished at 45 % frozen (common practice, no source).
    """
    turned = replace(
        usual_rig(),
        ua_w_k=np.array([33.0]),
        stiffening=np.array([0.5]),
        stick_share=np.array([0.01]),
        cover_g=np.array([200.0]),
    )
    start = Start(mix_g=2000.0, ice_g=4536.0, salt_g=1700.0, mix_c=5.0)
    of = course(CURVE, start, turned, beat_s=3600.0, step_s=2.0)
    held(
        "Turned and scraped can of 2 quarts, time to 45 % of the water frozen",
        float(reached_s(of, 45.0)[0]) / 60.0,
        10.0,
        within=4.0,
        unit="min",
        source="Rorer, Ice Creams, Water Ices, Frozen Puddings (Gutenberg 8501)",
    )
