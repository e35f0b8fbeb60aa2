"""Numbers of a review as a maker reads them, in the maker's units."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rigmon.config import Units
from rigmon.review.measures import Span
from rigmon.units import GRAMS_PER_OUNCE, mass, temperature


@dataclass(frozen=True, slots=True)
class Told:
    """How numbers are written.

    Args:
        units: the maker's.
    """

    units: Units = field(default_factory=Units)

    @property
    def scale(self) -> str:
        """Unit of temperatures."""
        return f"°{self.units.temperature}"

    @property
    def weight(self) -> str:
        """Unit of masses."""
        return str(self.units.mass)

    def c(self, value: float | None, digits: int = 1) -> str:
        """A temperature [°C]."""
        return temperature(value, self.units.temperature, digits)

    def degrees(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Temperatures [°C] on the maker's scale, to be drawn."""
        return 1.8 * values + 32.0 if self.units.temperature == "F" else values

    def weights(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Masses [g] in the maker's unit, to be drawn."""
        return values / GRAMS_PER_OUNCE if self.units.mass == "oz" else values

    def g(self, value: float | None) -> str:
        """A mass [g]; grams are not turned into kilograms, since a scale shows them."""
        if value is None or self.units.mass == "oz":
            return mass(value, self.units.mass)
        return f"{value:.0f} g"

    def tens(self, value: float) -> str:
        """A mass [g] that is an estimate, to 10 g."""
        return self.g(10.0 * round(value / 10.0))

    def masses(self, span: Span) -> str:
        """An estimated mass [g]: its middle, and the range that holds in eight of ten cases."""
        if self.units.mass == "oz":
            low, middle, high = (v / GRAMS_PER_OUNCE for v in (span.p10, span.p50, span.p90))
            return f"{middle:.0f} oz ({low:.0f}–{high:.0f})"
        low, middle, high = (10.0 * round(v / 10.0) for v in (span.p10, span.p50, span.p90))
        return f"{middle:.0f} g ({low:.0f}–{high:.0f})"


def ranged(span: Span, unit: str = "", digits: int = 1) -> str:
    """An estimated figure: its middle, and the range that holds in eight of ten cases.

    >>> ranged(Span(7.4, 8.8, 10.5), "W/K"), ranged(Span(-0.2, 0.1, 0.3), "K")
    ('8.8 W/K (7.4–10.5)', '0.1 K (−0.2 to 0.3)')
    """
    low, middle, high = (
        f"{value:.{digits}f}".replace("-", "−") for value in (span.p10, span.p50, span.p90)
    )
    dash = " to " if "−" in low or "−" in high else "–"
    return f"{middle} {unit}".rstrip() + f" ({low}{dash}{high})"


def minutes(seconds: float) -> str:
    """A duration [s] in whole minutes, below three in seconds.

    >>> minutes(1260.0), minutes(95.0)
    ('21 min', '95 s')
    """
    return f"{seconds / 60.0:.0f} min" if abs(seconds) >= 180.0 else f"{seconds:.0f} s"


def hours(in_min: float) -> str:
    """A duration [min], from two hours on in hours.

    >>> hours(96.0), hours(378.0)
    ('96 min', '6.3 h')
    """
    return f"{in_min:.0f} min" if in_min < 120.0 else f"{in_min / 60.0:.1f} h"
