"""Marks that wait for an answer, and what they are answered."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass, field

from rigmon.records import MarkWord, parse_mark
from rigmon.service.inbox import Answer
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.rigwatch import RigWatch, understood

STOPPING: Answer = {"ok": False, "text": "rigmon is stopping; the mark was not taken."}
_BUSY: Answer = {"ok": False, "text": "rigmon is busy; the mark was not taken. Say it again."}


@dataclass(frozen=True, slots=True)
class Question:
    """A mark that waits for its answer.

    Args:
        rig: the rig it is for; None for the only one.
        text: word and details.
        at: wall clock at which it was said [s].
    """

    rig: str | None
    text: str
    at: float
    _answer: Future[Answer] = field(default_factory=Future)

    def wait(self, for_s: float) -> Answer:
        """Wait for the answer; a mark that nobody has begun with after `for_s` [s] is withdrawn."""
        try:
            return self._answer.result(for_s)
        except CancelledError:
            return STOPPING
        except TimeoutError:
            # Once somebody has begun with a mark it can only be waited for.
            return _BUSY if self._answer.cancel() else self._answer.result()

    def settle(self, watches: Mapping[str, RigWatch], keeper: LogKeeper) -> None:
        """Take the mark in, unless it has been withdrawn, and answer once it is in the log."""
        if not self._answer.set_running_or_notify_cancel():
            return
        answer = STOPPING
        try:
            answer = self._settled(watches, keeper)
        finally:
            self._answer.set_result(answer)

    def turn_away(self) -> None:
        """Answer that it came too late."""
        self._answer.cancel()

    def _settled(self, watches: Mapping[str, RigWatch], keeper: LogKeeper) -> Answer:
        names = ", ".join(watches)
        if self.rig is None and len(watches) > 1:
            return {"ok": False, "text": f"Say which rig with --rig: {names}."}
        rig_id = self.rig if self.rig is not None else next(iter(watches))
        watch = watches.get(rig_id)
        if watch is None:
            return {"ok": False, "text": f"There is no rig {rig_id!r} here; there are: {names}."}
        try:
            mark = parse_mark(self.text, self.at)
        except ValueError as error:
            return {"ok": False, "rig": rig_id, "text": f"The mark was not taken: {error}."}
        taken, sentence = understood(mark, watch.take(mark))
        if taken and mark.word is MarkWord.START:
            sentence = f"Run {watch.run_id} has begun."
        if not keeper.commit(now=True):
            sentence += " It is not in the log yet: the log cannot be written."
        elif taken and watch.run_id is None and mark.word is not MarkWord.END:
            sentence += " No run is going on, so it is not kept."
        return {"ok": taken, "rig": rig_id, "run": watch.run_id, "text": sentence}
