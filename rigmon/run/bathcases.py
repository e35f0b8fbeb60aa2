"""What a bath may be over the spread of its estimate, and room and balance of what goes into it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics import bath, brine
from rigmon.physics.bowls import SALT_CRYSTAL_G_ML, room_for_ice_ml
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import usual_rig
from rigmon.physics.salts import salt
from rigmon.physics.zones import Zones
from rigmon.records import BowlSetup, Estimate, IceKind, SaltKind
from rigmon.records.planning import SaltName

USUAL_LOAD_W = 200.0
"""Heat into the bath where it is not known [W] (common practice, no source)."""
_CASES = 64
_LOAD_LOG_SD, _SURFACE_LOG_SD = 0.25, 0.25
"""How surely the load and the ice's surface are known, as logarithms (own estimates)."""
_ICE_C, _ICE_SD_K, _WET_SHARE = -2.0, 3.0, 0.03
"""Ice as it comes [°C], how surely [K], and the water that clings to it (own estimates)."""
SALT_C, METAL_J_K = 20.0, 600.0
"""Salt as it comes [°C]; heat capacity of the two bowls [J/K] (common practice, no source)."""
_LEAST_LOOSENED = 0.5
"""Of the salt that lies undissolved stirring brings at least so much to work (own estimate)."""
SALT = salt(SaltName.SODIUM_CHLORIDE)
_MOST_DRAINED = 0.9
ICE_STEP_G = 50.0
"""Ice is rounded to this [g]."""


@dataclass(frozen=True, slots=True, eq=False)
class Cases:
    """What the bath may be, case by case; each array is (n, 1).

    Args:
        bath_c: temperature [°C].
        ice_g: ice [g].
        water_g: water in the brine [g].
        dissolved_g: salt in it [g].
        caked_g: salt that lies undissolved [g].
        loosened: share of that which stirring brings to work.
        load_w: heat flowing in [W].
        melts_w_k_kg: conductance between ice and brine [W/K per kg].
        new_ice_c: the ice that is added [°C].
        wet_share: water that clings to it.
    """

    bath_c: float
    ice_g: Array
    water_g: Array
    dissolved_g: Array
    caked_g: Array
    loosened: Array
    load_w: Array
    melts_w_k_kg: Array
    new_ice_c: Array
    wet_share: Array


