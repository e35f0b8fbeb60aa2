"""What freezing a mix takes, and what room and heat conduction it has: with ice and air in it."""

from __future__ import annotations

import numpy as np

from rigmon.physics.choi_okos import Component, component_conductivity_w_mk, component_density_g_ml
from rigmon.physics.mix import FreezingCurve, components
from rigmon.physics.numbers import Number
from rigmon.records import Composition

DISSOLVED_ETHANOL_G_ML = 0.85
"""Ethanol as it adds to the volume of a mix [g/ml], after the density of its solutions: 0.9894 g/ml
with 5 %, 0.9819 with 10 % at 20 °C (CRC Handbook, from memory)."""

AIR_W_MK = 0.024
"""Thermal conductivity of air at 0 °C [W/(m K)] (CRC Handbook, from memory)."""


def apparent_specific_heat_j_gk(curve: FreezingCurve, t_c: Number) -> Number:
    """Specific heat [J per g of mix and K] at equilibrium, freezing and melting included: dh/dT.

    The slope of the curve's own enthalpy, so that its integral is the heat exactly: it jumps at the
    freezing point, where it is greatest. Valid where the curve is, -40 to 100 °C; without bound for
    water with nothing dissolved in it.

    Args:
        curve: how the mix freezes.
        t_c: temperature [°C].

    >>> from rigmon.physics.mix import freezing_curve
    >>> sorbet = freezing_curve(Composition(water=74.0, sucrose=26.0))
    >>> [round(apparent_specific_heat_j_gk(sorbet, t), 1) for t in (4.0, -2.5, -5.0, -18.0)]
    [3.5, 78.4, 21.6, 3.9]
    """
    slopes = np.diff(curve.heat_j_g) / np.diff(curve.heat_c)
    at = np.searchsorted(curve.heat_c, t_c, side="right") - 1
    slope = slopes[np.clip(at, 0, len(slopes) - 1)]
    return slope if isinstance(t_c, np.ndarray) else float(slope)


def heat_to_j_g(curve: FreezingCurve, from_c: Number, to_frozen_pct: Number) -> Number:
    """Heat to take out [J per g of mix] to bring a mix from a temperature to a frozen share.

    q = h(from_c) - h(T(to_frozen_pct)), negative where the mix is to be warmed. A batch takes its
    mass times this, without bowl and beaters. Share 0 is the mix at its freezing point.

    Args:
        curve: how the mix freezes.
        from_c: temperature it has [°C]; below the freezing point it is partly frozen already.
        to_frozen_pct: share of the water that is to be ice [%].

    >>> from rigmon.physics.mix import freezing_curve
    >>> sorbet = freezing_curve(Composition(water=74.0, sucrose=26.0))
    >>> round(heat_to_j_g(sorbet, 4.0, 50.0))
    150
    """
    return curve.enthalpy_j_g(from_c) - curve.enthalpy_j_g(curve.temperature_c(to_frozen_pct))


def after_heat(curve: FreezingCurve, from_c: Number, heat_j_g: Number) -> tuple[Number, Number]:
    """Temperature [°C] and frozen share [%] of a mix once heat is taken out. Undoes `heat_to_j_g`.

    Args:
        curve: how the mix freezes.
        from_c: temperature it had [°C].
        heat_j_g: heat taken out [J per g of mix].

    >>> from rigmon.physics.mix import freezing_curve
    >>> sorbet = freezing_curve(Composition(water=74.0, sucrose=26.0))
    >>> [round(x, 1) for x in after_heat(sorbet, 4.0, 145.0)]
    [-4.5, 48.1]
    """
    return curve.from_enthalpy(curve.enthalpy_j_g(from_c) - heat_j_g)


def density_g_ml(composition: Composition, t_c: Number, frozen_pct: Number | float = 0.0) -> Number:
    """Density [g/ml] of a mix without air.

    1/rho = the sum of x_i/rho_i by Choi & Okos (see `choi_okos`), with ethanol at 0.85 g/ml and the
    frozen share of the water as ice. Valid -40 to 100 °C.

    Args:
        composition: what the mix is made of.
        t_c: temperature [°C].
        frozen_pct: share of the water that is ice [%].

    >>> typical = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    >>> round(density_g_ml(typical, 5.0), 3), round(density_g_ml(typical, -5.0, 48.0), 3)
    (1.089, 1.06)
    """
    volumes = _volumes_ml_g(composition, t_c, frozen_pct)
    ethanol = composition.alcohol / 100.0
    mass = sum(components(composition).values()) + ethanol
    ml = ethanol / DISSOLVED_ETHANOL_G_ML + 0.0 * t_c
    for volume in volumes.values():
        ml = ml + volume
    return mass / ml


def volume_ml(mass_g: Number, density_g_ml: Number, overrun_pct: Number | float = 0.0) -> Number:
    """Volume [ml] of a mix with the air that is beaten into it: V = m/rho (1 + overrun/100).

    Args:
        mass_g: mass [g].
        density_g_ml: density without air [g/ml].
        overrun_pct: volume of the air over that of the mix [%].

    >>> round(volume_ml(1200.0, 1.09, 30.0))
    1431
    """
    return mass_g / density_g_ml * (1.0 + overrun_pct / 100.0)


def conductivity_w_mk(
    composition: Composition,
    t_c: Number,
    frozen_pct: Number | float = 0.0,
    overrun_pct: Number | float = 0.0,
) -> Number:
    """Thermal conductivity [W/(m K)] of a mix, unfrozen or partly frozen, with air.

    Without air k = the sum of v_i k_i, v_i the volume shares (Choi & Okos 1986, components side by
    side; alcohol left out). No arrangement of the components conducts better, and a frozen mix may
    conduct a fifth less (own estimate). Air as round bubbles of conductivity a, a share e of the
    whole: k (2k + a - 2e(k - a))/(2k + a + e(k - a)) (Maxwell; in the ASHRAE Handbook,
    Refrigeration, "Thermal Properties of Foods" as Maxwell-Eucken). Valid -40 to 100 °C.

    Args:
        composition: what the mix is made of.
        t_c: temperature [°C].
        frozen_pct: share of the water that is ice [%].
        overrun_pct: volume of the air over that of the mix [%].

    >>> typical = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    >>> round(conductivity_w_mk(typical, 5.0), 2), round(conductivity_w_mk(typical, -5.0, 48.0), 2)
    (0.45, 1.02)
    >>> round(conductivity_w_mk(typical, -18.0, 83.0, 30.0), 2)
    1.04
    """
    volumes = _volumes_ml_g(composition, t_c, frozen_pct)
    ml = carried = 0.0 * t_c
    for component, volume in volumes.items():
        ml = ml + volume
        carried = carried + volume * component_conductivity_w_mk(component, t_c)
    k = carried / ml
    air = overrun_pct / (100.0 + overrun_pct)
    less = air * (k - AIR_W_MK)
    return k * (2.0 * k + AIR_W_MK - 2.0 * less) / (2.0 * k + AIR_W_MK + less)


def _volumes_ml_g(
    composition: Composition, t_c: Number, frozen_pct: Number | float
) -> dict[Component, Number]:
    shares = components(composition)
    water = shares.pop("water")
    volumes: dict[Component, Number] = {
        component: share / component_density_g_ml(component, t_c)
        for component, share in shares.items()
    }
    ice = water * frozen_pct / 100.0
    volumes["water"] = (water - ice) / component_density_g_ml("water", t_c)
    volumes["ice"] = ice / component_density_g_ml("ice", t_c)
    return volumes
