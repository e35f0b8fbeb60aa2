"""Further signals of a round, each a straight line in something that every member knows.

The wall of the inner bowl is warmer than the bath by the heat that goes through it, and a mixer
draws more power the stiffer the mix. How much, and from what level on, differs from rig to rig: for
each member level and slope are the two-dimensional state of a Kalman filter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_NU = 4.0
_WALL_LEVEL, _WALL_SLOPE = (0.0, 0.8), (0.6, 0.15)
"""A probe on the wall beside the bath's: what it reads too much [K], and the outer share of the
wall's resistance, which is what it is warmer by as a share of the pull (own estimate: films of 250
to 500 W/(m² K) inside, 200 to 280 outside)."""
_WALL_DRIFT, _WALL_NOISE_K, _WALL_STEP_K = (0.01, 0.002), 0.3, 2.0
_POWER_LEVEL, _POWER_SLOPE = (120.0, 60.0), (12.0, 8.0)
"""Power of a mixer in liquid mix [W], and what it draws more per unit of the root of the viscosity
[W] (own estimates: hand mixers of 100 to 400 W, a third to half of what they draw more reaching
beaters that take 20 to 70 W in stiff mix). Between creeping and swirling flow power goes with a
power of the viscosity between 1 and 0."""
_POWER_DRIFT, _POWER_NOISE_W, _POWER_STEP_W = (0.1, 0.02), 2.0, 10.0


class Line:
    """y = a + b x for n members, a and b unknown and slowly changing.

    Args:
        n: members.
        level: mean and standard deviation of a [unit of y].
        slope: likewise of b [unit of y per unit of x].
        drift: what a and b change by in a second, as standard deviations [unit/√s].
        noise: standard deviation of y about the line [unit of y].
        step: a y that changes by more from one value to the next belongs to something else: a mixer
            at another speed, a probe come loose [unit of y].
    """

    def __init__(
        self,
        n: int,
        level: tuple[float, float],
        slope: tuple[float, float],
        drift: tuple[float, float],
        noise: float,
        step: float,
    ) -> None:
        start = level[0], slope[0], level[1] ** 2, 0.0, slope[1] ** 2
        self._state = np.tile(np.array(start)[:, None], n)
        """Rows: means of a and b; their variances, with the covariance between."""
        self._unknown = np.array([0.0, 0.0, *start[2:]])[:, None]
        self._drift = np.array([0.0, 0.0, drift[0] ** 2, 0.0, drift[1] ** 2])[:, None]
        self._variance = noise**2
        self._step = step
        self._before: tuple[float, float] | None = None

    def at(self, x: Array) -> Array:
        """(n,) y that is expected beside (n,) figures `x`."""
        return np.asarray(self._state[0] + self._state[1] * x)

    def see(self, t: float, y: Array | float, x: Array) -> Array:
        """Take in a value `y` at `t` [s], one or (n,), beside (n,) figures `x`.

        Returns:
            (n,) logarithm of how likely it was, with the wide tails of a Student distribution.
        """
        newest = t, float(np.mean(y))
        before, self._before = self._before or newest, newest
        if abs(newest[1] - before[1]) > self._step:
            # What was known of level and slope may have changed, all of it.
            self._state = self._state + self._unknown
            return np.zeros_like(x)
        surprise = y - self.at(x)
        level, slope, level_2, both, slope_2 = self._state + self._drift * (t - before[0])
        by_level, by_slope = level_2 + both * x, both + slope_2 * x
        variance = by_level + by_slope * x + self._variance
        to_level, to_slope = by_level / variance, by_slope / variance
        self._state = np.stack(
            [
                level + to_level * surprise,
                slope + to_slope * surprise,
                level_2 - to_level * by_level,
                both - to_level * by_slope,
                slope_2 - to_slope * by_slope,
            ]
        )
        tails = (_NU + 1.0) * np.log1p(surprise**2 / (_NU * variance))
        return np.asarray(-0.5 * (tails + np.log(variance)))

    def choose(self, index: NDArray[np.intp]) -> None:
        """Keep some members, each as often as it is named."""
        self._state = self._state[:, index]


def wall_line(n: int) -> Line:
    """What a probe on the wall reads more than the bath is [K], beside the pull on it [K]."""
    return Line(n, _WALL_LEVEL, _WALL_SLOPE, _WALL_DRIFT, _WALL_NOISE_K, _WALL_STEP_K)


def power_line(n: int) -> Line:
    """Power of the mixer [W], beside the root of the relative viscosity less 1."""
    return Line(n, _POWER_LEVEL, _POWER_SLOPE, _POWER_DRIFT, _POWER_NOISE_W, _POWER_STEP_W)
