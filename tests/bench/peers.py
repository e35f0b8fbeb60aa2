"""What a plateau's forecast has to beat: a kitchen timer, other rigs, and a plain curve fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rigmon.estimate.coolingfit import fit
from rigmon.physics.mix import FreezingCurve
from rigmon.records import PlateauSetting
from scoring import HORIZON_S, LEVELS, Array, Times

TIMER_S = (420.0, 600.0, 840.0)
"""What a kitchen timer would be set to: 10, 50 and 90 % (common practice, no source) [s]."""
_RESAMPLES = 200
_LEAST_BLOCKS = 6
_BLOCK_S = 5.0
_SKIP_S = 20.0
"""The probe is still catching up with the pour [s]."""
_RATES_S = np.geomspace(1.0 / 20_000.0, 1.0 / 20.0, 120)
"""Rates of the exponential that its bootstrap chooses from [1/s]."""
_AHEAD_S = np.arange(0.0, HORIZON_S + 1.0, 10.0)


def timer(pour_s: float) -> Times:
    """A kitchen timer set at the pour [s of run time]."""
    p10, p50, p90 = (pour_s + value for value in TIMER_S)
    return p10, p50, p90


def not_yet(since_s: float, others_s: Sequence[float]) -> Times:
    """Plateau times of other rigs, those left out that were over by `since_s` [s from the pour].

    Where none is left the plateau is expected now.
    """
    left = [value for value in others_s if value > since_s] or [since_s]
    p10, p50, p90 = (float(value) for value in np.quantile(left, LEVELS))
    return p10, p50, p90


def alike(since_s: float, expected_s: float, others: Sequence[tuple[float, float]]) -> Times:
    """Other rigs that were not over, made alike by what was to be expected of each.

    Args:
        since_s: time since the pour [s].
        expected_s: plateau to be expected of this mix and bath [s from the pour].
        others: plateaus of other rigs [s from the pour], and what was to be expected of them.
    """
    return not_yet(since_s, [expected_s * true_s / usual_s for true_s, usual_s in others])


def put_right(since_s: float, median_s: float, others: Sequence[tuple[float, float]]) -> Times:
    """A median put right by how those of other rigs erred, with the spread that this leaves.

    The logarithm of the plateau's time is taken as a straight line over that of the median.

    Args:
        since_s: time since the pour [s].
        median_s: the median [s from the pour].
        others: plateaus of other rigs [s from the pour], and the medians said of them then.
    """
    true, said = np.log(others).T
    slope, shift = np.polyfit(said, true, 1)
    errors = true - slope * said - shift
    return not_yet(since_s, np.exp(slope * np.log(median_s) + shift + errors).tolist())


@dataclass(frozen=True, slots=True)
class CoolingCurve:
    """The plain fit: mix temperature = a + b e^(−kt), by least squares on what was read so far.

    Six blocks or more below the freezing point are fitted alone, since a mix that freezes cools at
    another rate; before that all blocks are. The curve fitted is run on, the recipe's freezing
    curve turns it into a frozen share, and the plateau is where its gain falls below the setting.
    Quantiles come from refits of the curve with residuals drawn anew.

    Args:
        curve: the recipe's freezing curve.
        setting: when a mix counts as having stopped stiffening.
    """

    curve: FreezingCurve
    setting: PlateauSetting

    def times(self, t: Array, mix_c: Array, pour_s: float, at_s: float) -> Times:
        """Run times of the plateau at 10, 50 and 90 % [s], from readings up to `at_s`.

        Args:
            t: (n,) run times of the readings [s].
            mix_c: (n,) readings [°C].
            pour_s: run time of the pour [s].
            at_s: now [s].
        """
        x, y = _blocks(t, mix_c, pour_s + _SKIP_S, at_s)
        frozen = y < self.curve.initial_c
        if np.sum(frozen) >= _LEAST_BLOCKS:
            begun = int(np.argmax(frozen))
            x, y = x[begun:], y[begun:]
        if x.size < _LEAST_BLOCKS:
            return None, None, None
        levels, falls, rates = _refits(x - x[0], y)
        falls = falls * np.exp(-rates * (at_s - x[0]))
        found = [self._plateau_s(*curve) for curve in zip(levels, falls, rates, strict=True)]
        ahead = np.quantile(found, LEVELS, method="nearest")
        p10, p50, p90 = (at_s + float(s) if s <= HORIZON_S else None for s in ahead)
        return p10, p50, p90

    def _plateau_s(self, level_c: float, fall_k: float, rate_s: float) -> float:
        """How far ahead the plateau of one curve lies [s]; 0 for one that has passed."""
        share = self.curve.frozen_pct(level_c + fall_k * np.exp(-rate_s * _AHEAD_S))
        within = round(self.setting.within_s / (_AHEAD_S[1] - _AHEAD_S[0]))
        gain = share[within:] - share[:-within]
        gains = np.flatnonzero(gain >= self.setting.gain_pct)
        if not gains.size:
            return 0.0 if share[0] > 0.0 else 2.0 * HORIZON_S
        last = int(gains[-1])
        return 2.0 * HORIZON_S if last == gain.size - 1 else float(_AHEAD_S[last + 1])


def _blocks(t: Array, mix_c: Array, from_s: float, to_s: float) -> tuple[Array, Array]:
    """Middles and medians of blocks of readings: a spike of the motor is not what is fitted."""
    inside = (t >= from_s) & (t <= to_s)
    number = np.floor((t[inside] - from_s) / _BLOCK_S)
    each = [mix_c[inside][number == n] for n in np.unique(number)]
    middles = from_s + (np.unique(number) + 0.5) * _BLOCK_S
    return middles, np.array([np.median(block) for block in each])


def _form(x: Array, params: Array) -> Array:
    return np.asarray(params[0] + params[1] * np.exp(-params[2] * x))


def _refits(x: Array, y: Array) -> tuple[Array, Array, Array]:
    """Levels [°C], falls at x = 0 [K] and rates [1/s] of the curve refitted to drawn residuals."""
    bases = [np.linalg.qr(np.column_stack([np.ones_like(x), np.exp(-k * x)])) for k in _RATES_S]
    level, fall, rate = _best(bases, y[:, None])
    best = fit(_form, x, y, [float(v[0]) or 1e-6 for v in (level, fall, rate)])
    fitted = _form(x, best.params) if best.params[2] > 0.0 else _form(x, np.r_[level, fall, rate])
    residuals = y - fitted
    drawn = np.random.default_rng(0).integers(x.size, size=(x.size, _RESAMPLES))
    return _best(bases, fitted[:, None] + residuals[drawn])


def _best(bases: Sequence[tuple[Array, Array]], ys: Array) -> tuple[Array, Array, Array]:
    """Least squares of each column of `ys`: the best rate and, for it, level and fall."""
    kept = np.stack([np.sum((q.T @ ys) ** 2, axis=0) for q, _ in bases])
    chosen = np.argmax(kept, axis=0)
    linear = np.stack(
        [np.linalg.solve(bases[i][1], bases[i][0].T @ ys[:, n]) for n, i in enumerate(chosen)]
    )
    return linear[:, 0], linear[:, 1], _RATES_S[chosen]
