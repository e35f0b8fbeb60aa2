"""A converter that takes the thermocouple for a straight line, known by how it errs.

Such a chip is right at its own temperature and errs by the bend of the curve elsewhere. In ice and
water, with a board at 25 °C, type T reads +6.0 °C, which no wire does; type K reads +0.8 °C, which
wire within its class may do, so that only two temperatures far apart betray it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from rigmon.probes.converter import straight_line_c
from rigmon.probes.its90 import CURVES
from rigmon.records import tolerance_k

USUAL_BOARD_C = (18.0, 32.0)
"""Where the board does not send its temperature it is somewhere in here [°C] (own choice)."""

BOARD_K = 0.5
"""How far the board's own temperature may be off, beside the wire's class 2 [K] (own choice)."""

APART_K = 10.0
SLOPE_OFF = 0.015
"""Wire bends a slope by up to 0.0075 (IEC 60584-1, class 2); one twice as far off is no wire's."""


class Straight(StrEnum):
    """Whether a chip takes the wire for a straight line."""

    YES = "yes"
    NO = "no"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Sight:
    """What a chip reported where the truth is known.

    Args:
        read_c: reported temperature, nothing undone [°C].
        true_c: the truth [°C].
        cj_c: temperature of the board [°C], None where it is not sent.
    """

    read_c: float
    true_c: float
    cj_c: float | None = None


def straight(sights: Sequence[Sight], kind: str) -> Straight:
    """Whether what was seen is the straight line's, or the wire's own, or either's.

    Args:
        sights: at least one.
        kind: thermocouple letter; any other type is no thermocouple.

    >>> straight([Sight(6.0, 0.0, 25.0)], "T").value, straight([Sight(0.2, 0.0, 25.0)], "T").value
    ('yes', 'no')
    >>> straight([Sight(0.75, 0.0, 25.0)], "K").value
    'open'
    >>> straight([Sight(0.75, 0.0, 25.0), Sight(-19.0, -21.0, 25.0)], "K").value
    'yes'
    """
    if kind not in CURVES:
        return Straight.NO
    by_slope = _by_slope(sights, kind)
    if by_slope is not Straight.OPEN:
        return by_slope
    found = {_by_level(sight, kind) for sight in sights}
    return found.pop() if len(found) == 1 else Straight.OPEN


def _by_level(sight: Sight, kind: str) -> Straight:
    within_k = tolerance_k(kind, 2, max(sight.true_c, -40.0)) + BOARD_K
    line = abs(sight.read_c - sight.true_c) <= within_k
    chip = [straight_line_c(sight.true_c, cj, kind) for cj in _board(sight)]
    bent = min(chip) - within_k <= sight.read_c <= max(chip) + within_k
    if bent == line:
        return Straight.OPEN
    return Straight.YES if bent else Straight.NO


def _by_slope(sights: Sequence[Sight], kind: str) -> Straight:
    low = min(sights, key=lambda sight: sight.true_c)
    high = max(sights, key=lambda sight: sight.true_c)
    apart_k = high.true_c - low.true_c
    if apart_k < APART_K:
        return Straight.OPEN
    seen = (high.read_c - low.read_c) / apart_k
    chip = (_chip_c(high, kind) - _chip_c(low, kind)) / apart_k
    if abs(chip - 1.0) < 2.0 * SLOPE_OFF:
        return Straight.OPEN
    if abs(seen - 1.0) < SLOPE_OFF:
        return Straight.NO
    return Straight.YES if abs(seen - chip) < SLOPE_OFF else Straight.OPEN


def _board(sight: Sight) -> tuple[float, ...]:
    return USUAL_BOARD_C if sight.cj_c is None else (sight.cj_c,)


def _chip_c(sight: Sight, kind: str) -> float:
    board = _board(sight)
    return sum(straight_line_c(sight.true_c, cj, kind) for cj in board) / len(board)
