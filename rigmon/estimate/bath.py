"""The bath: how strong its brine is and how much ice is left.

The brine's strength follows from its temperature, since it rests on the liquidus but for the
little that melting needs. The ice follows from heat: what leaked in, what the mix gave, what the
ice and salt had in them at the start. And the brine cannot hold more salt than was put in, which
bounds what has melted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.estimate.amounts import Amounts
from rigmon.physics import brine
from rigmon.records import IceKind

LEAK_W_K = 1.6
"""Conductance from the room into a bare outer bowl [W/K], usual value; 1.0 to 2.2 (own estimate
from film coefficients of still and of humid air)."""
_LEAK_SHARE_SD = 0.3
_BOWLS_J_K = 600.0
"""Heat capacity of the two bowls [J/K]: some 1.2 kg of steel (common practice, no source)."""
_BOWLS_SHARE_SD = 0.5
_ICE_START_C = -2.0
_ICE_START_SD = 3.0
_WET_SHARE_SD = 0.03
_WATER_START_C = 10.0
_SALT_J_GK = 0.86
"""Specific heat of dry salt [J/(g K)] (from memory of the CRC Handbook)."""
_WATER_J_GK = 4.19
SPENT_SHARE = 0.05
"""Ice counts as gone once less than this share of all ice put in is left."""
_ABOVE_LIQUIDUS_K = {IceKind.CRUSHED: (0.7, 0.6), IceKind.CUBES: (1.2, 0.8)}
"""How far a working bath sits above its liquidus and how surely [K] (own estimate from the
ice's surface)."""


@dataclass(frozen=True, slots=True)
class Watts:
    """A flow of heat [W] with its standard deviation."""

    mean: float = 0.0
    sd: float = 0.0


@dataclass(frozen=True, slots=True)
class BathEstimate:
    """The bath at one time; None where amounts are not known.

    Args:
        brine_pct: strength of the brine [% by mass].
        brine_pct_sd: its standard deviation.
        ice_left_g: ice left [g].
        ice_left_g_sd: its standard deviation.
        brine_water_g: water in the brine [g].
    """

    brine_pct: float
    brine_pct_sd: float
    ice_left_g: float | None = None
    ice_left_g_sd: float | None = None
    brine_water_g: float | None = None


class Bath:
    """Balance of ice, salt, water and heat of one bath.

    What was put in is known until something unweighed goes in, and then no more.

    Args:
        ice_kind: form of the ice.
        room_c: temperature of the room [°C].
    """

    def __init__(self, ice_kind: IceKind, room_c: float) -> None:
        self.ice_kind = ice_kind
        self.room_c = room_c
        self.charged = False
        self.ice_known = True
        self.salt_known = True
        self.ice_g = 0.0
        self.salt_g = 0.0
        self.water_g = 0.0
        self._heat_j = 0.0
        self._variance_j2 = 0.0
        self._leak_j = 0.0
        self._air_sd_j = 0.0
        self._mix_sd_j = 0.0

    def charge(self, amounts: Amounts, bath_c: float | None) -> None:
        """Pour off brine of `bath_c` [°C], then put ice, salt and water in."""
        if amounts.drained_g > 0.0 and bath_c is not None:
            self._drain(amounts.drained_g, bath_c)
        self.charged = True
        self.ice_known = self.ice_known and amounts.ice_g is not None
        self.salt_known = self.salt_known and amounts.salt_g is not None
        if amounts.ice_kind is not None:
            self.ice_kind = amounts.ice_kind
        ice_g, salt_g = amounts.ice_g or 0.0, amounts.salt_g or 0.0
        start_c = _ICE_START_C if amounts.ice_c is None else min(amounts.ice_c, 0.0)
        wet_g = (amounts.wet_share or 0.0) * ice_g
        dry_g = ice_g - wet_g
        self.ice_g += dry_g
        self.salt_g += salt_g
        self.water_g += amounts.water_g + wet_g
        self._heat_j += dry_g * brine.ice_enthalpy_j_g(start_c)
        self._heat_j += salt_g * _SALT_J_GK * self.room_c
        self._heat_j += amounts.water_g * _WATER_J_GK * _WATER_START_C
        if amounts.ice_c is None:
            self._variance_j2 += (dry_g * 2.05 * _ICE_START_SD) ** 2
        if amounts.wet_share is None:
            self._variance_j2 += (dry_g * 334.0 * _WET_SHARE_SD) ** 2

    def _drain(self, brine_g: float, bath_c: float) -> None:
        strength = brine.strength_pct(bath_c)
        salt_g = min(brine_g * strength / 100.0, self.salt_g)
        water_g = min(brine_g - salt_g, self.ice_g + self.water_g)
        self.salt_g -= salt_g
        self.water_g -= water_g
        if water_g > 0.0:
            self._heat_j -= water_g * _brine_j_per_water_g(strength, bath_c)

    def carry_on(
        self, duration_s: float, bath_c: float, air_c: float, air_sd: float, mix_w: Watts
    ) -> None:
        """Let heat flow in for a while.

        Args:
            duration_s: for how long [s].
            bath_c: bath meanwhile [°C].
            air_c: air around the outer bowl [°C].
            air_sd: its standard uncertainty [K].
            mix_w: heat from the mix.
        """
        self._leak_j += LEAK_W_K * (air_c - bath_c) * duration_s
        self._air_sd_j += LEAK_W_K * air_sd * duration_s
        self._heat_j += mix_w.mean * duration_s
        self._mix_sd_j += mix_w.sd * duration_s

    def at(self, bath_c: float, bath_sd: float) -> BathEstimate:
        """The bath at `bath_c` [°C], known to `bath_sd` [K]."""
        above, above_sd = _ABOVE_LIQUIDUS_K[self.ice_kind]
        liquidus_c = min(bath_c - above, -0.05)
        strength = brine.strength_pct(liquidus_c)
        pct_k = 2.0 * (strength - brine.strength_pct(liquidus_c + 0.5))
        strength_sd = pct_k * math.hypot(bath_sd, above_sd)
        if not self.charged or not self.ice_known or self.ice_g <= 0.0:
            return BathEstimate(strength, strength_sd)
        left, sd = self._ice_by_heat(bath_c, strength)
        if self.salt_known:
            per_water = 100.0 / strength - 1.0
            most_brine = self.salt_g * per_water
            most_sd = self.salt_g * 100.0 * strength_sd / strength**2
            least = self.ice_g + self.water_g - most_brine
            left, sd = at_least(left, sd, least, most_sd)
        left = min(max(left, 0.0), self.ice_g)
        return BathEstimate(strength, strength_sd, left, sd, self.ice_g + self.water_g - left)

    def _ice_by_heat(self, bath_c: float, strength: float) -> tuple[float, float]:
        """Ice left [g] that closes the heat balance, and its standard deviation.

        heat = left ice_j + (ice + water − left) brine_j + salt salt_j, solved for `left`.
        """
        bowls_j = _BOWLS_J_K * (self.room_c - bath_c)
        heat_j = self._heat_j + self._leak_j + bowls_j
        ice_j = brine.ice_enthalpy_j_g(min(bath_c, 0.0))
        per_water = strength / (100.0 - strength)
        # All salt is counted as lying dry, so that the dissolved part is taken off the brine.
        brine_j = _brine_j_per_water_g(strength, bath_c) - per_water * _SALT_J_GK * bath_c
        rest_j = heat_j - self.salt_g * _SALT_J_GK * bath_c
        left = (rest_j - (self.ice_g + self.water_g) * brine_j) / (ice_j - brine_j)
        sd_j = math.sqrt(
            self._variance_j2
            + (_LEAK_SHARE_SD * self._leak_j) ** 2
            + (_BOWLS_SHARE_SD * bowls_j) ** 2
            + self._air_sd_j**2
            + self._mix_sd_j**2
        )
        return left, sd_j / abs(ice_j - brine_j)

    @property
    def spent_g(self) -> float:
        """Ice left at which it counts as gone [g]."""
        return SPENT_SHARE * self.ice_g

    def load_w(self, bath_c: float, air_c: float, mix_w: Watts) -> float:
        """Heat flowing into the bath [W]; arguments as in `carry_on`."""
        return LEAK_W_K * (air_c - bath_c) + mix_w.mean


def _brine_j_per_water_g(strength: float, bath_c: float) -> float:
    """Enthalpy of brine [J per g of its water], against water and dry salt at 0 °C."""
    per_water = strength / (100.0 - strength)
    warmed = (1.0 + per_water) * brine.specific_heat_j_gk(strength, bath_c) * bath_c
    return warmed + per_water * brine.heat_of_solution_j_g(strength, 0.0)


def at_least(mean: float, sd: float, least: float, least_sd: float) -> tuple[float, float]:
    """Mean and standard deviation of a normal figure once it is known to exceed another one.

    With s² = sd² + least_sd², d = (mean − least) / s, r = φ(d) / Φ(d): mean + r sd² / s, and
    variance sd² − r (r + d) sd⁴ / s². Source: the moments of a normal distribution cut by a linear
    bound (from memory of any text on truncated normals).

    >>> [round(x, 2) for x in at_least(0.0, 1.0, 0.0, 0.0)]
    [0.8, 0.6]
    >>> at_least(5.0, 0.1, 0.0, 0.1)
    (5.0, 0.1)
    """
    s = math.hypot(sd, least_sd)
    if s <= 0.0:
        return max(mean, least), 0.0
    d = (mean - least) / s
    if d > -30.0:
        r = math.sqrt(2.0 / math.pi) * math.exp(-0.5 * d * d) / math.erfc(-d / math.sqrt(2.0))
    else:
        r = -d - 1.0 / d
    return mean + r * sd**2 / s, math.sqrt(max(sd**2 - r * (r + d) * sd**4 / s**2, 0.0))
