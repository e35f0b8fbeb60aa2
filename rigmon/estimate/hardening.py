"""Tubs in the freezer: when the core will be hard.

An ensemble of tubs of `rigmon.physics.still` beside the freezer's air as it is read, or as freezers
usually are. Film, size and start are uncertain; tubs that the core probe contradicts lose weight.
The first hours, in which the core hardly moves, are what the model expects.
"""

from __future__ import annotations

import math

import numpy as np

from rigmon.estimate.levels import Levels
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import draw_rigs
from rigmon.physics.still import MIX_G_ML, tubs
from rigmon.records import Mark, Place

HARDENED_C = -15.0
"""The core counts as hardened at this temperature [°C]; in air of -18 °C it never gets to -18."""
HORIZON_S = 24 * 3600.0
"""How far ahead it is looked [s]."""

_TUBS = 120
_SHELLS = 5
_STEP_S, _AHEAD_S = 60.0, 300.0
_BLOCK_S = 600.0
_READ_SD_K = 0.5
"""What the model may miss of a core [K] (own estimate)."""
_COUNTS = 0.12
"""What a reading of ten minutes counts among its neighbours, which share what the model misses."""
_NU = 4.0
_FREEZER_C, _FREEZER_SD, _READ_AIR_SD = -18.0, 2.0, 0.7
"""The freezer's air where no probe reads it, how surely, and how surely if one does [°C] (common
practice, no source)."""
_MASS_LOG_SD, _SAID_LOG_SD = 0.5, 0.15
_USUAL_TUB_G = 600.0
_AIR_PCT = 25.0
_START_SD_K = 1.0
_LEAST_S = 1800.0


class Hardening:
    """Tubs of one mix from when they were packed.

    Args:
        curve: how the mix freezes.
        t: run time at which they go into the freezer [s].
        start_c: temperature of the mix as packed [°C].
        packed: the mark that says how many tubs there are and how large; None if none does.
        mass_g: mass of all the mix [g], if known.
        seed: seed of all chance in it.
    """

    def __init__(
        self,
        curve: FreezingCurve,
        t: float,
        start_c: float,
        packed: Mark | None,
        mass_g: float | None,
        seed: int,
    ) -> None:
        self.t = self._since = t
        normal = np.random.default_rng(seed).standard_normal((_TUBS, 4))
        rigs = draw_rigs(_TUBS, seed)
        tub_g, log_sd = _tub_g(packed, mass_g)
        start = np.minimum(start_c + _START_SD_K * normal[:, 0], curve.initial_c)
        self._body, area_m2 = tubs(
            curve,
            tub_g * np.exp(log_sd * normal[:, 1]),
            start,
            rigs.air_pct,
            rigs.still_w_mk,
            _SHELLS,
        )
        self._film_w_k = rigs.freezer_film_w_m2k * area_m2
        self._air_k = normal[:, 2]
        self._off_k = normal[:, 3]
        self._log_weight = np.zeros(_TUBS)
        self._seen_to = t

    def follow(self, t: float, levels: Levels) -> None:
        """Carry the tubs on to `t` [s], and weigh them by the core probe."""
        air_s, air_c, _ = levels.blocks[Place.FREEZER].since(self.t - _BLOCK_S)
        while self.t + _STEP_S <= t:
            read = float(np.interp(self.t, air_s, air_c)) if air_s.size else None
            self._body, _ = self._body.after(_STEP_S, self._air(read), self._film_w_k)
            self.t += _STEP_S
            if self.t - self._seen_to >= _BLOCK_S:
                self._see(levels)

    def _air(self, read_c: float | None) -> Array:
        if read_c is None:
            return _FREEZER_C + _FREEZER_SD * self._air_k
        return read_c + _READ_AIR_SD * self._air_k

    def _see(self, levels: Levels) -> None:
        middles, means, weights = levels.blocks[Place.CORE].since(self._seen_to)
        new = (middles > self._seen_to) & (middles <= self.t)
        self._seen_to = self.t
        if not new.any():
            return
        read_c = float(np.average(means[new], weights=weights[new]))
        off_k = levels.sd_k[Place.CORE] * self._off_k
        surprise = (read_c - self._body.core_c() - off_k) / _READ_SD_K
        self._log_weight -= _COUNTS * 0.5 * (_NU + 1.0) * np.log1p(surprise**2 / _NU)

    def weights(self) -> Array:
        """(n,) weights, adding up to 1."""
        weights = np.exp(self._log_weight - self._log_weight.max())
        return np.asarray(weights / weights.sum())

    def hardened_s(self, levels: Levels) -> Array | None:
        """(n,) run times at which the core is hard [s]; infinite past the look, None too early."""
        if self.t - self._since < _LEAST_S:
            return None
        read = levels.blocks[Place.FREEZER].mean_of_last(self.t, 3600.0)
        air, body = self._air(read), self._body
        cores, steps = [body.core_c()], math.ceil(HORIZON_S / _AHEAD_S)
        for _ in range(steps):
            body, _ = body.after(_AHEAD_S, air, self._film_w_k)
            cores.append(body.core_c())
            if np.max(cores[-1]) <= HARDENED_C:
                break
        hard = np.array(cores) <= HARDENED_C
        at = self.t + _AHEAD_S * np.argmax(hard, axis=0)
        return np.where(hard.any(axis=0), at, np.inf)


def _tub_g(packed: Mark | None, mass_g: float | None) -> tuple[float, float]:
    """Mass in a tub [g], and how surely, as a logarithm."""
    detail = packed.detail if packed is not None else {}
    if "tub_ml" in detail:
        return float(detail["tub_ml"]) * MIX_G_ML / (1.0 + _AIR_PCT / 100.0), _SAID_LOG_SD
    if "tubs" in detail and mass_g is not None:
        return mass_g / max(float(detail["tubs"]), 1.0), _SAID_LOG_SD
    return _USUAL_TUB_G if mass_g is None else 0.5 * mass_g, _MASS_LOG_SD