def cases(estimate: Estimate, load_w: float | None, n: int = _CASES) -> Cases | None:
    """Cases of a bath over the spread of its estimate.

    Args:
        estimate: the bath now.
        load_w: heat flowing in [W]; a usual 200 W if not known.
        n: how many, an even number.

    Returns:
        None where ice or salt is not known.
    """
    left, salt_g, water = estimate.ice_left_g, estimate.salt_g, estimate.brine_water_g
    bath_c, strength = estimate.bath_c, estimate.brine_pct
    if left is None or salt_g is None or water is None or bath_c is None or strength is None:
        return None
    half = np.random.default_rng(n).standard_normal((n // 2, 5))
    z = np.concatenate([half, -half])
    z_ice, z_pct, z_load, z_surface, z_new = z.T[:, :, None]
    load = max(USUAL_LOAD_W if load_w is None else load_w, 1.0)
    load_sd = math.hypot(_LOAD_LOG_SD, (estimate.cooling_w_sd or 0.0) / load)
    pct = np.clip(strength + (estimate.brine_pct_sd or 0.0) * z_pct, 0.1, brine.EUTECTIC_PCT)
    per_water = pct / (100.0 - pct)
    # No more water can stand at that strength than all of the salt makes brine of.
    least_ice = left + water - salt_g / per_water
    ice = np.clip(left + (estimate.ice_left_g_sd or 0.0) * z_ice, 0.0, left + water)
    ice = np.maximum(ice, least_ice)
    dissolved = np.minimum((left + water - ice) * per_water, salt_g)
    return Cases(
        bath_c,
        ice,
        left + water - ice,
        dissolved,
        salt_g - dissolved,
        np.linspace(_LEAST_LOOSENED, 1.0, n)[:, None],
        load * np.exp(load_sd * z_load),
        bath.melting_w_k_kg(IceKind.CRUSHED)[1] * np.exp(_SURFACE_LOG_SD * z_surface),
        np.minimum(_ICE_C + _ICE_SD_K * z_new, 0.0),
        _WET_SHARE * np.abs(1.0 + z_new),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Charged:
    """Cases with ice added and brine poured off; (n, k), k amounts of ice."""

    ice_g: Array
    water_g: Array
    dissolved_g: Array
    heat_j: Array


def charged(of: Cases, ice_g: Array, drain_g: Array) -> Charged:
    """(n, k) the cases with brine poured off, then ice put in."""
    kept = 1.0 - np.minimum(drain_g / np.maximum(of.water_g + of.dissolved_g, 1.0), 1.0)
    clings = of.wet_share * ice_g
    water, dissolved = of.water_g * kept, of.dissolved_g * kept
    there_j = bath.enthalpy_j(
        SALT,
        of.ice_g + 0.0 * ice_g,
        water,
        dissolved,
        of.caked_g + 0.0 * ice_g,
        like(water, of.bath_c),
    )
    comes_j = (ice_g - clings) * brine.ice_enthalpy_j_g(of.new_ice_c)
    return Charged(
        of.ice_g + ice_g - clings,
        water + clings,
        dissolved,
        there_j + comes_j + METAL_J_K * of.bath_c,
    )


def like(shape: Array, value: float) -> Array:
    """An array of that shape, all of one value."""
    return np.full_like(shape, value)


def caked_g(estimate: Estimate) -> float | None:
    """Salt that lies in the bath undissolved [g], if its masses are known."""
    salt_g, water_g = estimate.salt_g, estimate.brine_water_g
    pct = estimate.brine_pct
    if salt_g is None or water_g is None or pct is None:
        return None
    return salt_g - water_g * pct / (100.0 - pct)


def put_in(of: Cases, ice_g: float, salt_g: float, drain_g: float) -> Zones:
    """The baths after a recharge, as the balance of ice, brine and salt carries them on."""
    one = of.ice_g.T
    rig = usual_rig()
    rigs = rig.chosen(np.zeros(one.size, dtype=np.intp))
    bare = Zones.empty(rigs, SALT, of.bath_c)
    parts = (of.ice_g.T, of.water_g.T, of.dissolved_g.T, of.caked_g.T * of.loosened.T)
    stands = replace(
        bare,
        heat_j=bath.enthalpy_j(SALT, *parts, like(one, of.bath_c)) + bare.heat_j,
        ice_g=parts[0],
        water_g=parts[1],
        dissolved_g=parts[2],
        grains_g=parts[3],
        ice_put_g=parts[0],
        melts_w_k_kg=of.melts_w_k_kg[:, 0],
        grain_s=np.full(one.size, bath.dissolving_s(SaltKind.FINE)[1]),
    )
    poured, _ = stands.drained(drain_g)
    added, _ = poured.add(
        ice_g,
        of.new_ice_c[:, 0],
        IceKind.CRUSHED,
        100.0 * of.wet_share[:, 0],
        salt_g,
        SaltKind.FINE,
        SALT_C,
    )
    return added


class Room:
    """Room between the bowls: ice stands as a heap, brine and salt in its voids."""

    def __init__(self, estimate: Estimate, bowls: BowlSetup) -> None:
        self._ice_g, salt_g = estimate.ice_left_g or 0.0, estimate.salt_g or 0.0
        water_g, pct = estimate.brine_water_g or 0.0, estimate.brine_pct or 0.0
        dissolved_g = min(water_g * pct / (100.0 - pct), salt_g)
        self._caked_ml = (salt_g - dissolved_g) / SALT_CRYSTAL_G_ML
        self._brine_g = water_g + dissolved_g
        self._density = brine.density_g_ml(pct, max(estimate.bath_c or 0.0, brine.EUTECTIC_C))
        self._bulk = brine.bulk_density_g_ml("crushed")[0]
        self._room_ml = room_for_ice_ml(bowls)

    def most_ice_g(self) -> float:
        """Ice that can be added to the heap [g]."""
        most = self._bulk * self._room_ml - self._ice_g
        return ICE_STEP_G * math.floor(max(most, 0.0) / ICE_STEP_G)

    def drain_g(self, ice_g: Array, salt_g: Array) -> Array:
        """Brine to pour off so that ice and salt fit [g]; inf where that is not enough."""
        solid = (self._ice_g + ice_g) / brine.ICE_DENSITY_G_ML + salt_g / SALT_CRYSTAL_G_ML
        over_ml = solid + self._caked_ml + self._brine_g / self._density - self._room_ml
        drain = 10.0 * np.ceil(np.maximum(over_ml * self._density, 0.0) / 10.0)
        heaped = (self._ice_g + ice_g <= self._bulk * self._room_ml) | (ice_g <= 0.0)
        return np.where(heaped & (drain <= _MOST_DRAINED * self._brine_g), drain, np.inf)
