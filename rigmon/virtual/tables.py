"""Tables that the virtual rig looks up many thousand times a run instead of computing anew."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Self

import numpy as np

from rigmon.physics import brine
from rigmon.physics.mix import FreezingCurve


class Table:
    """Straight lines between rising points; the end lines run on outside them.

    >>> Table((0.0, 1.0, 3.0), (0.0, 10.0, 20.0)).at(2.0)
    15.0
    """

    __slots__ = ("_last", "_slopes", "_xs", "_ys")

    def __init__(self, xs: Sequence[float], ys: Sequence[float]) -> None:
        self._xs = tuple(float(x) for x in xs)
        self._ys = tuple(float(y) for y in ys)
        steps = zip(self._xs, self._xs[1:], self._ys, self._ys[1:], strict=False)
        self._slopes = tuple((y1 - y0) / (x1 - x0) for x0, x1, y0, y1 in steps)
        self._last = len(self._slopes) - 1

    def at(self, x: float) -> float:
        """The value at `x`."""
        i = bisect_right(self._xs, x) - 1
        if i < 0:
            i = 0
        elif i > self._last:
            i = self._last
        return self._ys[i] + self._slopes[i] * (x - self._xs[i])

    def __deepcopy__(self, memo: dict[int, object]) -> Self:
        return self


class BrineTables:
    """What the bath asks of its brine, by strength [% by mass].

    Args (attributes):
        freezing_c: liquidus [°C].
        specific_heat_j_gk: specific heat at -8 °C [J/(g K)], held over temperature.
        solution_j_g: heat of solution at 0 °C [J per g of salt].
    """

    __slots__ = ("freezing_c", "solution_j_g", "specific_heat_j_gk")

    def __init__(self) -> None:
        grid = np.linspace(0.0, 27.0, 541)
        self.freezing_c = Table(grid.tolist(), brine.freezing_c(grid).tolist())
        self.specific_heat_j_gk = Table(
            grid.tolist(),
            brine.specific_heat_j_gk(np.minimum(grid, 23.5), np.full_like(grid, -8.0)).tolist(),
        )
        held = np.clip(grid, 5.0, 25.0)
        self.solution_j_g = Table(
            grid.tolist(), brine.heat_of_solution_j_g(held, np.zeros_like(grid)).tolist()
        )

    def __deepcopy__(self, memo: dict[int, object]) -> Self:
        return self


BRINE = BrineTables()
"""The one set of brine tables; they never change."""


class MixTables:
    """How the mix in the bowl truly freezes: a recipe's curve, shifted and stretched.

    A maker weighs and spills and milk differs, so that the mix is never quite its recipe.

    Args:
        curve: the recipe's curve.
        shift_k: how much warmer than the recipe this mix begins to freeze [K].
        stretch: factor on the depression below the initial freezing point at a frozen share.
    """

    __slots__ = (
        "enthalpy_j_g",
        "frozen_pct",
        "heat_at_initial_j_g",
        "initial_c",
        "liquid_j_gk",
        "rested_c",
        "temperature_c",
        "water_share",
    )

    def __init__(self, curve: FreezingCurve, shift_k: float = 0.0, stretch: float = 1.0) -> None:
        self.initial_c = curve.initial_c + shift_k
        self.water_share = curve.water_share
        below = -np.geomspace(1e-4, 33.0, 1200)[::-1]
        recipe_c = np.append(curve.initial_c + below, [curve.initial_c, curve.initial_c + 60.0])
        heat = [float(curve.enthalpy_j_g(float(t))) for t in recipe_c]
        frozen = [float(curve.frozen_pct(float(t))) for t in recipe_c]
        true_c = [*(self.initial_c + below * stretch), self.initial_c, self.initial_c + 60.0]
        self.heat_at_initial_j_g = heat[-2]
        self.liquid_j_gk = (heat[-1] - heat[-2]) / 60.0
        self.temperature_c = Table(heat, true_c)
        self.enthalpy_j_g = Table(true_c, heat)
        self.frozen_pct = Table(heat, frozen)
        self.rested_c = Table(frozen[-2::-1], true_c[-2::-1])

    def __deepcopy__(self, memo: dict[int, object]) -> Self:
        return self
