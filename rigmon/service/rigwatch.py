"""One rig as the service watches it: when a run begins and ends, what is logged, what is told."""

from __future__ import annotations

import datetime
import math
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from rigmon import __version__
from rigmon.errors import ConfigError
from rigmon.outlets.jsonlines import as_dict, as_line
from rigmon.records import (
    Condition,
    Mark,
    MarkHeard,
    MarkWord,
    Place,
    Problem,
    Reading,
    Said,
    SourceNews,
    Stage,
    State,
)
from rigmon.run.monitor import Monitor
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import Rig, document_of, read_recipe
from rigmon.store.entries import RunHeader

ICE_IN_BATH_C = -3.0
"""A bath below this holds ice and salt, so a run has begun (common practice, no source)."""
KEPT_S = 75.0
"""Readings kept before a run begins, so that a pour seen late is seen whole [s]."""
TICK_LAG_S = 0.3
"""A second is closed this long after it is over, so that its readings are in [s]."""

_BEGIN = frozenset(
    {MarkWord.START, MarkWord.ICE_IN, MarkWord.POUR, MarkWord.BEAT_START, MarkWord.HARDEN_START}
)
_ANY_TIME = frozenset({MarkWord.NOTE, MarkWord.READING, MarkWord.ACK, MarkWord.SHELVE})
_Timed = TypeVar("_Timed", bound=Reading | Mark | Condition)
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
        self._conditions: dict[str, Condition] = {}
        self._start = now
        self._monitor = self._fresh()

    def _fresh(self) -> Monitor:
        return Monitor(self.rig.setup, self.rig.recipe, self.rig.prior, self.rig.seed)

    @property
    def bath_limit_c(self) -> float | None:
        """The bath limit of this rig and mix [°C]."""
        return self._monitor.bath_limit_c

    def take(self, item: Reading | Mark | Condition | SourceNews) -> list[Said]:
        """Take in what came for this rig, wall time; returns what was said of it."""
        if isinstance(item, SourceNews):
            at = max(self._monitor.clock, 0.0)
            return self._say([Problem(at, item.what, "", item.text)])
        if isinstance(item, Condition):
            self._conditions[item.code] = item
            return self._say(self._monitor.feed(self._timed(item)))
        if isinstance(item, Mark):
            return self._mark(item)
        said = self._feed(item)
        if self.run_id is None:
            self._recent.append(item)
            while item.t - self._recent[0].t > KEPT_S:
                self._recent.popleft()
            if self._seems_begun(item):
                said += self._begin(self._recent[0].t)
                for recent in self._recent:
                    said += self._feed(recent)
                self._recent.clear()
        return said

    def _seems_begun(self, reading: Reading) -> bool:
        if self._monitor.stage is Stage.BEAT:
            return True
        cold = self._monitor.bath_c is not None and self._monitor.bath_c < ICE_IN_BATH_C
        return cold and self._monitor.place(reading.probe) is Place.BATH

    def _mark(self, mark: Mark) -> list[Said]:
        fresh_bath = mark.word is MarkWord.ICE_IN and self._monitor.stage in _OVER
        if mark.word is MarkWord.START or (fresh_bath and self.run_id is not None):
            if "recipe" in mark.detail:
                try:
                    recipe = read_recipe(Path(str(mark.detail["recipe"])), self.rig.units.cup_ml)
                except ConfigError as error:
                    return self._refuse(mark, str(error))
                self.rig = replace(self.rig, recipe=recipe)
            said = self.end() + self._begin(mark.t)
        elif self.run_id is None and mark.word in _BEGIN:
            said = self._begin(mark.t)
        elif self.run_id is None and mark.word not in _ANY_TIME:
            why = "no run is going on. A run begins with ice-in, pour or start"
            return self._refuse(mark, why)
        else:
            said = []
        said += self._feed(mark)
        if mark.word is MarkWord.END and self._monitor.stage is Stage.DONE:
            said += self.end()
        return said

    def _refuse(self, mark: Mark, why: str) -> list[Said]:
        text = f"The mark {mark.word.value} was not taken: {why}."
        return self._say([Problem(max(self._monitor.clock, 0.0), "mark-refused", "", text)])

    def _begin(self, started: float) -> list[Said]:
        self._start = started
        self._monitor = self._fresh()
        moment = datetime.datetime.fromtimestamp(started, datetime.UTC)
        self.run_id = f"{self.rig.setup.id}-{moment:%Y%m%dT%H%M%SZ}"
        self._keeper.begin(
            RunHeader(
                id=self.run_id,
                rig=self.rig.setup.id,
                started_unix=started,
                recipe=self.rig.recipe.name if self.rig.recipe is not None else "",
                document=document_of(self.rig, self.rig.setup, moment),
                virtual=self.rig.virtual,
                version=__version__,
            )
        )
        said: list[Said] = []
        for condition in self._conditions.values():
            if condition.active:
                said += self._say(self._monitor.feed(replace(condition, t=0.0)))
        return said

    def _timed(self, item: _Timed) -> _Timed:
        return replace(item, t=round(item.t - self._start, 3))

    def _feed(self, item: Reading | Mark) -> list[Said]:
        timed = self._timed(item)
        if self.run_id is not None:
            self._keeper.add(self.run_id, timed, self._monitor.clock)
        return self._say(self._monitor.feed(timed))

    def pass_time(self, now: float, lag_s: float = TICK_LAG_S) -> list[Said]:
        """Close the seconds that are over at wall clock `now` [s]."""
        second = math.floor(now - self._start - lag_s)
        if self._monitor.clock == -math.inf or second < self._monitor.clock:
            return []
        return self._say(self._monitor.advance(second + 0.001))

    def end(self) -> list[Said]:
        """End the run that is going on, if one is: summary told, log closed, waiting again."""
        if self.run_id is None:
            return []
        said = self._say(self._monitor.finish())
        self._keeper.end(self.run_id, self._monitor.clock)
        self.run_id = None
        self.ended_runs += 1
        self._start += max(self._monitor.clock, 0.0)
        self._monitor = self._fresh()
        return said

    def leave(self) -> list[Said]:
        """The program goes away in the middle of a run: the summary so far is told, not logged."""
        run_id, self.run_id = self.run_id, None
        return self._say(self._monitor.finish()) if run_id is not None else []

    def _say(self, said: list[Said]) -> list[Said]:
        for one in said:
            self._tell_outlets(self.rig.setup.id, one)
            if self.run_id is not None and not isinstance(one, State):
                self._keeper.say(self.run_id, one.at, str(as_dict(one)["type"]), as_line(one))
        return said


def understood(said: list[Said]) -> tuple[bool, str]:
    """Whether a mark was taken, and the sentence that answers it."""
    for one in said:
        if isinstance(one, MarkHeard):
            return True, one.text
        if isinstance(one, Problem) and one.what == "mark-refused":
            return False, one.text
    return False, "The mark was not taken."
