"""What a run was fed, in order, and how far its clock had gone in between.

A monitor is replayed to the same words only if its clock moves as it did live. An item that came
late finds the clock already past its own time; a bare clock row before it says how far.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rigmon.records import Item


@dataclass(frozen=True, slots=True)
class ClockRow:
    """Time went on and nothing came in.

    Args:
        t: run time up to which it went on [s].
    """

    t: float


Step = Item | ClockRow
"""One thing that moves a monitor: something to feed, or a time to go on to."""


def clocked(fed: Iterable[tuple[float, Item]], ended_at: float | None = None) -> Iterator[Step]:
    """The steps that move a fresh monitor just as it was moved live.

    Args:
        fed: every item in the order fed, each behind the monitor's clock just before it [s].
        ended_at: run time at which the run ended [s], None if it was broken off.

    A fresh monitor's clock stands at 0, and time passes by itself up to an item that is not late.

    >>> from rigmon.records import Mark, MarkWord
    >>> late = Mark(8.0, MarkWord.POUR)
    >>> [step.t for step in clocked([(0.0, Mark(0.0, MarkWord.START)), (9.5, late)], 12.0)]
    [0.0, 9.5, 8.0, 12.0]
    """
    shown: float | None = None
    for clock, item in fed:
        if item.t <= clock and clock > (0.0 if shown is None else shown):
            yield ClockRow(clock)
            shown = clock
        yield item
        shown = item.t if shown is None else max(shown, item.t)
    if ended_at is not None and (shown is None or ended_at > shown):
        yield ClockRow(ended_at)
