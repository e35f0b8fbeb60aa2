"""A run that has just ended is measured while nobody waits for it."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path

from rigmon.store.log import RunLog


class Measuring:
    """Measures ended runs, each on a thread of its own; what fails here `review` does again.

    Args:
        path: the run log.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._threads: list[threading.Thread] = []

    def ended(self, run_id: str) -> None:
        """Measure a run that is in the log with its end."""
        self._threads = [thread for thread in self._threads if thread.is_alive()]
        thread = threading.Thread(target=self._measure, args=(run_id,), name="rigmon-measuring")
        self._threads.append(thread)
        thread.start()

    def _measure(self, run_id: str) -> None:
        from rigmon.review.kept import measures  # noqa: PLC0415 - heavy, and wanted at the end only

        with suppress(Exception), RunLog(self._path, create=False) as log:
            measures(log, [log.run(run_id)])

    def close(self) -> None:
        """Wait for what is being measured."""
        for thread in self._threads:
            thread.join()
