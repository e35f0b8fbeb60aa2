"""Between the daemon's thread, which tells, and the server's, where every page listens.

No page has a queue: each knows what it was sent last, and gets the newest picture and the rows
that it lacks whenever it can take them. One that is slow skips pictures, and costs no memory.
"""

from __future__ import annotations

import asyncio
import json
import math
import threading
import time
from collections.abc import AsyncIterator, Mapping
from contextlib import suppress
from typing import Any

from rigmon.outlets.glance import Glance
from rigmon.outlets.page.history import Columns, Counter
from rigmon.outlets.page.picture import RigPage
from rigmon.records import Alarm, MarkHeard, ProbeSeen, Said, Summary

PICTURE_S = 0.8
"""A rig's picture is sent no sooner after the one before [s], but for an alarm or a mark: states
come once a second, a little early at times."""
ROWS_S = 0.1
"""Rows and readings are sent no sooner after those before [s]: a virtual rig makes dozens a
second."""
GATHER_S = 0.015
"""What is said at one time is gathered for so long [s]: a state, its forecasts, its alarms."""
BEAT_S = 1.0
"""A page that has nothing to show is told so often that the program lives [s]."""
MOST_ROWS = 500
"""So many rows go into one event."""
MOST_STREAMS = 64
"""So many pages listen at once."""
_URGENT = (Alarm, MarkHeard, Summary)


class _Shown:
    """What is sent of one rig, made once for all pages.

    Args:
        rig: what the page knows of it.
    """

    def __init__(self, rig: RigPage) -> None:
        self.rig = rig
        self.version = 0
        """Grows with everything that is told."""
        self.urgent = 0
        """Version that every page is to show at once."""
        self.shown = -1
        """Version that the newest picture shows."""
        self._made_at = -math.inf
        self._event = b""
        self._rows: tuple[tuple[int, int], tuple[int, bytes]] = ((-1, -1), (0, b""))
        self.read = 0
        """Grows with every reading."""
        self._readings: dict[str, tuple[int, bytes]] = {}

    def take(self, probe: str, seen: ProbeSeen) -> None:
        """Take in a reading; one that nobody was sent yet gives way to it."""
        self.read += 1
        value_c = None if seen.value_c is None else round(seen.value_c, 2)
        told = {
            "rig": self.rig.glance.rig_id,
            "probe": probe,
            "place": seen.place.value,
            "c": value_c,
            "at": seen.at,
        }
        self._readings[probe] = self.read, as_event("reading", told)

    def readings(self, since: int) -> bytes:
        """The newest reading of each probe that has one above a number."""
        return b"".join(event for number, event in self._readings.values() if number > since)

    def due_s(self) -> float:
        """How long until another picture may be made [s]; infinite while nothing has changed."""
        if self.shown == self.version:
            return math.inf
        if self.urgent > self.shown:
            return 0.0
        return max(self._made_at + PICTURE_S - time.monotonic(), 0.0)

    def picture(self) -> bytes:
        """The newest picture that may be made by now."""
        if self.due_s() <= 0.0:
            self._event = as_event("picture", self.rig.picture())
            self.shown, self._made_at = self.version, time.monotonic()
        return self._event

    def rows(self, since: int) -> tuple[int, bytes]:
        """The number of the last row above a number, and the rows as the data of an event."""
        history = self.rig.history
        key = since, history.newest_seq
        if key != self._rows[0]:
            seq, rows = history.since(since, MOST_ROWS)
            told = {"rig": self.rig.glance.rig_id, "run": self.rig.run, "rows": rows}
            self._rows = key, (seq, _json(told) if rows else b"")
        return self._rows[1]


class _Reader:
    """What one page has been sent.

    Args:
        rigs: those that it wants.
        since: number of the last row that it has; None for those that are still to come.
    """

    def __init__(self, rigs: Mapping[str, _Shown], since: int | None) -> None:
        self._rigs = rigs
        self._sent = dict.fromkeys(rigs, -1)
        self._read = {rig: one.read for rig, one in rigs.items()}
        self._rows = {
            rig: one.rig.history.newest_seq if since is None else since for rig, one in rigs.items()
        }

    def due(self) -> tuple[bytes, float]:
        """What it is to be sent now, and in how long it must be asked again at the latest [s]."""
        parts = []
        for rig, one in self._rigs.items():
            event = one.picture()
            if self._sent[rig] != one.shown:
                self._sent[rig] = one.shown
                parts.append(event)
        found = {rig: one.rows(self._rows[rig]) for rig, one in self._rigs.items()}
        for rig, (seq, rows) in found.items():
            if rows:
                self._rows[rig] = seq
                parts.append(b"event: row\nid: %d\ndata: %b\n\n" % (self._complete(), rows))
        for rig, one in self._rigs.items():
            parts.append(one.readings(self._read[rig]))
            self._read[rig] = one.read
        again_s = min((one.due_s() for one in self._rigs.values()), default=math.inf)
        return b"".join(parts), again_s

    def _complete(self) -> int:
        """A number up to which it has all rows of all rigs, so that none is missed later."""
        behind = [
            self._rows[rig]
            for rig, one in self._rigs.items()
            if self._rows[rig] < one.rig.history.newest_seq
        ]
        return min(behind, default=max(self._rows.values()))


