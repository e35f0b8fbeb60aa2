"""The daemon: one loop that takes what sources and makers send and hands it to the rigs' watches.

Threads of sources and of the inbox only put things into one queue; everything that changes is
changed by the loop.
"""

from __future__ import annotations

import queue
import signal
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from types import FrameType

from rigmon.outlets.base import Outlet
from rigmon.records import (
    Alarm,
    AlarmState,
    Mark,
    Reading,
    Said,
    SourceNews,
    parse_mark,
)
from rigmon.service import systemd
from rigmon.service.clock import Clock
from rigmon.service.inbox import Answer, Inbox
from rigmon.service.logkeeper import LogKeeper, condition
from rigmon.service.prepare import Rig
from rigmon.service.rigwatch import TICK_LAG_S, RigWatch, understood
from rigmon.sources import Source
from rigmon.store.log import RunLog

_BEAT_S = 0.05
"""How long the loop waits for something to come before it looks at the clock [s]."""
_ANSWER_S = 4.0
_AT_ONCE = 500
"""Things taken in before the loop looks at the clock again."""


class _Question:
    """A mark from the inbox that waits for its answer."""

    def __init__(self, rig: str | None, text: str) -> None:
        self.rig = rig
        self.text = text
        self.answer: Answer = {"ok": False, "text": "rigmon is stopping; the mark was not taken."}
        self.answered = threading.Event()


_Coming = tuple[str, Reading | Mark | SourceNews] | _Question | None


class Daemon:
    """Watches rigs until told to stop.

    Args:
        rigs: the rigs.
        sources: where their readings come from; not yet started.
        outlets: where words go.
        log: the run log; None keeps nothing.
        clock: the wall clock.
        once: stop when the run of every rig has ended.
    """

    def __init__(
        self,
        rigs: Sequence[Rig],
        sources: Sequence[Source],
        outlets: Sequence[Outlet],
        log: RunLog | None = None,
        clock: Clock | None = None,
        *,
        once: bool = False,
    ) -> None:
        self.clock = clock or Clock()
        self._sources = sources
        self._outlets = list(outlets)
        self._queue: queue.SimpleQueue[_Coming] = queue.SimpleQueue()
        self._keeper = LogKeeper(log, self._log_news)
        self._log_sentence: str | None = None
        self._watches: Mapping[str, RigWatch] = {
            rig.setup.id: RigWatch(rig, self._keeper, self._tell, self.clock.now()) for rig in rigs
        }
        self._stopping = threading.Event()
        self.interrupted = False
        self._once_only = once
        self.log_lost = ""

    # ── from any thread ──────────────────────────────────────────────────────────────────────────

    def put(self, rig_id: str, item: Reading | Mark | SourceNews) -> None:
        """Take in what a source has for a rig."""
        self._queue.put((rig_id, item))

    def ask(self, rig: str | None, text: str) -> Answer:
        """Take in a mark and wait for what was made of it; it is in the log by then."""
        question = _Question(rig, text)
        self._queue.put(question)
        question.answered.wait(_ANSWER_S)
        return question.answer

    def stop(self) -> None:
        """Ask the loop to end."""
        self._stopping.set()
        self._queue.put(None)

    # ── the loop ─────────────────────────────────────────────────────────────────────────────────

    def run(self) -> None:
        """Watch until `stop`, SIGINT or SIGTERM; everything is closed when this returns."""
        with self._signals():
            inbox = Inbox(self.ask)
            try:
                for source in self._sources:
                    source.start(self.put, self.clock.now)
                systemd.notify("READY=1")
                while not self._stopping.is_set():
                    self._once()
            finally:
                systemd.notify("STOPPING=1")
                inbox.close()
                for source in self._sources:
                    source.stop()
                self._close()

    def _once(self) -> None:
        with suppress(queue.Empty):
            coming = self._queue.get(timeout=_BEAT_S)
            for _ in range(_AT_ONCE):
                self._take(coming)
                coming = self._queue.get_nowait()
            self._take(coming)
        now = self.clock.now()
        for watch in self._watches.values():
            watch.pass_time(now, TICK_LAG_S * self.clock.speed)
        self._keeper.commit()
        if self._log_sentence is not None:
            sentence, self._log_sentence = self._log_sentence, None
            for watch in self._watches.values():
                watch.take(condition(self.clock.now(), sentence))
        systemd.notify("WATCHDOG=1")

    def _take(self, coming: _Coming) -> None:
        if isinstance(coming, _Question):
            coming.answer = self._answer(coming.rig, coming.text)
            coming.answered.set()
        elif coming is not None:
            rig_id, item = coming
            watch = self._watches.get(rig_id)
            if watch is not None:
                watch.take(item)
                if isinstance(item, Mark):
                    self._keeper.commit(now=True)
                    ended = all(watch.ended_runs for watch in self._watches.values())
                    if self._once_only and ended:
                        self.stop()

    def _answer(self, rig: str | None, text: str) -> Answer:
        names = ", ".join(self._watches)
        if rig is None and len(self._watches) > 1:
            return {"ok": False, "text": f"Say which rig with --rig: {names}."}
        rig_id = rig if rig is not None else next(iter(self._watches))
        watch = self._watches.get(rig_id)
        if watch is None:
            sentence = f"There is no rig {rig_id!r} here; there are: {names}."
            return {"ok": False, "text": sentence, "unknown_rig": True}
        try:
            mark = parse_mark(text, self.clock.now())
        except ValueError as error:
            return {"ok": False, "rig": rig_id, "text": f"The mark was not taken: {error}."}
        taken, sentence = understood(watch.take(mark))
        if not self._keeper.commit(now=True):
            sentence += " It is not in the log yet: the log cannot be written."
        return {"ok": taken, "rig": rig_id, "run": watch.run_id, "text": sentence}

    # ── what leaves ──────────────────────────────────────────────────────────────────────────────

    def _tell(self, rig_id: str, said: Said) -> None:
        for outlet in tuple(self._outlets):
            try:
                outlet.tell(rig_id, said)
            except BrokenPipeError:
                # Whoever read this outlet has gone.
                self._outlets.remove(outlet)
                if not self._outlets:
                    self.stop()
        if isinstance(said, Alarm):
            sounds = said.state is AlarmState.UNACKNOWLEDGED
            for source in self._sources:
                source.cue(rig_id, said.priority.value if sounds else "off", said.code)

    def _log_news(self, sentence: str) -> None:
        self._log_sentence = sentence

    def _close(self) -> None:
        for watch in self._watches.values():
            watch.leave()
        self.log_lost = self._keeper.close()
        for outlet in self._outlets:
            outlet.close()

    @contextmanager
    def _signals(self) -> Iterator[None]:
        """SIGINT and SIGTERM end the loop; only the main thread can ask for that."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return

        def heard(number: int, _: FrameType | None) -> None:
            self.interrupted = self.interrupted or number == signal.SIGINT
            self.stop()

        numbers = (signal.SIGINT, signal.SIGTERM)
        before = {number: signal.signal(number, heard) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
