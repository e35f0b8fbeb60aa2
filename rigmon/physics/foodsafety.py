"""Times and temperatures that food rules name for a cooked base: heating it, and cooling it again.

Local rules come first. What stands here is what the named texts print; that a base has met it says
that it has met it, and nothing of whether it is safe to eat.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hold:
    """A temperature and how long a mix is held at it.

    Args:
        hot_c: temperature, the printed °F converted [°C].
        for_s: how long [s].
        source: where it is printed.
    """

    hot_c: float
    for_s: float
    source: str


def _from_f(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


MIX_HOLDS = (
    Hold(_from_f(155.0), 1800.0, "7 CFR 58.635; 21 CFR 1240.61(c), eggnog: 69 °C (155 °F) 30 min"),
    Hold(_from_f(160.0), 900.0, "Regulations of Connecticut State Agencies 21a-58-13: 160 °F"),
    Hold(_from_f(165.0), 600.0, "the same: 165 °F 10 min"),
    Hold(_from_f(170.0), 300.0, "the same: 170 °F 5 min"),
    Hold(_from_f(175.0), 25.0, "7 CFR 58.635; 21 CFR 1240.61(c), eggnog: 80 °C (175 °F) 25 s"),
    Hold(_from_f(180.0), 15.0, "21 CFR 1240.61(c), eggnog: 83 °C (180 °F) 15 s"),
)
"""Holds printed for frozen dessert mix, the coolest first."""

COOLING_FROM_C = _from_f(135.0)
"""The cooling of a cooked food counts from here [°C] (FDA Food Code 3-501.14(A): 57 °C, 135 °F)."""
FIRST_STAGE_C, FIRST_STAGE_S = _from_f(70.0), 7200.0
"""It is at 21 °C (70 °F) within 2 h (FDA Food Code 3-501.14(A)(1)) [°C], [s]."""
COLD_C, COLD_WITHIN_S = _from_f(41.0), 21600.0
"""It is at 5 °C (41 °F) or less within 6 h in all (FDA Food Code 3-501.14(A)(2)) [°C], [s]."""


def hold_share(base_c: float, for_s: float) -> float:
    """What part of a printed hold a stretch of time at one temperature is.

    share = for_s / hold, the hold being that of the hottest row that is reached. Nothing is read
    off between the rows, so that a base never counts for more than a text prints; that the shares
    of one stretch after another add up is common practice, no source.

    Args:
        base_c: temperature [°C]; under 68.3 °C nothing counts.
        for_s: how long [s].

    Returns:
        Share of a hold; 1 is a whole one.

    Source:
        The rows of `MIX_HOLDS`.

    >>> hold_share(69.0, 900.0), hold_share(80.0, 25.0), hold_share(60.0, 3600.0)
    (0.5, 1.0, 0.0)
    """
    reached = [hold.for_s for hold in MIX_HOLDS if base_c >= hold.hot_c]
    return for_s / reached[-1] if reached else 0.0
