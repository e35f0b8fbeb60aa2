"""What makes one virtual rig differ from the next: its parameters, their ranges, and a draw."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from numpy.random import Generator


@dataclass(frozen=True, slots=True)
class RigParameters:
    """One rig, one kitchen and one maker's hand. The defaults are the middle of each range.

    "Own estimate" is a calculation or a guess of the authors, "common practice" what kitchens hold
    to without a source; neither is a measurement.

    Args:
        cubes_w_k_kg: conductance from brine to cube ice [W/K per kg], 27 to 67; own estimate from
            100 to 300 W/(m² K) over the surface of 25 mm cubes.
        crushed_w_k_kg: the same for crushed ice [W/K per kg], 100 to 270; own estimate, 8 mm.
        cubes_core_s: time in which a cube's inside follows its surface [s], 15 to 40; own estimate
            from the diffusivity of ice.
        crushed_core_s: the same for crushed ice [s], 4 to 12; own estimate.
        fine_s: time constant of dissolving for fine salt in fresh water [s], 120 to 300; own
            estimate.
        kosher_s: for kosher salt [s], 300 to 600; own estimate.
        rock_s: for rock salt [s], 600 to 2,400; own estimate.
        sunk_share: share of the salt that falls to the bottom and cakes, 0.15 to 0.5; own estimate.
        sunk_slowness: how many times slower that salt dissolves, 1.5 to 5; own estimate.
        held_share: brine that wets all of the ice, as a share of the ice, 0.1 to 0.2; own estimate.
        cover_g: brine that covers the wetted part of the inner bowl [g], 400 to 900; own estimate
            from the gap between the bowls.
        pool_share: share of the brine that lies below the ice, 0.2 to 0.4; own estimate.
        exchange_g_s: brine that the two layers exchange while the bath stands [g/s], 0.15 to 3; own
            estimate: light melt on strong brine mixes slowly.
        leak_w_k: conductance from the room into the bare outer bowl [W/K], 1.0 to 2.2; own estimate
            from 8 to 14 W/(m² K) over 0.12 to 0.16 m².
        outer_metal_j_k: heat capacity of the outer bowl [J/K], 300 to 700; own estimate, 0.6 to 1.4
            kg of steel.
        ua_w_k: conductance from liquid mix to brine, covered bowl, full speed [W/K], 4 to 16,
            middle 8.7; own estimate.
        inside_share: share of that resistance on the mix's side, 0.3 to 0.5; own estimate.
        area_m2: wetted area of the inner bowl [m²], 0.040 to 0.062; geometry of a 4 l bowl.
        inner_metal_j_k: heat capacity of the inner bowl [J/K], 200 to 400; own estimate.
        layer_w_mk: conductivity of frozen, airy mix on the wall [W/(m K)], 0.6 to 1.0; own
            estimate.
        stick_pct: frozen share at which mix stays on the wall [%], 30 to 46; own estimate.
        sweep_s: time in which the beaters at full speed take off the wall layer [s], 70 to 500;
            own estimate: a hand mixer passes close to the wall but does not scrape it.
        serum_pas: viscosity of the unfrozen mix [Pa s], 0.025 to 0.1; from memory.
        thickening: exponent of viscosity on the ice in the mix [1 per unit share], 10 to 17; own
            fit to 0.5 to 2 Pa s at 15 % ice and 3 to 10 Pa s at 30 % (from memory).
        air_max_pct: air that the mix takes up in the end, as overrun [%], 15 to 40; common
            practice.
        air_s: time constant of that [s], 300 to 900; own estimate.
        beater_w: heat of the beaters in liquid mix at full speed [W], 2 to 10; own estimate.
        stiff_w: what is added at 3 Pa s [W], 20 to 70; own estimate from the power law of stirrers.
        open_w_k: conductance from the room into the open surface [W/K], 0.4 to 0.8; own estimate,
            0.04 m² at 10 to 20 W/(m² K).
        supercool_k: how far the bulk falls below its freezing point before ice forms [K], 0 to 1;
            own estimate for a stirred bowl.
        relax_s: time in which a just nucleated mix reaches equilibrium [s], 4 to 10; own estimate.
        freezing_shift_k: how much warmer than its recipe the mix freezes [K], normal, sd 0.1.
        freezing_stretch: factor on the recipe's further depression, normal, mean 1, sd 0.025.
        mix_factor: true mass of mix over what the maker says, normal, mean 1, sd 0.015.
        ice_factor: the same for ice, sd 0.02.
        salt_factor: the same for salt, sd 0.02.
        idle_w: electrical power of the mixer running free [W], 60 to 140; own estimate.
        efficiency: share of further electrical power that reaches the beaters, 0.3 to 0.6; own
            estimate.
        still_w_mk: conductivity of the unfrozen mix at rest, its slow currents included [W/(m K)],
            0.5 to 0.9; own estimate.
        freezer_film_w_m2k: heat transfer to a bowl or tub in freezer air [W/(m² K)], 6 to 14; own
            estimate.
        freezer_c: mean temperature of the freezer's air [°C], -21 to -16.5; common practice.
        freezer_swing_k: half of what the thermostat lets it swing [K], 0.6 to 1.8; common practice.
        freezer_cycle_s: length of that swing [s], 1,500 to 2,700; common practice.
        door_per_h: how often the freezer's door is opened [1/h], 0.1 to 0.6; common practice.
        handling_j_g: heat that filling into tubs costs the mix [J/g], 2 to 6; own estimate.
        stir_in_s: time in which round 2 stirs the scraped wall into the core [s], 15 to 40; own
            estimate.
    """

    cubes_w_k_kg: float = 43.0
    crushed_w_k_kg: float = 165.0
    cubes_core_s: float = 25.0
    crushed_core_s: float = 7.0
    fine_s: float = 190.0
    kosher_s: float = 420.0
    rock_s: float = 1200.0
    sunk_share: float = 0.3
    sunk_slowness: float = 2.7
    held_share: float = 0.14
    cover_g: float = 600.0
    pool_share: float = 0.3
    exchange_g_s: float = 0.7
    leak_w_k: float = 1.5
    outer_metal_j_k: float = 450.0
    ua_w_k: float = 8.7
    inside_share: float = 0.4
    area_m2: float = 0.05
    inner_metal_j_k: float = 300.0
    layer_w_mk: float = 0.8
    stick_pct: float = 38.0
    sweep_s: float = 185.0
    serum_pas: float = 0.05
    thickening: float = 13.5
    air_max_pct: float = 25.0
    air_s: float = 520.0
    beater_w: float = 4.5
    stiff_w: float = 37.0
    open_w_k: float = 0.57
    supercool_k: float = 0.5
    relax_s: float = 6.5
    freezing_shift_k: float = 0.0
    freezing_stretch: float = 1.0
    mix_factor: float = 1.0
    ice_factor: float = 1.0
    salt_factor: float = 1.0
    idle_w: float = 90.0
    efficiency: float = 0.45
    still_w_mk: float = 0.65
    freezer_film_w_m2k: float = 9.0
    freezer_c: float = -18.5
    freezer_swing_k: float = 1.1
    freezer_cycle_s: float = 2000.0
    door_per_h: float = 0.25
    handling_j_g: float = 3.5
    stir_in_s: float = 25.0


def draw_parameters(rng: Generator) -> RigParameters:
    """A rig drawn from the ranges that `RigParameters` names.

    Scales of nature (conductances, times, powers) are drawn evenly in their logarithm, shares and
    temperatures evenly, weighing errors from a normal distribution.
    """

    def scale(low: float, high: float) -> float:
        return math.exp(rng.uniform(math.log(low), math.log(high)))

    def even(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    def near(mean: float, sd: float) -> float:
        return float(rng.normal(mean, sd))

    return RigParameters(
        cubes_w_k_kg=scale(27.0, 67.0),
        crushed_w_k_kg=scale(100.0, 270.0),
        cubes_core_s=scale(15.0, 40.0),
        crushed_core_s=scale(4.0, 12.0),
        fine_s=scale(120.0, 300.0),
        kosher_s=scale(300.0, 600.0),
        rock_s=scale(600.0, 2400.0),
        sunk_share=even(0.15, 0.5),
        sunk_slowness=scale(1.5, 5.0),
        held_share=even(0.1, 0.2),
        cover_g=scale(400.0, 900.0),
        pool_share=even(0.2, 0.4),
        exchange_g_s=scale(0.15, 3.0),
        leak_w_k=scale(1.0, 2.2),
        outer_metal_j_k=scale(300.0, 700.0),
        ua_w_k=min(max(math.exp(rng.normal(math.log(8.7), 0.33)), 4.0), 16.0),
        inside_share=even(0.3, 0.5),
        area_m2=even(0.040, 0.062),
        inner_metal_j_k=scale(200.0, 400.0),
        layer_w_mk=even(0.6, 1.0),
        stick_pct=even(30.0, 46.0),
        sweep_s=scale(70.0, 500.0),
        serum_pas=scale(0.025, 0.1),
        thickening=even(10.0, 17.0),
        air_max_pct=even(15.0, 40.0),
        air_s=scale(300.0, 900.0),
        beater_w=scale(2.0, 10.0),
        stiff_w=scale(20.0, 70.0),
        open_w_k=even(0.4, 0.8),
        supercool_k=even(0.0, 1.0),
        relax_s=even(4.0, 10.0),
        freezing_shift_k=near(0.0, 0.1),
        freezing_stretch=near(1.0, 0.025),
        mix_factor=near(1.0, 0.015),
        ice_factor=near(1.0, 0.02),
        salt_factor=near(1.0, 0.02),
        idle_w=scale(60.0, 140.0),
        efficiency=even(0.3, 0.6),
        still_w_mk=even(0.5, 0.9),
        freezer_film_w_m2k=scale(6.0, 14.0),
        freezer_c=even(-21.0, -16.5),
        freezer_swing_k=even(0.6, 1.8),
        freezer_cycle_s=even(1500.0, 2700.0),
        door_per_h=scale(0.1, 0.6),
        handling_j_g=even(2.0, 6.0),
        stir_in_s=scale(15.0, 40.0),
    )


def varied(rig: RigParameters, rng: Generator) -> RigParameters:
    """The same rig on another day: other ice, another hand, scales read anew.

    Times to stiffen differ by 10 to 20 % from run to run in one kitchen (common practice, no
    source); what belongs to the metal stays.
    """

    def about(value: float, share: float) -> float:
        return value * math.exp(float(rng.normal(0.0, share)))

    return replace(
        rig,
        ua_w_k=about(rig.ua_w_k, 0.07),
        cubes_w_k_kg=about(rig.cubes_w_k_kg, 0.12),
        crushed_w_k_kg=about(rig.crushed_w_k_kg, 0.12),
        fine_s=about(rig.fine_s, 0.15),
        kosher_s=about(rig.kosher_s, 0.15),
        rock_s=about(rig.rock_s, 0.15),
        leak_w_k=about(rig.leak_w_k, 0.06),
        sweep_s=about(rig.sweep_s, 0.15),
        beater_w=about(rig.beater_w, 0.08),
        stiff_w=about(rig.stiff_w, 0.08),
        supercool_k=float(rng.uniform(0.0, 1.0)),
        freezing_shift_k=float(rng.normal(0.0, 0.07)),
        freezing_stretch=float(rng.normal(1.0, 0.02)),
        mix_factor=float(rng.normal(1.0, 0.012)),
        ice_factor=float(rng.normal(1.0, 0.02)),
        salt_factor=float(rng.normal(1.0, 0.02)),
    )
