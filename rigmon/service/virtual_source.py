"""The virtual rig as a source: its board writes into a real wire, its maker sets marks."""

from __future__ import annotations

import threading
from collections.abc import Callable

from rigmon.records import Alarm, AlarmState, Mark, Said
from rigmon.service.clock import Clock
from rigmon.service.virtual_wires import Wire
from rigmon.sources import Now, Put, SourceCounts
from rigmon.virtual.session import VirtualSession

STEP_S = 0.02
"""The virtual kitchen is carried on this often [s of the clock on the wall]."""


class VirtualSource:
    """A virtual batch; what the program says to its maker comes in as to an outlet.

    Args:
        rig_id: the rig.
        session: the batch.
        wire: what joins its board to the program; closed by `stop`.
        clock: the service's wall clock; may run fast.
        hear_mark: called with every mark that the maker sets.
    """

    def __init__(
        self,
        rig_id: str,
        session: VirtualSession,
        wire: Wire,
        clock: Clock,
        hear_mark: Callable[[Mark], None] | None = None,
    ) -> None:
        self._rig_id = rig_id
        self._session = session
        self._wire = wire
        self._clock = clock
        self._hear_mark = hear_mark
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._cook, name="rigmon-virtual", daemon=True)
        self._put: Put | None = None
        self._stopped = False

    def start(self, put: Put, now: Now) -> None:
        """Begin the batch."""
        self._put = put
        self._wire.source.start(put, now)
        self._thread.start()

    def _cook(self) -> None:
        started = self._clock.now()
        board = self._session.board
        while not self._stopping.wait(STEP_S):
            for line in self._wire.heard():
                for answer in board.hear(line):
                    self._wire.send(answer)
            with self._lock:
                outputs = self._session.advance(self._clock.now() - started)
            for output in outputs:
                if output.mark is None:
                    self._wire.send(output.line)
                    continue
                mark = output.mark
                if self._put is not None:
                    at = started + mark.t
                    self._put(self._rig_id, Mark(at, mark.word, mark.by, mark.detail))
                if self._hear_mark is not None:
                    self._hear_mark(mark)

    def tell(self, rig_id: str, said: Said) -> None:
        """The maker hears an alarm and reads its advice."""
        if rig_id != self._rig_id or not isinstance(said, Alarm):
            return
        if said.state is AlarmState.UNACKNOWLEDGED:
            with self._lock:
                self._session.hears(said.code, said.advice)

    def close(self) -> None:
        """Nothing is left to hear."""

    def stop(self) -> None:
        """End the batch and cut the wire."""
        if self._stopped:
            return
        self._stopped = True
        self._stopping.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(1.0)
        self._wire.source.stop()
        self._wire.close()

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Tell the board to sound."""
        self._wire.source.cue(rig_id, level, code)

    def counts(self) -> SourceCounts:
        """What came over the wire so far."""
        return self._wire.source.counts()