class Hub:
    """All rigs, and the pages that listen.

    Args:
        glances: a glance of each rig, by id, of the hub's own.
    """

    def __init__(self, glances: Mapping[str, Glance]) -> None:
        counter = Counter()
        self._lock = threading.Lock()
        self._rigs = {rig: _Shown(RigPage(one, counter)) for rig, one in glances.items()}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._news: asyncio.Event | None = None
        self._woken = False
        self.streams = 0
        """Pages that listen now."""
        self.closed = False

    @property
    def rigs(self) -> tuple[str, ...]:
        """The rigs' ids."""
        return tuple(self._rigs)

    def tell(self, rig_id: str, run: str | None, said: Said, *, old: bool = False) -> None:
        """Take in one thing said of a rig, from any thread; never waits for a page.

        Args:
            rig_id: the rig.
            run: the run that goes on; None between runs.
            said: what was said.
            old: it was said before, and is no reason to send anything.
        """
        with self._lock:
            shown = self._rigs[rig_id]
            shown.rig.tell(run, said)
            shown.version += 1
            if isinstance(said, _URGENT) and not old:
                shown.urgent = shown.version
        if not old:
            self._wake()

    def read(self, rig_id: str, probe: str, seen: ProbeSeen) -> None:
        """Take in a reading before its second is over, from any thread; never waits for a page.

        Args:
            rig_id: the rig.
            probe: the probe's name.
            seen: its value as the rig's next state will show it, unless a newer one comes.
        """
        with self._lock:
            self._rigs[rig_id].take(probe, seen)
        self._wake()

    def attach(self, loop: asyncio.AbstractEventLoop) -> None:
        """From here on pages listen in this loop, which is the one that calls."""
        self._news = asyncio.Event()
        self._loop = loop

    def close(self) -> None:
        """Say goodbye to every page; from any thread."""
        self.closed = True
        self._wake()

    def _wake(self) -> None:
        loop = self._loop
        if loop is None or self._woken:
            return
        self._woken = True
        # The server may have ended meanwhile.
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(loop.call_later, GATHER_S, self._spread)

    def _spread(self) -> None:
        self._woken = False
        if self._news is not None:
            # Whoever waits holds the old one.
            self._news.set()
            self._news = asyncio.Event()

    def trend(self, rig_id: str) -> tuple[str | None, Columns, list[dict[str, Any]]]:
        """Run, rows and marks of a rig.

        Raises:
            KeyError: there is no such rig.
        """
        with self._lock:
            rig = self._rigs[rig_id].rig
            return rig.run, rig.history.columns(), list(rig.marks)

    def summary(self, rig_id: str) -> tuple[str | None, Mapping[str, Any], float] | None:
        """Run, figures and time [s] of the run that ended last; None while none has.

        Raises:
            KeyError: there is no such rig.
        """
        with self._lock:
            ended = self._rigs[rig_id].rig.ended
            return None if ended is None else (ended[0], ended[1].figures, ended[1].at)

    async def stream(self, since: int | None, only: str | None = None) -> AsyncIterator[bytes]:
        """Events for one page, for as long as it is read.

        Args:
            since: number of the last row that it has; None for those that are still to come.
            only: the one rig that is meant.
        """
        with self._lock:
            wanted = {rig: one for rig, one in self._rigs.items() if only in (None, rig)}
            reader = _Reader(wanted, since)
        self.streams += 1
        spoken_at = time.monotonic()
        try:
            while not self.closed:
                news = self._news or asyncio.Event()
                with self._lock:
                    event, again_s = reader.due()
                if event:
                    yield event
                    spoken_at = time.monotonic()
                    await asyncio.sleep(ROWS_S)
                    continue
                beat_s = spoken_at + BEAT_S - time.monotonic()
                if not await _within(news, min(beat_s, again_s)) and beat_s <= again_s:
                    yield as_event("beat", {})
                    spoken_at = time.monotonic()
            yield as_event("bye", {})
        finally:
            self.streams -= 1


async def _within(news: asyncio.Event, for_s: float) -> bool:
    """Whether there are news within so long [s]."""
    try:
        await asyncio.wait_for(news.wait(), for_s)
    except TimeoutError:
        return False
    return True


def as_event(name: str, data: object) -> bytes:
    r"""A server-sent event (WHATWG HTML, section 9.2); JSON has no line ends to break it.

    >>> as_event("beat", {})
    b'event: beat\ndata: {}\n\n'
    """
    return b"event: %b\ndata: %b\n\n" % (name.encode(), _json(data))


def _json(data: object) -> bytes:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
