"""The run log as the service keeps it: a log that cannot be written never stops the watching."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from itertools import count
from pathlib import Path

from rigmon.errors import LogError, LogStopped
from rigmon.outlets.jsonlines import as_dict, as_line
from rigmon.records import Item, RunFit, Said
from rigmon.service.calibrated import with_calibrations
from rigmon.service.measuring import Measuring
from rigmon.service.memory import teach, with_memory
from rigmon.service.prepare import Rig
from rigmon.store.entries import RunHeader
from rigmon.store.log import RunLog, default_log_path
from rigmon.store.schema import Synchronous

COMMIT_EVERY_S = 1.0
RETRY_EVERY_S = 10.0


def open_log(path: Path | None, synchronous: Synchronous = "FULL", advice: str = "") -> RunLog:
    """The run log that is to be written.

    Args:
        path: its file; None for the usual place.
        synchronous: how much a power cut may cost.
        advice: what to do where it cannot be opened.

    Raises:
        LogError: it cannot be opened.
    """
    try:
        return RunLog(path or default_log_path(), synchronous)
    except LogError as error:
        raise LogError(f"{error}. {advice}".rstrip()) from None


def for_the_log(said: Said) -> tuple[float, str, str]:
    """Run time [s], kind and line under which the log keeps what was said."""
    return said.at, str(as_dict(said)["type"]), as_line(said)


class LogKeeper:
    """Writes a batch a second, and knows why the log cannot be written while it cannot.

    Args:
        log: the run log; None keeps nothing.
    """

    def __init__(self, log: RunLog | None) -> None:
        self.log = log
        self._measuring = Measuring(log.path if log is not None else Path())
        self.fault = ""
        self._due = 0.0
        self._lost: set[str] = set()

    def begin(self, header: RunHeader) -> str:
        """Start a run; returns its id, which has a number behind it if the id is taken."""
        if self.log is None:
            return header.id
        names = (header.id if n == 1 else f"{header.id}-{n}" for n in count(1))
        header = replace(header, id=next(name for name in names if not self._has(name)))
        try:
            self._try(lambda log: log.begin(header))
        except LogError as error:
            # A log that cannot even be read: the run is watched, but nothing of it is kept.
            self._lost.add(header.id)
            self.fault = self.fault or f"{error}."
        return header.id

    def carry_on(self, run_id: str) -> None:
        """Take over a run that was broken off."""
        if self.log is not None:
            self._try(lambda log: log.carry_on(run_id))

    def _has(self, run_id: str) -> bool:
        assert self.log is not None  # noqa: S101 - callers have asked
        try:
            self.log.run(run_id)
        except LogError:
            return False
        return True

    def add(self, run_id: str, item: Item, clock: float) -> None:
        """Keep an item for the next batch."""
        if self.log is not None and run_id not in self._lost:
            self.log.add(run_id, item, clock)

    def say(self, run_id: str, at: float, kind: str, line: str) -> None:
        """Keep a line that was said for the next batch."""
        if self.log is not None and run_id not in self._lost:
            self.log.say(run_id, at, kind, line)

    def commit(self, *, now: bool = False) -> bool:
        """Write what waits if it is time, or `now`; returns whether nothing waits any more.

        May take two seconds while another program holds the file; readings have their times by
        then and wait in the queue.
        """
        if self.log is None:
            return True
        at = time.monotonic()
        if now or at >= self._due:
            self._try(lambda log: log.commit())
            self._due = at + (RETRY_EVERY_S if self.fault else COMMIT_EVERY_S)
        return self.log.pending == 0

    def end(self, run_id: str, at: float) -> None:
        """End a run, and have it measured."""
        if self.log is not None and run_id not in self._lost:
            self._try(lambda log: log.end(run_id, at))
            if self.log.pending == 0:
                self._measuring.ended(run_id)

    def known(self, rig: Rig) -> Rig:
        """A rig as the log knows it by now; as it was where the log cannot be read."""
        if self.log is None:
            return rig
        try:
            return with_calibrations(self.log, with_memory(self.log, rig))
        except LogError:
            return rig

    def learn(self, rig: Rig, run_id: str, fit: RunFit | None) -> None:
        """Keep what a run taught of its rig."""
        if self.log is not None and run_id not in self._lost:
            self._try(lambda log: teach(log, rig, run_id, fit))

    def close(self) -> str:
        """Write what waits and close, once; returns a sentence if something is lost, else ""."""
        log, self.log = self.log, None
        if log is None:
            return ""
        self._measuring.close()
        try:
            log.close()
        except LogStopped as stopped:
            waiting = f"{log.pending} entries"
            return f"{str(stopped).partition(f'. {waiting}')[0]}. {waiting} are lost."
        if log.dropped:
            return f"{log.path} lacks {log.dropped} entries: it could not be written."
        return ""

    def _try(self, write: Callable[[RunLog], None]) -> None:
        assert self.log is not None  # noqa: S101 - callers have asked
        try:
            write(self.log)
        except LogStopped as stopped:
            self.fault = self.fault or f"{stopped}."
        else:
            if not self._lost:
                self.fault = ""
