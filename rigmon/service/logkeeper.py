"""The run log as the service keeps it: a log that cannot be written never stops the watching."""

from __future__ import annotations

import time
from collections.abc import Callable

from rigmon.errors import LogStopped
from rigmon.records import Condition, Mark, Reading
from rigmon.store.entries import RunHeader
from rigmon.store.log import RunLog

CODE = "log-stopped"
COMMIT_EVERY_S = 1.0
RETRY_EVERY_S = 10.0


class LogKeeper:
    """Writes a batch a second; tells when the log stops and when it goes on.

    Args:
        log: the run log; None keeps nothing.
        tell: takes the sentence when the log stops, and "" when it goes on.
    """

    def __init__(self, log: RunLog | None, tell: Callable[[str], None]) -> None:
        self.log = log
        self._tell = tell
        self._stopped = False
        self._due = 0.0

    def begin(self, header: RunHeader) -> None:
        """Start a run."""
        if self.log is not None:
            self._try(lambda log: log.begin(header))

    def add(self, run_id: str, item: Reading | Mark, clock: float) -> None:
        """Keep an item for the next batch."""
        if self.log is not None:
            self.log.add(run_id, item, clock)

    def say(self, run_id: str, at: float, kind: str, line: str) -> None:
        """Keep a line that was said for the next batch."""
        if self.log is not None:
            self.log.say(run_id, at, kind, line)

    def commit(self, *, now: bool = False) -> bool:
        """Write what waits if it is time, or `now`; returns whether nothing waits any more."""
        if self.log is None:
            return True
        at = time.monotonic()
        if now or at >= self._due:
            self._try(lambda log: log.commit())
            self._due = at + (RETRY_EVERY_S if self._stopped else COMMIT_EVERY_S)
        return self.log.pending == 0

    def end(self, run_id: str, at: float) -> None:
        """End a run."""
        if self.log is not None:
            self._try(lambda log: log.end(run_id, at))

    def close(self) -> str:
        """Write what waits and close; returns a sentence if that failed, else ""."""
        if self.log is None:
            return ""
        try:
            self.log.close()
        except LogStopped as stopped:
            return str(stopped)
        return ""

    def _try(self, write: Callable[[RunLog], None]) -> None:
        assert self.log is not None  # noqa: S101 - callers have asked
        try:
            write(self.log)
        except LogStopped as stopped:
            if not self._stopped:
                self._stopped = True
                self._tell(str(stopped))
        else:
            if self._stopped:
                self._stopped = False
                self._tell("")


def condition(t: float, sentence: str) -> Condition:
    """The alarm condition for a log that stopped, or goes on when `sentence` is ""."""
    return Condition(t, CODE, bool(sentence), sentence)
