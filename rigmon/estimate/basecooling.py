"""A cooked base on its way from the stove to cold enough to pour: when it gets there.

It cools as Newton says, dT/dt = −k (T − S) (|T − S| / 20 K)^n: S is what it stands in (a stove, a
room, water, ice water, a fridge), k how well it gives its heat away, and n makes up for the base
moving less the less it is warmer. An ensemble of such bases is sifted by the readings. What a base
stands in changes when the maker moves it, so a few members at a time try other surroundings; k
and S drift for stirring, and for water that warms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rigmon.physics.foodsafety import (
    COLD_C,
    COLD_WITHIN_S,
    COOLING_FROM_C,
    FIRST_STAGE_C,
    FIRST_STAGE_S,
    hold_share,
)
from rigmon.physics.numbers import Array
from rigmon.records import MarkWord, Place

BASE_PLACES = (Place.MIX, Place.CORE)
"""Where a probe in a base may be said to sit."""
BASE_ENDS = frozenset({MarkWord.ICE_IN, MarkWord.POUR, MarkWord.BEAT_START, MarkWord.END})
"""Marks after which nobody waits for a base to cool."""
HORIZON_S = 8 * 3600.0
"""How far ahead it is looked [s]."""

_SURROUNDINGS = np.array(
    [
        # S [°C], its sd [K], time constant [s], its sd as a logarithm, how often
        (90.0, 12.0, 1500.0, 0.7, 0.10),
        (21.0, 3.0, 5400.0, 0.5, 0.25),
        (12.0, 4.0, 1500.0, 0.6, 0.15),
        (1.0, 1.0, 1200.0, 0.6, 0.25),
        (3.5, 1.2, 6000.0, 0.6, 0.20),
        (-18.0, 3.0, 4500.0, 0.5, 0.05),
    ]
)
"""Stove, room, water, ice water, fridge, freezer (common practice, no source)."""
_USUAL_K = 20.0
_MOST_POWER = 0.3
"""Free convection gives n = 0.25 (any text on heat transfer); stirred there is none."""
_MEMBERS = 600
_BLOCK_S, _STEP_S = 60.0, 60.0
_MOVED_SHARE, _PUZZLED_SHARE, _PUZZLED_K = 0.001, 0.3, 0.6
"""Share of the members that try other surroundings each minute; and when the readings are off by so
much [K], which is what a move looks like (own choice)."""
_LOG_K_WALK = 0.08 / math.sqrt(600.0)
_S_WALK_K = 0.3 / math.sqrt(1800.0)
_READ_SD_K = 0.25
"""What a mean of a minute misses of the base: noise, layers, a stir [K] (own choice)."""
_NU = 4.0
_FOLLOWS_S = 240.0
"""Members give way to the readings over this time [s]."""
_SEEN_S = 300.0
"""Nothing is forecast before so much has been seen [s]."""
_LONGEST_GAP_S = 60.0
"""Two readings farther apart say nothing of how hot the base was between them [s]."""
_ICE_WATER_S = {FIRST_STAGE_C: 1500.0, COLD_C: 3600.0}
"""What a stirred bath of ice and water takes to bring a base there [s] (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class BaseState:
    """A base at one time.

    Args:
        t: run time [s].
        base_c: its temperature as read [°C].
        held: printed hold that it has been through, as a share; 1 is a whole one.
        cold: whether it is at 5 °C, the probe's uncertainty allowed for.
        goal_c: temperature that the cooling rule wants next [°C]; None while the rule's clock
            does not run: not cooked hot enough, still hot, or cold.
        deadline_s: by when [s].
        act_by_s: by when ice and water would still get it there [s].
        p_late: probability that it comes too late if nothing changes.
    """

    t: float
    base_c: float
    held: float
    cold: bool
    goal_c: float | None = None
    deadline_s: float | None = None
    act_by_s: float | None = None
    p_late: float = 0.0


class BaseCooling:
    """One base, followed by the readings of a probe in it.

    Args:
        read_sd: standard uncertainty of the probe [K].
        seed: seed of all chance in it.
    """

    def __init__(self, read_sd: float, seed: int) -> None:
        self._rng = np.random.default_rng(seed)
        self._read_sd = read_sd
        self._off_k = read_sd * self._rng.standard_normal(_MEMBERS)
        self._around_c, self._log_k, self._power = self._fresh(_MEMBERS)
        self._member_c = np.zeros(_MEMBERS)
        self._log_weight = np.zeros(_MEMBERS)
        self._newest: tuple[float, float] | None = None
        self._first_s = self._member_s = math.nan
        self._block: list[tuple[float, float]] = []
        self._held = 0.0
        self._hot_until_s: float | None = None
        self._ahead: tuple[float, Array] | None = None

    def _fresh(self, n: int) -> tuple[Array, Array, Array]:
        """(n,) surroundings [°C], ln k [1/s] and powers, as they may be."""
        rows = self._rng.choice(len(_SURROUNDINGS), n, p=_SURROUNDINGS[:, 4])
        around_c, around_sd, time_s, log_sd, _ = _SURROUNDINGS[rows].T
        normal = self._rng.standard_normal((2, n))
        log_k = -np.log(time_s) + log_sd * normal[1]
        return around_c + around_sd * normal[0], log_k, self._rng.uniform(0.0, _MOST_POWER, n)

    def feed(self, t: float, base_c: float) -> None:
        """Take in an accepted reading [°C] taken at `t` [s]; a late one is passed over."""
        if self._newest is None:
            self._first_s = self._member_s = t
            self._member_c += base_c
        elif t <= self._newest[0]:
            return
        else:
            gap_s, coolest_c = t - self._newest[0], min(base_c, self._newest[1])
            if gap_s <= _LONGEST_GAP_S:
                self._held += hold_share(coolest_c - self._read_sd, gap_s)
        if base_c >= COOLING_FROM_C:
            self._hot_until_s = t
        self._newest = (t, base_c)
        self._block.append((t, base_c))
        if t - self._member_s >= _BLOCK_S:
            self._see()

    def _see(self) -> None:
        """Carry the members to the middle of the newest readings, and weigh them by these."""
        t, read_c = np.mean(self._block, axis=0)
        self._block, gap_s = [], float(t - self._member_s)
        if gap_s <= 0.0:
            return
        self._member_c = self._after(self._member_c, self._around_c, self._log_k, gap_s)
        self._member_s = float(t)
        surprise = float(read_c) - self._member_c
        likely = np.log1p((surprise / _READ_SD_K) ** 2 / _NU)
        puzzled = float(self.weights() @ np.abs(surprise)) > _PUZZLED_K
        self._log_weight -= 0.5 * (_NU + 1.0) * likely
        self._member_c += surprise * -math.expm1(-gap_s / _FOLLOWS_S)
        weights = self.weights()
        if 1.0 / np.sum(weights**2) < 0.5 * _MEMBERS:
            places = (self._rng.random() + np.arange(_MEMBERS)) / _MEMBERS
            index = np.minimum(np.searchsorted(np.cumsum(weights), places), _MEMBERS - 1)
            for name in ("_around_c", "_log_k", "_power", "_member_c", "_off_k"):
                setattr(self, name, getattr(self, name)[index])
            self._log_weight = np.zeros(_MEMBERS)
        self._around_c, self._log_k = self._drift(self._around_c, self._log_k, gap_s)
        share = _PUZZLED_SHARE if puzzled else _MOVED_SHARE * gap_s / _BLOCK_S
        moved = np.flatnonzero(self._rng.random(_MEMBERS) < share)
        self._around_c[moved], self._log_k[moved], self._power[moved] = self._fresh(moved.size)

    def _drift(self, around_c: Array, log_k: Array, for_s: float) -> tuple[Array, Array]:
        """Surroundings and ln k as they may be a while on."""
        normal = math.sqrt(for_s) * self._rng.standard_normal((2, _MEMBERS))
        return around_c + _S_WALK_K * normal[0], log_k + _LOG_K_WALK * normal[1]

    def _after(self, base_c: Array, around_c: Array, log_k: Array, for_s: float) -> Array:
        """(n,) members a while on [°C]."""
        for _ in range(steps := math.ceil(for_s / _STEP_S)):
            off_k = base_c - around_c
            rate = np.exp(log_k) * (np.abs(off_k) / _USUAL_K) ** self._power
            base_c = around_c + off_k * np.exp(-rate * for_s / steps)
        return base_c

    def weights(self) -> Array:
        """(n,) weights of the members, adding up to 1."""
        weights = np.exp(self._log_weight - self._log_weight.max())
        return np.asarray(weights / weights.sum())

    def at(self, t: float) -> BaseState | None:
        """How the base stands at `t` [s]; None before its first reading."""
        if self._newest is None:
            return None
        base_c = self._newest[1]
        held, cold = self._held, base_c + self._read_sd <= COLD_C
        if cold or base_c >= COOLING_FROM_C:
            return BaseState(t, base_c, held, cold)
        # A base that was already below 57 °C when first seen has cooled for at least so long.
        from_s = self._first_s if self._hot_until_s is None else self._hot_until_s
        first = base_c > FIRST_STAGE_C
        goal_c = FIRST_STAGE_C if first else COLD_C
        deadline_s = from_s + (FIRST_STAGE_S if first else COLD_WITHIN_S)
        times = self._times_s()
        if times is None:
            p_late = 0.0
        else:
            p_late = float(self.weights() @ (times[0 if first else 1] > deadline_s))
        act_by_s = deadline_s - _ICE_WATER_S[goal_c]
        return BaseState(t, base_c, held, cold, goal_c, deadline_s, act_by_s, p_late)

    def cold_s(self) -> Array | None:
        """(n,) run times at which the base, not its probe, is at 5 °C [s]; infinite past the look.

        None while too little has been seen.
        """
        times = self._times_s()
        return None if times is None else times[1]

    def _times_s(self) -> Array | None:
        """(2, n) run times of reaching 21 °C and 5 °C [s], looked at anew once a minute."""
        if self._newest is None or self._newest[0] - self._first_s < _SEEN_S:
            return None
        if self._ahead is None or self._ahead[0] != self._member_s:
            base_c = self._member_c
            goals_c = np.array([[FIRST_STAGE_C], [COLD_C]]) + self._off_k
            found = np.full(goals_c.shape, np.inf)
            for step in range(math.ceil(HORIZON_S / _STEP_S)):
                new = (base_c <= goals_c) & np.isinf(found)
                found[new] = self._member_s + max(step - 0.5, 0.0) * _STEP_S
                if np.isfinite(found).all():
                    break
                base_c = self._after(base_c, self._around_c, self._log_k, _STEP_S)
            self._ahead = self._member_s, found
        return self._ahead[1]
