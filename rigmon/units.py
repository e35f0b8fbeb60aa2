"""Units at the edges: inside, temperatures are °C, masses g, times s."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

TemperatureUnit = Literal["C", "F"]
MassUnit = Literal["g", "oz"]

KELVIN_AT_0_C = 273.15
GRAMS_PER_OUNCE = 28.349523125
"""Avoirdupois ounce [g], exact by the international yard and pound agreement of 1959."""


def fahrenheit(c: float) -> float:
    """Temperature [°C] as °F.

    >>> fahrenheit(-21.1)
    -5.98
    """
    return c * 9.0 / 5.0 + 32.0


def celsius(f: float) -> float:
    """Temperature [°F] as °C.

    >>> celsius(32.0)
    0.0
    """
    return (f - 32.0) * 5.0 / 9.0


def temperature(c: float | None, unit: TemperatureUnit = "C", digits: int = 1) -> str:
    """A temperature [°C] as a maker reads it; a dash where there is none.

    >>> temperature(-2.53), temperature(-2.53, "F"), temperature(None)
    ('−2.5 °C', '27.4 °F', '–')
    """
    if c is None:
        return "–"
    value = fahrenheit(c) if unit == "F" else c
    text = f"{value:.{digits}f}".replace("-", "−")
    if float(f"{value:.{digits}f}") == 0.0:
        text = text.removeprefix("−")
    return f"{text} °{unit}"


@dataclass(frozen=True, slots=True)
class Celsius:
    """A temperature that is written in the maker's unit where it is said.

    Args:
        c: the temperature [°C].
        digits: digits behind the point.

    >>> f"{Celsius(-2.25, 2)}"
    '−2.25 °C'
    """

    c: float | None
    digits: int = 1

    def __str__(self) -> str:
        return temperature(self.c, digits=self.digits)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that is written with the maker's decimal sign where it is said.

    Args:
        value: the number.
        digits: digits behind the point.

    >>> f"{Figure(0.94)}"
    '0.9'
    """

    value: float
    digits: int = 1

    def __str__(self) -> str:
        return f"{self.value:.{self.digits}f}"


def mass(g: float | None, unit: MassUnit = "g") -> str:
    """A mass [g] as a maker weighs it; a dash where there is none.

    >>> mass(912.4), mass(912.4, "oz"), mass(2850)
    ('912 g', '32.2 oz', '2.85 kg')
    """
    if g is None:
        return "–"
    if unit == "oz":
        return f"{g / GRAMS_PER_OUNCE:.1f} oz"
    return f"{g / 1000:.2f} kg" if g >= 1000 else f"{g:.0f} g"


def lasting(seconds: float) -> str:
    """How long something has gone on [s], in the one or two units that a sentence bears.

    >>> lasting(6.2), lasting(100), lasting(160), lasting(5400)
    ('6 s', '100 s', '3 min', '1 h 30 min')
    """
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 3570 else clock(seconds)


def clock(seconds: float | None) -> str:
    """A duration [s] as minutes and seconds, or hours and minutes.

    >>> clock(75), clock(3725), clock(None)
    ('1:15', '1 h 02 min', '–')
    """
    if seconds is None:
        return "–"
    whole = round(seconds)
    if whole >= 3600:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    return f"{whole // 60}:{whole % 60:02d}"
