"""How far thermocouple wire may be off when it is new: the tolerance classes of IEC 60584-1."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class WireClass:
    """One class of one type of wire; its tolerance is the larger of the two terms.

    Args:
        low_c: lowest temperature for which the class is defined [°C].
        high_c: highest [°C].
        fixed_k: constant term [K].
        share: the other term, a share of the temperature in °C.
    """

    low_c: float
    high_c: float
    fixed_k: float
    share: float


_BASE = {
    1: WireClass(-40.0, 1000.0, 1.5, 0.004),
    2: WireClass(-40.0, 1200.0, 2.5, 0.0075),
    3: WireClass(-200.0, 40.0, 2.5, 0.015),
}

WIRE_CLASSES: Mapping[str, Mapping[int, WireClass]] = MappingProxyType(
    {
        "T": {
            1: WireClass(-40.0, 350.0, 0.5, 0.004),
            2: WireClass(-40.0, 350.0, 1.0, 0.0075),
            3: WireClass(-200.0, 40.0, 1.0, 0.015),
        },
        "K": _BASE,
        "N": _BASE,
        "J": {
            1: WireClass(-40.0, 750.0, 1.5, 0.004),
            2: WireClass(-40.0, 750.0, 2.5, 0.0075),
        },
        "E": {
            1: WireClass(-40.0, 800.0, 1.5, 0.004),
            2: WireClass(-40.0, 900.0, 2.5, 0.0075),
            3: WireClass(-200.0, 40.0, 2.5, 0.015),
        },
    }
)
"""By type and class, IEC 60584-2 (1982, amended 1989), which IEC 60584-1:2013 keeps; read in the
reference pages of Labfacility, section 9.1.1."""


def tolerance_k(kind: str, wire_class: int, t_c: float) -> float:
    """Tolerance of new wire at `t_c` [°C] in K: the larger of its fixed term and its share of |t|.

    Args:
        kind: type letter, T, K, J, E or N.
        wire_class: 1, 2 or 3.
        t_c: temperature [°C].

    Raises:
        ValueError: no such type or class, or a temperature for which the class is not defined.

    Source: IEC 60584-1.

    >>> tolerance_k("T", 1, -15.0), tolerance_k("K", 2, 400.0)
    (0.5, 3.0)
    """
    known = WIRE_CLASSES.get(kind, {}).get(wire_class)
    if known is None:
        raise ValueError(f"IEC 60584-1 knows no class {wire_class} of type {kind!r}.")
    if not known.low_c <= t_c <= known.high_c:
        raise ValueError(
            f"Class {wire_class} of type {kind} is defined from {known.low_c:g} to"
            f" {known.high_c:g} °C, not at {t_c:g} °C."
        )
    return max(known.fixed_k, known.share * abs(t_c))
