"""What a source has seen and tells: counts for the curious, news at a bearable rate."""

from __future__ import annotations

import math
import threading
from collections import deque

from rigmon.records import Mark, Reading, SourceNews
from rigmon.sources.base import Now, Put, SourceCounts
from rigmon.sources.decoded import BadLine, Decoded

NEWS_EVERY_S = 10.0
"""The same kind of bad line is told at most once in this time [s]; the counts carry the rest."""

FAULT_EVERY_S = 600.0
"""A record that is never a reading (a humidity, say) is told this seldom [s]."""

KEPT_BAD_LINES = 50
DETAIL_CHARS = 200
_KEYS_KEPT = 500
_CUES_KEPT = 32


class Ledger:
    """Counts what comes in and hands it on; safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._put: Put = lambda _rig, _item: None
        self._now: Now = lambda: 0.0
        self._seen = dict.fromkeys(SourceCounts.__dataclass_fields__.keys() - {"last_bad"}, 0)
        self._bad: deque[str] = deque(maxlen=KEPT_BAD_LINES)
        self._told: dict[tuple[str, str], float] = {}

    def begin(self, put: Put, now: Now) -> None:
        """Hand everything to `put` from here on, stamped by `now`."""
        self._put, self._now = put, now

    def now(self) -> float:
        """The service's time [s, Unix]."""
        return self._now()

    def add(self, what: str, n: int = 1) -> None:
        """Count n more of one of the numbers of `SourceCounts`."""
        with self._lock:
            self._seen[what] += n

    def counts(self) -> SourceCounts:
        """All counts so far."""
        with self._lock:
            return SourceCounts(**self._seen, last_bad=tuple(self._bad))

    def mark(self, rig: str, mark: Mark) -> None:
        """Hand on a mark."""
        self._hand(rig, mark)

    def decoded(self, rig: str, line: Decoded, detail: str) -> None:
        """Hand on the readings of a line, and tell of its parts that are none."""
        for reading in line.readings:
            self._hand(rig, reading)
        self.add("readings", len(line.readings))
        for fault in line.faults:
            self.add("unknown")
            self.news(rig, "bad-line", f"{rig}: {fault}.", detail, (fault, FAULT_EVERY_S))

    def bad(self, rig: str, why: BadLine, raw: bytes, tell: bool = True) -> None:
        """Count a bad line, keep it, and tell of it."""
        shown = raw[:DETAIL_CHARS].decode(errors="backslashreplace").rstrip()
        self.add("bad_checksums" if why.what == "bad-checksum" else "bad_lines")
        with self._lock:
            self._bad.append(f"{why}: {shown}")
        if tell:
            text = f"{rig}: a line could not be read: {why}."
            self.news(rig, why.what, text, shown, (why.what, NEWS_EVERY_S))

    def news(
        self,
        rig: str,
        what: str,
        text: str,
        detail: str = "",
        every: tuple[str, float] | None = None,
    ) -> None:
        """Tell a piece of news.

        Args:
            rig: whose.
            what: its kind.
            text: one sentence.
            detail: the line or topic in question.
            every: what counts as the same, and how seldom [s] that is told; None tells it always.
        """
        t = self._now()
        if every is not None:
            key, every_s = (rig, every[0]), every[1]
            with self._lock:
                if abs(t - self._told.get(key, -math.inf)) < every_s:
                    return
                if len(self._told) >= _KEYS_KEPT:
                    self._told.clear()
                self._told[key] = t
        self._hand(rig, SourceNews(t, rig, what, text, detail[:DETAIL_CHARS]))

    def _hand(self, rig: str, item: Reading | Mark | SourceNews) -> None:
        try:
            self._put(rig, item)
        except Exception as why:  # noqa: BLE001 - a fault of the receiver must not silence a board
            with self._lock:
                self._bad.append(f"handing on failed: {why!r}")


class Cues:
    """Cues on their way to boards: the latest of each alarm.

    A board found again hears how things stand, not how they went.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: dict[tuple[str, str], str] = {}

    def add(self, rig: str, level: str, code: str) -> None:
        """Put a cue in line; the oldest gives way where there are too many."""
        with self._lock:
            self._waiting.pop((rig, code), None)
            if len(self._waiting) >= _CUES_KEPT:
                del self._waiting[next(iter(self._waiting))]
            self._waiting[rig, code] = level

    def take(self) -> list[tuple[str, str]]:
        """All that wait, as rig and `<level> <alarm-code>`; they wait no longer."""
        with self._lock:
            waiting, self._waiting = self._waiting, {}
        return [(rig, f"{level} {code}") for (rig, code), level in waiting.items()]
