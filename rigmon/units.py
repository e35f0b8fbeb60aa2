"""Units at the edges: inside, temperatures are °C, masses g, times s."""

from __future__ import annotations

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
