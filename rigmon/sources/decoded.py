"""What a line of a board comes to: readings, or the reason why it is none."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.records import Reading

OLDEST_S = 86_400.0
"""A reading that a board kept for longer than this [s] is refused: no run lasts so long."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """The readings of one line.

    Args:
        readings: in the line's own order.
        faults: a sentence for each part of the line that is no reading, where the rest still is.
    """

    readings: tuple[Reading, ...] = ()
    faults: tuple[str, ...] = ()


class BadLine(ValueError):  # noqa: N818 - named for the line; it is counted, never shown as an error
    """A line that cannot be read, and why."""

    what = "bad-line"


class BadChecksum(BadLine):
    """A line whose checksum is wrong, or missing where one is required."""

    what = "bad-checksum"
