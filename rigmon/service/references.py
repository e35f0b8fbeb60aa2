"""Temperatures that are known: how a kitchen makes them, and how unsure they are."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from rigmon.errors import UsageError
from rigmon.physics.boiling import boiling_c, standard_pressure_hpa
from rigmon.physics.brine import EUTECTIC_C
from rigmon.probes.calibration import HAND_SHARE, Reference, Seen, Share, seen_on_display

ICE_SD_K = 0.06
"""A kitchen's ice point is 0.0 ± 0.1 °C, taken as a rectangle: fine ice packed with water, from the
tap with up to 300 mg/l of salts, which cost 0.015 K (common practice, no source; a careful ice
point by ASTM E563 is good to some mK)."""

PRESSURE_SD_HPA, WEATHER_SD_HPA = 1.0, 9.0
"""A barometer in the kitchen, and the weather where only the altitude is known [hPa] (own
estimates)."""

SUPERHEAT_K = (0.0, 0.5)
"""Water at a rolling boil in a pot is hotter than its boiling point by this [K], a rectangle:
superheat, and 0.1 K for 5 cm of water above the tip (common practice, no source)."""

SLUSH_SD_K = 0.2
"""How near an over-salted slush comes to its eutectic where grains and ice last [K] (own estimate);
sources of the eutectic part by 0.07 K."""

BETWEEN_SD_K = 0.05
"""Two tips side by side in a stirred bath [K] (own estimate)."""

HAND_SD_K = 0.5
"""A hand-held thermometer that nobody has calibrated [K] (common practice, no source)."""


def ice_point() -> Reference:
    """The ice point as a kitchen makes it."""
    return Reference("ice", 0.0, (Share("ice point", ICE_SD_K),))


def boiling_point(pressure_hpa: float | None, altitude_m: float | None) -> Reference:
    """The boiling point of water, by the air's pressure [hPa] or the kitchen's altitude [m].

    Raises:
        UsageError: neither or both, or a value that cannot be.
    """
    if (pressure_hpa is None) == (altitude_m is None):
        raise UsageError(
            "boil needs the pressure or the altitude: give --pressure HPA, as a barometer in the "
            "kitchen shows it (not reduced to sea level), or --altitude M"
        )
    try:
        if pressure_hpa is None:
            assert altitude_m is not None  # noqa: S101 - asked above
            hpa, sd_hpa = standard_pressure_hpa(altitude_m), WEATHER_SD_HPA
        else:
            hpa, sd_hpa = pressure_hpa, PRESSURE_SD_HPA
        c = boiling_c(hpa)
        slope = 0.5 * (boiling_c(hpa + 1.0) - boiling_c(hpa - 1.0))
    except ValueError as why:
        name = "--altitude" if pressure_hpa is None else "--pressure"
        raise UsageError(f"{name}: {why}") from None
    low_k, high_k = SUPERHEAT_K
    shares = (
        Share("weather" if pressure_hpa is None else "barometer", slope * sd_hpa),
        Share("superheat", (high_k - low_k) / math.sqrt(12.0)),
    )
    return Reference("boil", c + 0.5 * (low_k + high_k), shares)


def eutectic_slush() -> Reference:
    """Ice, salt and brine together: with both left over, the temperature is the eutectic's."""
    return Reference("slush", EUTECTIC_C, (Share("slush", SLUSH_SD_K),))


def typed_values(words: Sequence[str]) -> dict[str, Seen]:
    """Values that were read off a display and typed as `NAME=0.4,0.3,0.4`.

    Raises:
        UsageError: they cannot be understood.
    """
    found: dict[str, Seen] = {}
    for word in words:
        name, equals, rest = word.partition("=")
        values = [value.strip().replace("−", "-") for value in rest.split(",")]
        try:
            numbers = [float(value) for value in values]
        except ValueError:
            numbers = []
        if not equals or not name or len(numbers) < 3 or not all(map(math.isfinite, numbers)):
            raise UsageError(
                f"--typed {word!r} is not understood: write a name and at least three values, half "
                "a minute apart, as in --typed hand=0.4,0.3,0.4"
            )
        digits = max(len(value.partition(".")[2]) for value in values)
        found[name] = seen_on_display(numbers, 10.0**-digits)
    return found


def hand_reference(seen: Seen, sd_k: float, correct: Callable[[float], float]) -> Reference:
    """A hand-held thermometer's values as the temperature of a bath."""
    shares = (*seen.shares, Share(HAND_SHARE, sd_k), Share("between the tips", BETWEEN_SD_K))
    return Reference("compare", correct(seen.c), shares)
