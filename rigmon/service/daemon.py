"""The daemon: one loop that takes what sources and makers send and hands it to the rigs' watches.

Threads of sources and of the inbox only put things into one queue; everything that changes is
changed by the loop.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path

from rigmon.config import Outlets
from rigmon.outlets.base import Outlet
from rigmon.outlets.cue import Cue
from rigmon.records import Mark, Reading, Said, SourceNews
from rigmon.service import signals, systemd
from rigmon.service.answers import STOPPING, Question
from rigmon.service.clock import Clock
from rigmon.service.faces import Faces
from rigmon.service.inbox import Answer, Inbox
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.pageside import PageSide
from rigmon.service.posts import OUTLET_FAILED, Posts
from rigmon.service.prepare import Rig
from rigmon.service.resume import OpenRun, broken_off, take_up
from rigmon.service.rigwatch import TICK_LAG_S, RigWatch
from rigmon.service.tally import total
from rigmon.sources import Source, SourceCounts
from rigmon.store.entries import RunHeader
from rigmon.store.log import RunLog

LOG_STOPPED = "log-stopped"
"""The alarm that a log which cannot be written raises."""
_BEAT_S = 0.05
"""How long the loop waits for something to come before it looks at the clock [s]."""
_ANSWER_S = 4.0
_AT_ONCE = 500
"""Things taken in before the loop looks at the clock again."""
_FAR_BEHIND_S = 30.0
"""A run that lags by more (it was just taken up, or the computer slept) catches up before anything
else is taken in, so that readings find their time [s of the clock on the wall] ..."""
_STRIDE_S = 120.0
"""... in strides that leave the loop awake [s of the run]."""

_PAGE_OPEN = "The run is over. The page stays for as long as it is open; Ctrl-C ends it at once."

_Coming = tuple[str, Reading | Mark | SourceNews] | Question | None


class Daemon:
    """Watches rigs until told to stop.

    Args:
        rigs: the rigs.
        sources: where their readings come from; not yet started.
        outlets: where words go; when all of them have closed their pipes the watching ends.
        keeper: the run log, closed at the end; None keeps nothing.
        clock: the wall clock.
        makers: the virtual rigs' makers, who hear what is said.
        posts: outlets that reach out of the house; closed at the end.
        page: the page in the browser; closed at the end.
        once: stop when the run of every rig has ended.
    """

    def __init__(
        self,
        rigs: Sequence[Rig],
        sources: Sequence[Source],
        outlets: Sequence[Outlet],
        keeper: LogKeeper | None = None,
        clock: Clock | None = None,
        *,
        makers: Sequence[Outlet] = (),
        posts: Posts | None = None,
        page: PageSide | None = None,
        once: bool = False,
    ) -> None:
        self._clock = clock or Clock()
        self._sources = [*sources, *(posts.devices if posts is not None else ())]
        self._faces = Faces(outlets)
        self._makers = makers
        self._posts = posts or Posts(Outlets(), rigs)
        self._page = page or PageSide()
        self._queue: queue.SimpleQueue[_Coming] = queue.SimpleQueue()
        self._keeper = keeper or LogKeeper(None)
        self._faults_told: dict[str, str] = {}
        self._cues = {rig.setup.id: Cue() for rig in rigs}
        now = self._clock.now()
        self._watches: Mapping[str, RigWatch] = {
            rig.setup.id: RigWatch(rig, self._keeper, self._tell, now) for rig in rigs
        }
        self._once_only = once
        self._stopping = threading.Event()
        self._alive_at = 0.0
        self.interrupted = False
        self.open_runs: tuple[float, ...] = ()
        """Wall clock at which each logged run began that goes on when watching ends [s]."""
        self.faults: list[str] = []
        """A sentence for each thing that is lost."""

    def put(self, rig_id: str, item: Reading | Mark | SourceNews) -> None:
        """Take in what a source has for a rig."""
        self._queue.put((rig_id, item))

    def ask(self, rig: str | None, text: str) -> Answer:
        """Take in a mark and wait for what was made of it; it is in the log by then."""
        if self._stopping.is_set():
            return STOPPING
        question = Question(rig, text, self._clock.now())
        self._queue.put(question)
        return question.wait(_ANSWER_S)

    def stop(self) -> None:
        """Ask the loop to end."""
        self._stopping.set()
        self._queue.put(None)

    def _asked_to_end(self, interrupted: bool) -> None:
        self.interrupted = self.interrupted or interrupted
        self.stop()

    def counts(self) -> SourceCounts:
        """What all sources have seen so far."""
        return total(source.counts() for source in self._sources)

    def run(self, noted: Sequence[bool] = ()) -> None:
        """Watch until `stop`, SIGINT, SIGTERM or SIGHUP; everything is closed when this returns.

        Args:
            noted: such signals that came before, as of `signals.noting`.

        Raises:
            DeviceError: there is no place for the socket that takes marks.
        """
        with signals.ending(self._asked_to_end), ExitStack() as at_the_end:
            at_the_end.callback(self._close)
            for interrupted in noted:
                self._asked_to_end(interrupted)
            inbox = Inbox(tuple(self._watches), self.ask, self._posts.results)
            at_the_end.callback(inbox.close)
            at_the_end.callback(self._turn_away)
            at_the_end.callback(self._stop_sources)
            at_the_end.callback(systemd.notify, "STOPPING=1")
            self._page.open(self)
            for source in self._sources:
                source.start(self.put, self._clock.now)
            systemd.notify("READY=1")
            for watch in self._watches.values():
                self._go_on(watch)
            while not self._stopping.is_set():
                self._once()

    def _go_on(self, watch: RigWatch) -> None:
        """Take up the rig's run if it was broken off."""
        log, now = self._keeper.log, self._clock.now()
        if log is None:
            return
        try:
            header = broken_off(log, watch.rig, now)
            run = None if header is None else self._take_up(log, header, now)
        except Exception as why:  # noqa: BLE001 - whatever is wrong with it, the rig is watched
            text = f"A run that was broken off cannot be gone on with: {why}."
            watch.take(SourceNews(now, watch.rig.setup.id, "not-resumed", text))
        else:
            if run is not None:
                watch.go_on(run)

    def _take_up(self, log: RunLog, header: RunHeader, now: float) -> OpenRun | None:
        def hear(said: list[Said]) -> None:
            for one in said:
                self._page.tell(header.rig, header.id, one, old=True)

        return take_up(log, header, now, self._pulse, hear)

    @property
    def log_path(self) -> Path | None:
        """Where the run log lies; None if nothing is kept."""
        return self._keeper.log.path if self._keeper.log is not None else None

    def rig(self, rig_id: str) -> Rig:
        """A rig as it is watched now, with what is known of it."""
        return self._watches[rig_id].rig

    def _once(self) -> None:
        now, speed = self._clock.now(), self._clock.speed
        lag_s = TICK_LAG_S * speed
        behind_s = max(watch.behind_s(now) for watch in self._watches.values())
        if behind_s < _FAR_BEHIND_S * speed:
            self._take_in()
            now = self._clock.now()
        for watch in self._watches.values():
            watch.pass_time(now, lag_s, _STRIDE_S * speed)
        self._keeper.commit()
        self._look_after(LOG_STOPPED, self._keeper.fault)
        self._look_after(OUTLET_FAILED, self._posts.fault)
        for result in self._posts.fresh():
            for watch in self._watches.values():
                watch.note("outlet", result.as_line)
        if self._once_only and self.ended:
            self._linger()
            self.stop()
        if self._faces.unheard:
            self.stop()
        self._pulse()

    @property
    def ended(self) -> bool:
        """Whether the run of every rig has ended."""
        return all(watch.ended_runs for watch in self._watches.values())

    def _linger(self) -> None:
        """Stay for as long as somebody reads on the page how it went; of the kitchen no more."""
        if not self._page.watched:
            return
        for rig_id, watch in self._watches.items():
            watch.take(SourceNews(self._clock.now(), rig_id, "page-open", _PAGE_OPEN))
        while self._page.watched and self._pulse():
            with suppress(queue.Empty):
                coming = self._queue.get(timeout=_BEAT_S)
                if isinstance(coming, Question):
                    coming.turn_away()

    def _look_after(self, code: str, fault: str) -> None:
        """Tell every rig what is wrong with the program, once."""
        if fault != self._faults_told.get(code, ""):
            self._faults_told[code] = fault
            for watch in self._watches.values():
                watch.fault(code, fault)

    def _take_in(self) -> None:
        """Wait for what comes, and take in all that is there."""
        with suppress(queue.Empty):
            self._take(self._queue.get(timeout=_BEAT_S))
            for _ in range(_AT_ONCE):
                self._take(self._queue.get_nowait())

    def _take(self, coming: _Coming) -> None:
        if isinstance(coming, Question):
            coming.settle(self._watches, self._keeper)
        elif coming is not None:
            rig_id, item = coming
            if rig_id in self._watches:
                self._watches[rig_id].take(item)
                if isinstance(item, Mark):
                    self._keeper.commit(now=True)
                elif isinstance(item, Reading) and self._page.watched:
                    self._page.read(rig_id, item.probe, self._watches[rig_id].newest(item))

    def _pulse(self) -> bool:
        """Tell systemd, once a second; returns whether to go on."""
        if time.monotonic() - self._alive_at >= 1.0:
            self._alive_at = time.monotonic()
            systemd.notify("WATCHDOG=1")
        return not self._stopping.is_set()

    def _tell(self, rig_id: str, said: Said) -> None:
        self._faces.tell(rig_id, said)
        self._page.tell(rig_id, self._watches[rig_id].run_id, said)
        for maker in self._makers:
            maker.tell(rig_id, said)
        self._posts.tell(rig_id, self._watches[rig_id].run_id, said)
        cue = self._cues[rig_id].tell(said)
        if cue is not None:
            for source in self._sources:
                source.cue(rig_id, *cue)

    def _stop_sources(self) -> None:
        with ThreadPoolExecutor(max(len(self._sources), 1)) as pool:
            for _ in pool.map(lambda source: source.stop(), self._sources):
                pass

    def _turn_away(self) -> None:
        """Take in what the sources still had, and answer those whose marks came too late."""
        with suppress(queue.Empty):
            for _ in range(_AT_ONCE):
                coming = self._queue.get_nowait()
                if isinstance(coming, Question):
                    coming.turn_away()
                else:
                    self._take(coming)

    def _close(self) -> None:
        with ExitStack() as at_the_end:
            at_the_end.callback(self._posts.close)
            at_the_end.callback(self._faces.close)
            at_the_end.callback(self._page.close)
            at_the_end.callback(self._close_log)
            watches = self._watches.values()
            if self._keeper.log is not None:
                running = (watch for watch in watches if watch.run_id and not watch.rig.virtual)
                self.open_runs = tuple(watch.started_unix for watch in running)
            for watch in watches:
                watch.leave()

    def _close_log(self) -> None:
        lost = self._keeper.close()
        self.faults = [*self._faces.lost, *([lost] if lost else [])]
