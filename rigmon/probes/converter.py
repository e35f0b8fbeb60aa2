"""From what a board sends to the temperature at the probe's tip, in °C.

A board may linearise by itself, send the bare emf, or carry a chip that takes the thermocouple
for a straight line. Such a chip reads 2 K warm at −21 °C with type K, and 12 K with type T.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rigmon.probes.its90 import CURVES
from rigmon.probes.thermocouple import emf_mv, temperature_c
from rigmon.records import Converter, ProbeSetup, Reading, Unit
from rigmon.texts import Sentence, marked

SENSITIVITY_UV_PER_K: Mapping[str, float] = MappingProxyType(
    {"K": 41.276, "T": 52.18, "J": 57.953, "E": 76.373, "N": 36.256}
)
"""Sensitivities of the MAX31855 data sheet (Maxim 19-5793) [µV/K]: K as printed there, the others
from memory. All five are the mean slope of the reference function from 0 to 1000 °C (T: to
400 °C)."""

_WATTS = marked("Probe {probe!r} sends watts, which are no temperature.")
_SENDS_C = marked(
    "Probe {probe!r} is set to converter 'emf' but sends °C: set its converter to what the board "
    "does."
)
_NO_TYPE = marked(
    "Probe {probe!r} sends an emf or a straight line, and its type {type!r} is none of {types}: "
    "set its type."
)
_NO_JUNCTION = marked(
    "The board sends no cold-junction temperature for probe {probe!r}, and without it there is no "
    "true temperature: send '{probe}/cj' beside the reading."
)
_CANNOT = marked(
    "Probe {probe!r} sends {value} {unit} from a board at {board} °C, which no type {type} "
    "thermocouple can: look at its plug and at its type."
)


@dataclass(frozen=True, slots=True)
class Converted:
    """A reading as a temperature, or the reason why it is none.

    Args:
        c: temperature [°C]; None where there is none.
        problem: one sentence for the maker; "" where there is a temperature, or where there was
            no number to begin with.
    """

    c: float | None
    problem: str = ""


def straight_line_c(true_c: float, cj_c: float, kind: str) -> float:
    """What a chip that assumes one constant sensitivity reports.

    t = t_cj + (E(t_true) − E(t_cj)) / S. The data sheet lists other sensitivities for the cold
    junction, so that a chip for another type than K may differ from this by some tenths.

    Args:
        true_c: temperature of the hot junction [°C], within the type's range.
        cj_c: temperature of the cold junction on the board [°C].
        kind: type letter, T, K, J, E or N.

    Returns:
        The reported temperature [°C], before the chip rounds it.

    Raises:
        ValueError: a temperature outside the type's range, or an unknown type.

    Source: MAX31855 data sheet (Maxim 19-5793), equation of the output voltage.

    >>> round(straight_line_c(-21.0, 25.0, "K"), 2), round(straight_line_c(0.0, 25.0, "T"), 2)
    (-19.0, 5.99)
    """
    emf_uv = 1000.0 * (emf_mv(true_c, kind) - emf_mv(cj_c, kind))
    return cj_c + emf_uv / SENSITIVITY_UV_PER_K[kind]


def undo_straight_line_c(reported_c: float, cj_c: float, kind: str) -> float:
    """The true temperature behind what a straight-line chip reported.

    E(t_true) = S (t − t_cj) + E(t_cj), solved for t_true: `straight_line_c` backwards.

    Args:
        reported_c: what the chip reported [°C].
        cj_c: temperature of the cold junction on the board [°C].
        kind: type letter, T, K, J, E or N.

    Returns:
        Temperature of the hot junction [°C].

    Raises:
        ValueError: a temperature outside the type's range, or an unknown type.

    Source: MAX31855 data sheet (Maxim 19-5793), equation of the output voltage.

    >>> round(undo_straight_line_c(-19.0, 25.0, "K"), 1)
    -21.0
    """
    mv = emf_mv(cj_c, kind)
    return temperature_c(mv + SENSITIVITY_UV_PER_K[kind] * (reported_c - cj_c) / 1000.0, kind)


def linearised(reading: Reading, probe: ProbeSetup) -> Converted:
    """One reading as a true temperature, before the probe's own gain and offset.

    A value typed by hand is a temperature already. Nothing is guessed: without the cold junction
    neither an emf nor a straight line becomes a temperature.

    Args:
        reading: as it came in.
        probe: how its board converts.

    Returns:
        The temperature [°C], or why there is none.

    >>> from rigmon.records import Place
    >>> bath = ProbeSetup("bath", Place.BATH, type="T", converter=Converter.EMF)
    >>> linearised(Reading(0.0, "bath", -0.757, Unit.MILLIVOLT, cj_c=0.0), bath)
    Converted(c=-20.00..., problem='')
    """
    value = reading.value
    if value is None or not math.isfinite(value) or reading.fault is not None:
        return Converted(None)
    if reading.unit is Unit.WATT:
        return Converted(None, Sentence(_WATTS, probe=probe.name))
    if reading.unit is Unit.CELSIUS:
        if reading.by == "hand" or probe.converter is Converter.LINEARISED:
            return Converted(value)
        if probe.converter is Converter.EMF:
            return Converted(None, Sentence(_SENDS_C, probe=probe.name))
    if probe.type not in CURVES:
        types = ", ".join(CURVES)
        return Converted(None, Sentence(_NO_TYPE, probe=probe.name, type=probe.type, types=types))
    if reading.cj_c is None:
        return Converted(None, Sentence(_NO_JUNCTION, probe=probe.name))
    try:
        if reading.unit is Unit.MILLIVOLT:
            c = temperature_c(value + emf_mv(reading.cj_c, probe.type), probe.type)
        else:
            c = undo_straight_line_c(value, reading.cj_c, probe.type)
    except ValueError:
        unit = "mV" if reading.unit is Unit.MILLIVOLT else "°C"
        return Converted(
            None,
            Sentence(
                _CANNOT,
                probe=probe.name,
                value=f"{value:g}",
                unit=unit,
                board=f"{reading.cj_c:g}",
                type=probe.type,
            ),
        )
    return Converted(c)


def corrected_c(linearised_c: float, probe: ProbeSetup) -> float:
    """A linearised temperature with the probe's own gain and offset: gain * t + offset.

    Args:
        linearised_c: true temperature by the reference function [°C].
        probe: the probe's gain and offset [K].

    Returns:
        The corrected temperature [°C].

    >>> from rigmon.records import Place
    >>> corrected_c(-20.0, ProbeSetup("bath", Place.BATH, offset_k=0.3, gain=1.01))
    -19.9
    """
    return probe.gain * linearised_c + probe.offset_k


def converted(reading: Reading, probe: ProbeSetup) -> Converted:
    """One reading as the temperature to work with: linearised, then corrected.

    A value typed by hand came from another thermometer or was corrected by the person who typed
    it, so the probe's gain and offset leave it alone.

    Args:
        reading: as it came in.
        probe: how its board converts, and what the probe itself adds.

    Returns:
        The temperature [°C], or why there is none.

    >>> from rigmon.records import Place
    >>> converted(Reading(0.0, "mix", -2.5), ProbeSetup("mix", Place.MIX, offset_k=0.25))
    Converted(c=-2.25, problem='')
    """
    straight = linearised(reading, probe)
    if straight.c is None or reading.by == "hand":
        return straight
    return Converted(corrected_c(straight.c, probe))
