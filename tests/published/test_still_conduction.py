"""Standing mix against the exact solutions of conduction and freezing in textbooks."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from rigmon.physics.brine import heat_of_fusion_j_g
from rigmon.physics.mix import freezing_curve
from rigmon.physics.still import FROZEN_W_MK, MIX_G_ML, bodies
from rigmon.records import Composition

if TYPE_CHECKING:
    from tests.published.conftest import Held

# F. P. Incropera & D. P. DeWitt, Fundamentals of Heat and Mass Transfer, table 5.1 (first
# coefficients of the one-term solution, from memory; each zeta solves 1 - zeta cot zeta = Bi for
# the sphere and zeta tan zeta = Bi for the slab): Biot number, zeta, C.
SPHERE = ((0.5, 1.1656, 1.1441), (1.0, 1.5708, 1.2732), (5.0, 2.5704, 1.7870))
SLAB = ((0.5, 0.6533, 1.0701), (1.0, 0.8603, 1.1191), (5.0, 1.3138, 1.2403))


def test_a_body_cools_as_the_one_term_solutions_say(held: Held) -> None:
    """The middle of an unfrozen slab and sphere, cooled from 20 towards 5 °C, at Fo = 0.5."""
    curve = freezing_curve(Composition(water=70.0, sucrose=30.0))
    capacity = (curve.enthalpy_j_g(20.0) - curve.enthalpy_j_g(5.0)) / 15.0
    conducts, half_m = 0.5, 0.05
    for shape, power, rows in (("slab", 0.0, SLAB), ("sphere", 2.0, SPHERE)):
        for biot, zeta, coefficient in rows:
            area = 0.1
            mass = MIX_G_ML * 1e6 * area * half_m / (power + 1.0)
            body = bodies(
                curve,
                np.array([mass]),
                20.0,
                np.zeros(1),
                np.array([area]),
                np.array([conducts]),
                power,
                count=40,
            )
            seconds = 0.5 * MIX_G_ML * 1e6 * capacity * half_m**2 / conducts
            film = np.array([biot * conducts / half_m * area])
            for _ in range(200):
                body, _ = body.after(seconds / 200.0, 5.0, film)
            # The innermost shell's middle lies a little off the body's.
            off = zeta * 0.5 / 40.0
            shape_off = math.cos(off) if power == 0.0 else math.sin(off) / off
            exact = coefficient * math.exp(-(zeta**2) * 0.5) * shape_off
            held(
                f"{shape.capitalize()}: share of the excess left in the middle after L²/(2 α)",
                (body.core_c()[0] - 5.0) / 15.0,
                exact,
                within=0.01,
                unit="1",
                source="Incropera & DeWitt, table 5.1 (from memory)",
            )


def test_water_freezes_as_fast_as_stefan_and_neumann_say(held: Held) -> None:
    """A front runs into water at 0 °C as 2 λ √(α t), λ e^{λ²} erf λ = Ste/√π.

    Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., § 11.2 (from memory).
    """
    curve = freezing_curve(Composition(water=99.5, sucrose=0.5))
    wall_c, seconds = -15.0, 3600.0
    # Ice and water of one density, as the model has it; the specific heat is that of its ice.
    density = MIX_G_ML * 1e6
    ice_j_gk = (curve.enthalpy_j_g(-8.0) - curve.enthalpy_j_g(wall_c)) / (-8.0 - wall_c)
    stefan = ice_j_gk * -wall_c / heat_of_fusion_j_g(0.0)
    front = brentq(
        lambda x: x * math.exp(x * x) * math.erf(x) - stefan / math.sqrt(math.pi), 1e-6, 2.0
    )
    diffuses = FROZEN_W_MK / (density * ice_j_gk)
    exact_m = 2.0 * front * math.sqrt(diffuses * seconds)
    area, deep_m = 0.1, 3.0 * exact_m
    body = bodies(
        curve,
        np.array([density * area * deep_m]),
        0.0,
        np.zeros(1),
        np.array([area]),
        np.array([FROZEN_W_MK]),
        0.0,
        count=120,
    )
    for _ in range(240):
        body, _ = body.after(seconds / 240.0, wall_c, np.array([1e6]))
    _, frozen = body.state()
    frozen_m = frozen.mean() / 100.0 * deep_m
    held(
        "Freezing front in water, 1 h after its wall went to -15 °C",
        1000.0 * frozen_m,
        1000.0 * exact_m,
        within=0.5,
        unit="mm",
        source="Neumann's solution: Carslaw & Jaeger, 2nd ed., § 11.2 (from memory)",
    )
