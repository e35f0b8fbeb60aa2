"""What a source has seen and tells: counts for the curious, news at a bearable rate."""

from __future__ import annotations

import math
import threading
from collections import deque

from rigmon.records import Mark, Reading, SourceNews, parse_mark
from rigmon.sources.base import Now, Put, SourceCounts
from rigmon.sources.decoded import BadLine, Decoded
from rigmon.texts import Sentence, marked

NEWS_EVERY_S = 10.0
"""The same kind of bad line is told at most once in this time [s]; the counts carry the rest."""

FAULT_EVERY_S = 600.0
"""A record that is never a reading (a humidity, say) is told this seldom [s]."""

KEPT_BAD_LINES = 50
DETAIL_CHARS = 200
_KEYS_KEPT = 500
_NOT_READ = marked("{rig}: a line could not be read: {why}.")
_RETAINED = marked("{rig}: {topic} is a retained message, old on arrival; have it sent unretained.")


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

    def mark_text(self, rig: str, payload: bytes) -> None:
        """Hand on a mark by the maker; one that makes no sense is counted and told."""
        text = payload.decode(errors="replace")
        try:
            mark = parse_mark(text, self._now())
        except ValueError as why:
            self.add("unknown")
            sentence = Sentence(marked("{rig}: a mark was dropped: {why}."), rig=rig, why=str(why))
            self.news(rig, "bad-mark", sentence, text, ("bad-mark", NEWS_EVERY_S))
        else:
            self._hand(rig, mark)

    def too_old(self, rig: str, topic: str) -> None:
        """Count and tell a retained message, which says nothing of now."""
        self.add("unknown")
        text = Sentence(_RETAINED, rig=rig, topic=topic)
        self.news(rig, "late", text, topic, (f"late {topic}", NEWS_EVERY_S))

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
            text = Sentence(_NOT_READ, rig=rig, why=str(why))
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
    """What each board is to sound, and whether it has heard so.

    A board found again hears how things stand, not how they went.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[str, str] = {}
        self._unheard: set[str] = set()

    def set(self, rig: str, level: str, code: str) -> None:
        """Have a rig's board sound this from now on."""
        with self._lock:
            self._latest[rig] = f"{level} {code}"
            self._unheard.add(rig)

    def repeat(self, rig: str) -> None:
        """The rig's board has come back: what it was to sound is said once more."""
        with self._lock:
            self._unheard |= {rig} & self._latest.keys()

    def take(self) -> list[tuple[str, str]]:
        """Rig and `<level> <alarm-code>` of all that have not been said; they are now."""
        with self._lock:
            unheard, self._unheard = self._unheard, set()
            return [(rig, self._latest[rig]) for rig in self._latest if rig in unheard]
