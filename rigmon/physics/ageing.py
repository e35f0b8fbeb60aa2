"""What ice, water and salt become once put together, and how that ages as it takes up heat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rigmon.physics import bath, brine
from rigmon.physics.numbers import Array, Number
from rigmon.physics.salts import Salt


def put_in_j(
    salt: Salt,
    ice_g: Number,
    ice_c: Number,
    water_g: Number,
    water_c: Number,
    salt_g: Number,
    salt_c: Number,
) -> Number:
    """Enthalpy [J] of ice, water and dry salt, each at its own temperature, not yet mixed.

    Args:
        salt: which salt.
        ice_g: ice [g].
        ice_c: its temperature, 0 or below [°C].
        water_g: water [g].
        water_c: its temperature [°C].
        salt_g: salt as weighed [g].
        salt_c: its temperature [°C].

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> round(put_in_j(salt(SaltName.SODIUM_CHLORIDE), 1.0, 0.0, 0.0, 20.0, 0.0, 20.0), 1)
    -333.5
    """
    ice_j = ice_g * brine.ice_enthalpy_j_g(ice_c)
    water_j = water_g * salt.brine_j_g(0.0 * water_c, water_c)
    return ice_j + water_j + salt_g * salt.solid_j_gk * salt_c


def mixed(
    salt: Salt,
    ice_g: float,
    ice_c: float,
    water_g: float,
    water_c: float,
    salt_g: float,
    salt_c: float,
) -> bath.Equilibrium:
    """Where ice, water and salt come to rest when no heat comes in; arguments as `put_in_j`.

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> round(mixed(salt(SaltName.SODIUM_CHLORIDE), 100.0, 0.0, 0.0, 0.0, 33.0, 0.0).t_c, 1)
    -21.1
    """
    heat_j = put_in_j(salt, ice_g, ice_c, water_g, water_c, salt_g, salt_c)
    return bath.equilibrium(salt, ice_g, water_g, salt_g, heat_j)


@dataclass(frozen=True, slots=True)
class Ageing:
    """How a bath at rest warms and spends its ice as it takes up heat.

    Args:
        heat_j: heat taken up since ice, water and salt were mixed, rising from 0 [J].
        t_c: temperature [°C].
        ice_g: ice left [g].
        last_ice_c: temperature as the last ice melts; the first one where there was none [°C].
        last_ice_j: heat taken up by then; 0 where there was none [J].
    """

    heat_j: Array
    t_c: Array
    ice_g: Array
    last_ice_c: float
    last_ice_j: float


def ageing(
    salt: Salt,
    ice_g: float,
    ice_c: float,
    water_g: float,
    water_c: float,
    salt_g: float,
    salt_c: float,
    points: int = 60,
) -> Ageing:
    """The curve from the mixed bath to its last ice and a tenth further.

    Args:
        salt: which salt.
        ice_g: ice [g].
        ice_c: its temperature, 0 or below [°C].
        water_g: water [g].
        water_c: its temperature [°C].
        salt_g: salt as weighed [g].
        salt_c: its temperature [°C].
        points: equal steps of heat up to the last ice.

    >>> from rigmon.physics.salts import salt
    >>> from rigmon.records import SaltName
    >>> curve = ageing(salt(SaltName.SODIUM_CHLORIDE), 3000.0, -2.0, 0.0, 0.0, 750.0, 20.0)
    >>> round(float(curve.t_c[0]), 1), round(curve.last_ice_c, 1), round(curve.last_ice_j / 1000.0)
    (-21.1, -16.5, 833)
    """
    start_j = put_in_j(salt, ice_g, ice_c, water_g, water_c, salt_g, salt_c)
    charge, settled_j = bath.settled(salt, ice_g + water_g, salt_g, start_j)
    last = charge.last_ice()
    last_j = max(charge.heat_j(last) - settled_j, 0.0)
    last_c = last.t_c if last_j > 0.0 else charge.at_rest(settled_j).t_c
    span_j = last_j if last_j > 0.0 else 4.0 * (charge.free_g + charge.salt_g)
    heat_j = span_j * np.arange(points + points // 10 + 1) / points
    along = [charge.at_rest(settled_j + heat) for heat in heat_j.tolist()]
    t_c = np.array([each.t_c for each in along])
    return Ageing(heat_j, t_c, np.array([each.ice_g for each in along]), last_c, last_j)
