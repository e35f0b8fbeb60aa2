"""One rig as the service watches it: when a run begins and ends, what is logged, what is told."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from rigmon.errors import ConfigError
from rigmon.records import (
    By,
    Condition,
    Item,
    Mark,
    MarkHeard,
    MarkWord,
    Place,
    ProbeSeen,
    Problem,
    Reading,
    Said,
    SourceNews,
    Stage,
    State,
)
from rigmon.run.marks import NOT_TAKEN
from rigmon.run.monitor import Monitor
from rigmon.service.clock import AFTER_TICK_S, time_of_day
from rigmon.service.logkeeper import LogKeeper, for_the_log
from rigmon.service.prepare import Rig, header_of, read_recipe
from rigmon.service.resume import OpenRun
from rigmon.service.unfailing import Unfailing
from rigmon.texts import Sentence, marked

_NO_RUN = marked("no run is going on. A run begins with ice-in, pour or start")
_GOING_ON = marked("Going on with the run begun at {begun}.")
_GOING_ON_THEN = marked(
    "Going on with the run begun at {begun}, with rig and recipe as they were then."
)
ICE_IN_BATH_C = -3.0
"""A bath below this holds ice and salt, so a run has begun (common practice, no source)."""
KEPT_S = 75.0
"""Readings kept before a run begins, so that a pour seen late is seen whole [s]."""
WAITED_S = 6 * 3600.0
"""What was read while no run went on is forgotten after this long [s]."""
TICK_LAG_S = 0.3
"""A second is closed this long after it is over, so that its readings are in [s]."""

_BEGIN = frozenset(
    {MarkWord.START, MarkWord.ICE_IN, MarkWord.POUR, MarkWord.BEAT_START, MarkWord.HARDEN_START}
)
_ANY_TIME = frozenset({MarkWord.NOTE, MarkWord.READING, MarkWord.ACK, MarkWord.SHELVE})
_Timed = TypeVar("_Timed", Reading, Mark)
_OVER = frozenset({Stage.PACK, Stage.HARDEN, Stage.DONE})


class RigWatch:
    """Watches one rig. Before a run begins readings are shown, but not logged.

    Args:
        rig: the rig.
        keeper: the run log.
        tell: takes what is said.
        now: wall clock at which watching begins [s].
    """

    def __init__(
        self, rig: Rig, keeper: LogKeeper, tell: Callable[[str, Said], None], now: float
    ) -> None:
        self.rig = rig
        self.run_id: str | None = None
        self.ended_runs = 0
        self._keeper = keeper
        self._tell_outlets = tell
        self._recent: deque[Reading] = deque()
        self._faults: dict[str, str] = {}
        self._start = now
        self._monitor = self._fresh()
        # A bath still cold from the run that was just ended does not begin the next one.
        self._may_begin = True

    def _fresh(self) -> Unfailing:
        self.rig = self._keeper.known(self.rig)
        return Unfailing(self._monitor_of(self.rig), self.rig.speech)

    @staticmethod
    def _monitor_of(rig: Rig) -> Callable[[], Monitor]:
        return partial(Monitor, rig.setup, rig.recipe, rig.prior, rig.seed, rig.speech)

    @property
    def started_unix(self) -> float:
        """Wall clock at which the run, or the waiting for one, began [s]."""
        return self._start

    def take(self, item: Reading | Mark | SourceNews) -> list[Said]:
        """Take in what came for this rig, wall time; returns what was said of it."""
        if isinstance(item, SourceNews):
            text = self.rig.speech.retold(item.text)
            return self._say([Problem(self._at(), item.what, "", text)])
        if isinstance(item, Mark):
            return self._mark(item)
        if self.rig.virtual and self.ended_runs and self.run_id is None:
            # Its kitchen is gone with its run: what was still under way would soon be missed.
            return []
        said = self._feed(self._timed(item))
        if self.run_id is None:
            self._recent.append(item)
            while item.t - self._recent[0].t > KEPT_S:
                self._recent.popleft()
            if self._seems_begun(item):
                recent = tuple(self._recent)
                said += self._begin(recent[0].t)
                for reading in recent:
                    said += self._feed(self._timed(reading))
        return said

    def newest(self, reading: Reading) -> ProbeSeen | None:
        """A reading just taken in, wall time, as it is shown; None if it was not accepted."""
        seen = self._monitor.newest(reading.probe)
        return seen if seen is not None and seen.at == self._timed(reading).t else None

    def fault(self, code: str, text: str) -> None:
        """Take in what is wrong with the program itself; "" once it no longer is."""
        self._faults[code] = text
        self._feed(Condition(self._at(), code, bool(text), text))

    def note(self, kind: str, line: Callable[[float], str]) -> None:
        """Keep in the run's log what is no word on the batch; `line` takes the run time [s]."""
        if self.run_id is not None:
            self._keeper.say(self.run_id, self._at(), kind, line(self._at()))

    def pass_time(self, now: float, lag_s: float = TICK_LAG_S, most_s: float = math.inf) -> None:
        """Close the seconds that are over at wall clock `now` [s], `most_s` [s] at a time."""
        clock = self._monitor.clock
        if clock == -math.inf:
            return
        second = math.floor(min(now - self._start - lag_s, clock + most_s))
        if second >= clock:
            self._say(self._monitor.advance(round(second + AFTER_TICK_S, 3)))
        if self.run_id is None and self._at() > WAITED_S:
            self._start += self._at()
            self._monitor = self._fresh()

    def behind_s(self, now: float) -> float:
        """How far what has been said lags behind wall clock `now` [s]."""
        clock = self._monitor.clock
        return now - self._start - clock if clock > -math.inf else 0.0

    def go_on(self, run: OpenRun) -> None:
        """Take over a run that was broken off."""
        self._start, self.run_id = run.start, run.header.id
        anew = self._monitor_of(run.rig)
        self._monitor = Unfailing(anew, run.rig.speech, run.monitor, run.marks)
        self._keeper.carry_on(self.run_id)
        text = _GOING_ON if run.same_as(self.rig) else _GOING_ON_THEN
        told = self.rig.speech.say(text, begun=time_of_day(run.header.started_unix))
        self._say([Problem(self._at(), "resumed", "", told)])
        for alarm in self._monitor.live_alarms():
            # It was said, and logged, before; only those who listen now have not heard it.
            self._tell_outlets(self.rig.setup.id, replace(alarm, at=self._at()))
        for code in run.faults:
            self._feed(Condition(self._at(), code, active=False, text=""))

    def _seems_begun(self, reading: Reading) -> bool:
        bath_c = self._monitor.bath_c
        cold = bath_c is not None and bath_c < ICE_IN_BATH_C
        if bath_c is not None and not cold:
            self._may_begin = True
        if self._monitor.stage is Stage.BASE:
            return True
        if not self._may_begin:
            return False
        if self._monitor.stage is Stage.BEAT:
            return True
        return cold and self._monitor.place(reading.probe) is Place.BATH

    def _mark(self, mark: Mark) -> list[Said]:
        fresh_bath = mark.word is MarkWord.ICE_IN and self._monitor.stage in _OVER
        said: list[Said] = []
        if mark.word is MarkWord.START or (fresh_bath and self.run_id is not None):
            if "recipe" in mark.detail:
                try:
                    recipe = read_recipe(Path(str(mark.detail["recipe"])), self.rig.units.cup_ml)
                except ConfigError as error:
                    return self._refuse(mark, error.args[0])
                self.rig = replace(self.rig, recipe=recipe)
            said = self.end() + self._begin(mark.t)
        elif self.run_id is None and mark.word in _BEGIN:
            said = self._begin(mark.t)
        elif self.run_id is None and mark.word not in _ANY_TIME:
            return self._refuse(mark, Sentence(_NO_RUN))
        said += self._feed(self._timed(mark))
        if mark.word is MarkWord.END and self._monitor.stage is Stage.DONE:
            said += self.end()
            self._may_begin = False
        return said

    def _refuse(self, mark: Mark, why: str) -> list[Said]:
        speech = self.rig.speech
        text = speech.say(NOT_TAKEN, word=mark.word.value, why=speech.retold(why))
        return self._say([Problem(self._at(), "mark-refused", "", text)])

    def _begin(self, started: float) -> list[Said]:
        self._recent.clear()
        self._start = started
        self._monitor = self._fresh()
        self.run_id = self._keeper.begin(header_of(self.rig, started))
        said = []
        for code, text in self._faults.items():
            if text:
                said += self._feed(Condition(self._at(), code, active=True, text=text))
        return said

    def end(self) -> list[Said]:
        """End the run that is going on, if one is: summary told, log closed, waiting again."""
        if self.run_id is None:
            return []
        said = self._say(self._monitor.finish())
        self._keeper.learn(self.rig, self.run_id, self._monitor.fit())
        self._keeper.end(self.run_id, self._monitor.clock)
        self.run_id = None
        self.ended_runs += 1
        self._start += self._at()
        self._monitor = self._fresh()
        return said

    def leave(self) -> None:
        """The program goes away in the middle of a run: the summary so far is told, not logged."""
        if self.run_id is not None:
            self.run_id = None
            self._say(self._monitor.finish())

    def _at(self) -> float:
        """Run time up to which everything has been said [s]."""
        return max(self._monitor.clock, 0.0)

    def _timed(self, item: _Timed) -> _Timed:
        return replace(item, t=round(item.t - self._start, 3))

    def _feed(self, item: Item) -> list[Said]:
        if self.run_id is not None:
            self._keeper.add(self.run_id, item, self._monitor.clock)
        return self._say(self._monitor.feed(item))

    def _say(self, said: list[Said]) -> list[Said]:
        for one in said:
            self._tell_outlets(self.rig.setup.id, one)
            if self.run_id is not None and not isinstance(one, State):
                self._keeper.say(self.run_id, *for_the_log(one))
        return said


def understood(mark: Mark, said: list[Said]) -> tuple[bool, str]:
    """Whether a mark was taken, and the sentence that answers it.

    Feeding it may close a second first, in which a pour was seen or another mark is told of.
    """
    for one in reversed(said):
        if isinstance(one, MarkHeard) and one.word is mark.word and one.by is not By.DETECTED:
            return True, one.text
        if isinstance(one, Problem) and one.what == "mark-refused":
            return False, one.text
    return False, "The mark was not taken."
