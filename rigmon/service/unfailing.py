"""A monitor whose own fault ends neither the watch nor the log.

The first time it fails a fresh one goes on from the run's marks; what was learned of the round by
then is lost. If that one fails soon too, the rig is set aside: its readings and marks are still
logged, and the maker is called to watch it by eye.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from rigmon.records import (
    Alarm,
    AlarmState,
    Item,
    Mark,
    MarkWord,
    Place,
    ProbeSeen,
    Problem,
    RunFit,
    Said,
    Stage,
)
from rigmon.run.alarms import RULES
from rigmon.run.monitor import Monitor
from rigmon.run.speech import Speech
from rigmon.texts import marked

SOON_S = 600.0
"""A second fault within this time of the first is one too many [s] (own choice)."""
CODE = "monitor-failed"
_ANEW = marked(
    "rigmon has a fault of its own ({what}). It goes on from your marks; forecasts begin anew."
)
_ASIDE = marked(
    "rigmon has a fault of its own ({what}) and cannot go on with this rig. Readings and marks are"
    " still logged. Stop it and start it again."
)
_SET_ASIDE = marked("rigmon can no longer follow this rig")


class Unfailing:
    """A `Monitor` to those who use it.

    Args:
        fresh: makes a monitor at the start of the run.
        speech: the maker's language.
        monitor: the one that has followed the run until now; None for a fresh one.
        marks: what it has been told.
    """

    def __init__(
        self,
        fresh: Callable[[], Monitor],
        speech: Speech,
        monitor: Monitor | None = None,
        marks: Sequence[Mark] = (),
    ) -> None:
        self._fresh = fresh
        self._speech = speech
        self._monitor = monitor or fresh()
        self._marks = list(marks)
        self._failed_s: float | None = None
        self._aside = False
        self._clock = self._monitor.clock

    @property
    def clock(self) -> float:
        """Run time up to which everything has been said [s]; −inf before the first item."""
        return max(self._monitor.clock, self._clock)

    @property
    def stage(self) -> Stage:
        """Where the run stands."""
        return self._monitor.stage

    @property
    def bath_c(self) -> float | None:
        """The newest accepted bath temperature [°C]."""
        return self._monitor.bath_c

    def place(self, probe: str) -> Place | None:
        """Where a probe sits; None for one that is not known."""
        return self._monitor.place(probe)

    def newest(self, probe: str) -> ProbeSeen | None:
        """A probe's newest accepted value; None if none is shown, or nothing is followed."""
        return None if self._aside else self._monitor.newest(probe)

    def live_alarms(self) -> tuple[Alarm, ...]:
        """Alarms that stand now, the most urgent first."""
        return self._monitor.live_alarms()

    def feed(self, item: Item) -> list[Said]:
        """Take in one item; returns what there is to say, in order of time."""
        if self._aside:
            self._clock = max(self._clock, item.t)
            return self._turned_away(item) if isinstance(item, Mark) else []
        try:
            said = self._monitor.feed(item)
        except Exception as why:  # noqa: BLE001 - whatever it is, the watch goes on
            return self._mend(why, item.t)
        if isinstance(item, Mark):
            self._marks.append(item)
        return said

    def advance(self, t: float) -> list[Said]:
        """Let time go on to `t` [s]: everything before then has been fed."""
        if self._aside:
            self._clock = max(self._clock, t)
            return []
        try:
            return self._monitor.advance(t)
        except Exception as why:  # noqa: BLE001 - whatever it is, the watch goes on
            return self._mend(why, t)

    def finish(self) -> list[Said]:
        """End the run: the last tick that is due, and the summary."""
        try:
            return self._monitor.finish()
        except Exception as why:  # noqa: BLE001 - whatever it is, the run is closed
            return [self._problem(_ASIDE, why, self.clock)]

    def fit(self) -> RunFit | None:
        """What the run says of its rig so far; None if it can say nothing."""
        if self._failed_s is not None:
            return None
        with suppress(Exception):
            return self._monitor.fit()
        return None

    def _mend(self, why: Exception, t: float) -> list[Said]:
        at = max(self.clock, t)
        ended: list[Said] = []
        with suppress(Exception):
            standing = self._monitor.live_alarms()
            ended = [replace(a, at=at, state=AlarmState.RETURNED) for a in standing]
        first = self._failed_s is None or at - self._failed_s > SOON_S
        self._failed_s = at
        if first:
            monitor = self._fresh()
            with suppress(Exception):
                for mark in self._marks:
                    monitor.feed(mark)
                monitor.advance(at)
                self._monitor, self._clock = monitor, at
                return [*ended, self._problem(_ANEW, why, at)]
        self._aside, self._clock = True, at
        row = RULES[CODE]
        text = f"{self._speech.say(row.call)}. {self._speech.say(_SET_ASIDE)}."
        alarm = Alarm(at, CODE, row.priority, AlarmState.UNACKNOWLEDGED, text)
        return [*ended, self._problem(_ASIDE, why, at), alarm]

    def _problem(self, text: str, why: Exception, at: float) -> Problem:
        last = traceback.extract_tb(why.__traceback__)[-1]
        what = f"{type(why).__name__}, {Path(last.filename).name} {last.lineno}"
        return Problem(at, CODE, "", self._speech.say(text, what=what))

    def _turned_away(self, mark: Mark) -> list[Said]:
        if mark.word is MarkWord.ACK:
            row = RULES[CODE]
            return [Alarm(self._clock, CODE, row.priority, AlarmState.ACKNOWLEDGED, row.call)]
        text = self._speech.say(marked("The mark is logged, but rigmon can do nothing with it."))
        return [Problem(self._clock, "mark-refused", "", text)]
