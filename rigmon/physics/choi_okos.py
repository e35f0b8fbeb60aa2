"""Thermal properties of foods from what they are made of: the Choi-Okos correlations.

Y. Choi & M. R. Okos, Effects of temperature and composition on the thermal properties of foods, in
Food Engineering and Process Applications vol. 1 (1986), pp. 93-101, reprinted in the ASHRAE
Handbook, Refrigeration, "Thermal Properties of Foods", tables 1 and 2. Valid -40 to 150 °C.

The constant of water's specific heat is 4.1762 as in the original: the reprint's 4.1289 is 1.1 %
under the steam tables above 0 °C.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from rigmon.physics.numbers import Number, polynomial

Component = Literal["water", "ice", "protein", "fat", "carbohydrate", "fibre", "ash"]

_CP_J_GK: Mapping[Component, tuple[float, float, float]] = MappingProxyType(
    {
        "water": (4.1762, -9.0864e-5, 5.4731e-6),
        "ice": (2.0623, 6.0769e-3, 0.0),
        "protein": (2.0082, 1.2089e-3, -1.3129e-6),
        "fat": (1.9842, 1.4733e-3, -4.8008e-6),
        "carbohydrate": (1.5488, 1.9625e-3, -5.9399e-6),
        "fibre": (1.8459, 1.8306e-3, -4.6509e-6),
        "ash": (1.0926, 1.8896e-3, -3.6817e-6),
    }
)
_DENSITY_KG_M3: Mapping[Component, tuple[float, float, float]] = MappingProxyType(
    {
        "water": (997.18, 3.1439e-3, -3.7574e-3),
        "ice": (916.89, -0.13071, 0.0),
        "protein": (1329.9, -0.5184, 0.0),
        "fat": (925.59, -0.41757, 0.0),
        "carbohydrate": (1599.1, -0.31046, 0.0),
        "fibre": (1311.5, -0.36589, 0.0),
        "ash": (2423.8, -0.28063, 0.0),
    }
)
_CONDUCTIVITY_W_MK: Mapping[Component, tuple[float, float, float]] = MappingProxyType(
    {
        "water": (0.57109, 1.7625e-3, -6.7036e-6),
        "ice": (2.2196, -6.2489e-3, 1.0154e-4),
        "protein": (0.17881, 1.1958e-3, -2.7178e-6),
        "fat": (0.18071, -2.7604e-4, -1.7749e-7),
        "carbohydrate": (0.20141, 1.3874e-3, -4.3312e-6),
        "fibre": (0.18331, 1.2497e-3, -3.1683e-6),
        "ash": (0.32962, 1.4011e-3, -2.9069e-6),
    }
)


def component_specific_heat_j_gk(component: Component, t_c: Number) -> Number:
    """Specific heat [J/(g K)] of one component at `t_c` [°C]: a + b t + c t².

    Water's is that of liquid water above 0 °C and is not meant below.

    >>> round(component_specific_heat_j_gk("fat", 20.0), 3)
    2.012
    """
    return polynomial(t_c, _CP_J_GK[component])


def component_enthalpy_j_g(component: Component, t_c: Number) -> Number:
    """Integral of the specific heat of one component from 0 °C to `t_c` [°C], in J/g.

    >>> round(component_enthalpy_j_g("water", 20.0), 1)
    83.5
    """
    a, b, c = _CP_J_GK[component]
    return t_c * polynomial(t_c, (a, b / 2.0, c / 3.0))


def component_density_g_ml(component: Component, t_c: Number) -> Number:
    """Density [g/ml] of one component at `t_c` [°C]: a + b t + c t².

    >>> round(component_density_g_ml("ice", -10.0), 3)
    0.918
    """
    return polynomial(t_c, _DENSITY_KG_M3[component]) / 1000.0


def component_conductivity_w_mk(component: Component, t_c: Number) -> Number:
    """Thermal conductivity [W/(m K)] of one component at `t_c` [°C]: a + b t + c t².

    >>> round(component_conductivity_w_mk("ice", -10.0), 2)
    2.29
    """
    return polynomial(t_c, _CONDUCTIVITY_W_MK[component])


def specific_heat_j_gk(shares: Mapping[Component, float], t_c: Number) -> Number:
    """Specific heat [J/(g K)] of an unfrozen food at `t_c` [°C]: the sum of x_i c_i.

    Args:
        shares: mass shares of the components; they are brought to a sum of 1.
        t_c: temperature [°C], from 0.

    >>> milk = {"water": 0.8769, "protein": 0.0328, "fat": 0.0366, "carbohydrate": 0.0465,
    ...         "ash": 0.0072}
    >>> round(specific_heat_j_gk(milk, 20.0), 2)
    3.88
    """
    total = sum(shares.values())
    cp = 0.0 * t_c
    for component, share in shares.items():
        cp = cp + share / total * component_specific_heat_j_gk(component, t_c)
    return cp


def density_g_ml(shares: Mapping[Component, float], t_c: Number) -> Number:
    """Density [g/ml] of an unfrozen food without air at `t_c` [°C]: 1/rho = the sum of x_i/rho_i.

    Args:
        shares: mass shares of the components; they are brought to a sum of 1.
        t_c: temperature [°C].

    >>> mix = {"water": 0.617, "fat": 0.125, "protein": 0.0378, "carbohydrate": 0.2102, "ash": 0.01}
    >>> round(density_g_ml(mix, 5.0), 3)
    1.089
    """
    total = sum(shares.values())
    ml_g = 0.0 * t_c
    for component, share in shares.items():
        ml_g = ml_g + share / total / component_density_g_ml(component, t_c)
    return 1.0 / ml_g
