"""The seam between boards and the rest: what every source of readings can do, and nothing more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from rigmon.records import Mark, Reading, SourceNews

Put = Callable[[str, Reading | Mark | SourceNews], None]
"""Takes a rig's id and what came in for it, from any thread; never blocks and never raises."""

Now = Callable[[], float]
"""The service's wall clock [s, Unix]; in the demo it runs faster than the clock on the wall."""


@dataclass(frozen=True, slots=True)
class SourceCounts:
    """What a source has seen since it was started.

    Args:
        lines: lines or messages that came in, good and bad.
        readings: readings handed on.
        bad_lines: lines or messages that could not be read.
        bad_checksums: lines whose checksum was wrong, or missing where one is required.
        duplicates: readings that had come before.
        reconnects: times that the port or broker was found again.
        unknown: records, topics and marks that name something unknown, and readings too old to use.
        last_bad: the last 50 bad lines with the reason, oldest first.
    """

    lines: int = 0
    readings: int = 0
    bad_lines: int = 0
    bad_checksums: int = 0
    duplicates: int = 0
    reconnects: int = 0
    unknown: int = 0
    last_bad: tuple[str, ...] = ()


class Source(Protocol):
    """Where readings come from: a serial port, a broker, the virtual rig.

    A bad line, a lost port or a lost broker is a state that is counted and told as news; none of
    these methods raises because of it.
    """

    def start(self, put: Put, now: Now) -> None:
        """Begin to hand readings, marks and news to `put`, stamped by `now`."""

    def stop(self) -> None:
        """End within 1 s; nothing is put afterwards, and a second call does nothing."""

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Tell the rig's board to sound an alarm; neither blocks nor raises."""

    def counts(self) -> SourceCounts:
        """What has been seen so far."""
