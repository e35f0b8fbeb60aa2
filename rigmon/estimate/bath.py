"""The bath: how strong its brine is, how much ice is left, and when it will give out.

The brine's strength follows from its temperature, since it rests on the liquidus but for the
little that melting needs. The ice follows from heat: what leaked in, what the mix gave, what the
ice and salt had in them at the start. Where the salt is known, the brine cannot hold more than
that, which bounds what has melted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rigmon.physics import brine
from rigmon.records import IceKind, RigSetup

Array = NDArray[np.float64]

LEAK_W_K = 1.6
"""Conductance from the room into a bare outer bowl [W/K], usual value; 1.0 to 2.2 (own estimate
from film coefficients of still and of humid air)."""
_LEAK_SHARE_SD = 0.3
ROOM_C = 21.0
"""Room where nobody said [°C]."""
_ROOM_SD = 3.0
_ICE_START_C = -2.0
_ICE_START_SD = 3.0
_WET_SHARE_SD = 0.03
_WATER_START_C = 10.0
_SALT_J_GK = 0.86
"""Specific heat of dry salt [J/(g K)] (from memory of the CRC Handbook)."""
_WATER_J_GK = 4.19
_ABOVE_LIQUIDUS_K = {IceKind.CRUSHED: (0.5, 0.4), IceKind.CUBES: (1.2, 0.8)}
"""How far a working bath sits above its liquidus and how surely [K] (own estimate from the
ice's surface)."""
_SLOPE_SD_K_S = 0.0012
"""What the bath's trend may change by [K/s]."""
SPENT_SHARE = 0.05
"""Ice counts as gone once less than this share of all ice put in is left."""


@dataclass(frozen=True, slots=True)
class BathEstimate:
    """The bath at one time; None where masses are not known.

    Args:
        brine_pct: strength of the brine [% by mass].
        brine_pct_sd: its standard deviation.
        ice_left_g: ice left [g].
        ice_left_g_sd: its standard deviation.
    """

    brine_pct: float
    brine_pct_sd: float
    ice_left_g: float | None
    ice_left_g_sd: float | None


class Bath:
    """Balance of ice, salt, water and heat of one bath.

    Args:
        setup: the rig.
    """

    def __init__(self, setup: RigSetup) -> None:
        self.ice_kind = setup.bath.ice_kind
        self.room_c = ROOM_C if setup.room_c is None else setup.room_c
        self._room_sd = _ROOM_SD if setup.room_c is None else 1.0
        self.ice_g = 0.0
        self.salt_g = 0.0
        self.water_g = 0.0
        self.weighed = False
        self._enthalpy_j = 0.0
        self._variance_j2 = 0.0
        self._leak_j = 0.0
        self._mix_j = 0.0
        self._mix_sd_j = 0.0

    def charge(
        self,
        ice_g: float,
        salt_g: float,
        water_g: float = 0.0,
        ice_c: float | None = None,
        wet_share: float | None = None,
    ) -> None:
        """Put ice, salt and water into the bowl.

        Args:
            ice_g: ice, the water clinging to it included [g].
            salt_g: salt [g].
            water_g: water [g].
            ice_c: temperature of the ice [°C], if known.
            wet_share: water clinging to the ice, share of its mass, if known.
        """
        start_c = _ICE_START_C if ice_c is None else min(ice_c, 0.0)
        wet = (wet_share or 0.0) * ice_g
        dry = ice_g - wet
        self.ice_g += dry
        self.salt_g += salt_g
        self.water_g += water_g + wet
        self._enthalpy_j += dry * brine.ice_enthalpy_j_g(start_c)
        self._enthalpy_j += salt_g * _SALT_J_GK * self.room_c
        self._enthalpy_j += water_g * _WATER_J_GK * _WATER_START_C
        if ice_c is None:
            self._variance_j2 += (dry * 2.05 * _ICE_START_SD) ** 2
        if wet_share is None:
            self._variance_j2 += (dry * 334.0 * _WET_SHARE_SD) ** 2
        self.weighed = self.ice_g > 0.0

    def drain(self, brine_g: float, bath_c: float) -> None:
        """Pour off `brine_g` [g] of brine at `bath_c` [°C]."""
        share = brine.strength_pct(bath_c) / 100.0
        salt = min(brine_g * share, self.salt_g)
        self.salt_g -= salt
        self.water_g -= brine_g - salt
        self._enthalpy_j -= brine_g * brine.specific_heat_j_gk(
            100.0 * share, bath_c
        ) * bath_c + salt * brine.heat_of_solution_j_g(100.0 * share, bath_c)

    def carry_on(
        self, duration_s: float, bath_c: float, cooling_w: float | None, cooling_w_sd: float | None
    ) -> None:
        """Let heat flow in for `duration_s` [s]: from the room, and from the mix if known [W]."""
        self._leak_j += LEAK_W_K * (self.room_c - bath_c) * duration_s
        self._mix_j += (cooling_w or 0.0) * duration_s
        self._mix_sd_j += (cooling_w_sd or 0.0) * duration_s

    def at(self, bath_c: float, bath_sd: float) -> BathEstimate:
        """The bath at `bath_c` [°C], known to `bath_sd` [K]."""
        above, above_sd = _ABOVE_LIQUIDUS_K[self.ice_kind]
        liquidus_c = min(bath_c - above, -0.05) if bath_c < 0.0 else -0.05
        strength = brine.strength_pct(liquidus_c)
        slope = strength - brine.strength_pct(min(liquidus_c + 0.5, 0.0))
        strength_sd = 2.0 * slope * float(np.hypot(bath_sd, above_sd))
        if not self.weighed:
            return BathEstimate(float(strength), strength_sd, None, None)
        left, sd = self._ice_by_heat(bath_c, strength)
        if self.salt_g > 0.0:
            # All the salt there is, dissolved: the brine cannot be larger than that makes it.
            most = self.ice_g + self.water_g - self.salt_g * (100.0 / max(strength, 0.1) - 1.0)
            left = max(left, min(most, self.ice_g))
        return BathEstimate(float(strength), strength_sd, float(np.clip(left, 0.0, self.ice_g)), sd)

    def _ice_by_heat(self, bath_c: float, strength: float) -> tuple[float, float]:
        """Ice left [g] that closes the heat balance, and its standard deviation."""
        total = self._enthalpy_j + self._leak_j + self._mix_j
        per_water = strength / (100.0 - strength)
        ice_j = brine.ice_enthalpy_j_g(min(bath_c, 0.0))
        salt_j = _SALT_J_GK * bath_c
        brine_j = (1.0 + per_water) * brine.specific_heat_j_gk(strength, bath_c) * bath_c
        water_j = brine_j + per_water * (brine.heat_of_solution_j_g(strength, bath_c) - salt_j)
        # total = left ice_j + (ice + water − left) water_j + salt salt_j, solved for `left`.
        rest = total - (self.ice_g + self.water_g) * water_j - self.salt_g * salt_j
        left = rest / (ice_j - water_j)
        room_j = abs(self._leak_j) * self._room_sd / max(abs(self.room_c - bath_c), 5.0)
        sd_j = np.sqrt(
            self._variance_j2 + (_LEAK_SHARE_SD * self._leak_j) ** 2 + room_j**2 + self._mix_sd_j**2
        )
        return float(left), float(sd_j / abs(ice_j - water_j))

    def load_w(self, bath_c: float, cooling_w: float | None) -> float:
        """Heat flowing into the bath [W]; 80 W for a mix nobody weighed."""
        return LEAK_W_K * (self.room_c - bath_c) + (80.0 if cooling_w is None else cooling_w)

    def crossing_s(
        self,
        bath_c: float,
        slope_k_s: float,
        limit_c: float,
        cooling_w: float | None,
        normal: Array,
    ) -> Array:
        """Times until the bath warms through `limit_c`, over its uncertainties.

        Half of the answers (all, where nothing was weighed) carry the bath's own trend on, half
        follow ice and salt: the bath stays on the liquidus of what is dissolved until the brine
        is too weak or the ice gone, then warms as a brine.

        Args:
            bath_c: bath now [°C].
            slope_k_s: its trend [K/s].
            limit_c: the limit [°C].
            cooling_w: heat out of the mix [W], if known.
            normal: (K, 3) standard normal numbers.

        Returns:
            (K,) times from now [s]; inf where it never does.
        """
        slopes = slope_k_s + _SLOPE_SD_K_S * normal[:, 0]
        with np.errstate(divide="ignore"):
            trend = np.where(slopes > 0.0, (limit_c - bath_c) / slopes, np.inf)
        if not self.weighed or self.salt_g <= 0.0:
            return trend
        now = self.at(bath_c, 0.5)
        left = np.clip((now.ice_left_g or 0.0) + (now.ice_left_g_sd or 0.0) * normal[:, 1], 0, None)
        load = self.load_w(bath_c, cooling_w) * np.exp(0.25 * normal[:, 2])
        melted_now = self.ice_g + self.water_g - left
        at_limit = self.salt_g * (100.0 / brine.strength_pct(limit_c) - 1.0)
        melting_j_g = brine.heat_of_fusion_j_g(bath_c)
        until_weak = np.clip(at_limit - melted_now, 0.0, None)
        still = until_weak * melting_j_g / load
        gone = left * melting_j_g / load
        last_pct = 100.0 * self.salt_g / (self.salt_g + self.ice_g + self.water_g)
        last_c = max(brine.freezing_c(last_pct), bath_c)
        brine_g = self.ice_g + self.water_g + self.salt_g
        warming = brine_g * brine.specific_heat_j_gk(last_pct, last_c) * (limit_c - last_c) / load
        physical = np.where(until_weak > left, gone + np.maximum(warming, 0.0), still)
        half = normal.shape[0] // 2
        return np.concatenate([trend[:half], physical[half:]])

    def gone_s(self, bath_c: float, cooling_w: float | None, normal: Array) -> Array | None:
        """Times [s] until under 5 % of all ice is left; (K,), or None where nothing was weighed."""
        if not self.weighed:
            return None
        now = self.at(bath_c, 0.5)
        left = (now.ice_left_g or 0.0) + (now.ice_left_g_sd or 0.0) * normal[:, 1]
        spare = np.clip(left - SPENT_SHARE * self.ice_g, 0.0, None)
        load = self.load_w(bath_c, cooling_w) * np.exp(0.25 * normal[:, 2])
        return np.asarray(spare * brine.heat_of_fusion_j_g(bath_c) / load)
