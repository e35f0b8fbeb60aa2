"""What a plan is made from and what it finds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class SaltName(StrEnum):
    """What the salt is, its water of crystallisation included; its grain is another matter."""

    SODIUM_CHLORIDE = "sodium-chloride"
    POTASSIUM_CHLORIDE = "potassium-chloride"
    CALCIUM_CHLORIDE = "calcium-chloride"
    CALCIUM_CHLORIDE_HEXAHYDRATE = "calcium-chloride-hexahydrate"
    MAGNESIUM_CHLORIDE_HEXAHYDRATE = "magnesium-chloride-hexahydrate"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a maker would want to know of a recipe before mixing it: no verdict.

    Args:
        code: short name, `a-z -`.
        text: one or two sentences: what was found, what it does, what could be changed.
        value: the figure that was found, in `unit`.
        unit: its unit.
        low: least usual value, None where there is no lower bound.
        high: greatest usual value, None where there is no upper bound.
        basis: where the range comes from, or "common practice, no source".
    """

    code: str
    text: str
    value: float
    unit: str
    low: float | None
    high: float | None
    basis: str
