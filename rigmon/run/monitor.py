"""The monitor: feed it a reading or a mark, get what there is to say. No clock, thread or file.

The clock of a run is the time of what it is fed. A tick falls on every whole second, once the
clock has gone past it: all that was taken up to and including that second is in, and then the
state, the forecasts that are due and the alarms that changed are said. What comes later with an
earlier time is taken in, but what has been said stays said.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace

from rigmon.estimate.cloud import PRIOR
from rigmon.records import (
    Alarm,
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
    Recipe,
    RigPrior,
    RigSetup,
    RunFit,
    Said,
    Stage,
    Undoable,
)
from rigmon.run.core import RunCore
from rigmon.run.marks import NOT_TAKEN
from rigmon.run.speech import Speech
from rigmon.texts import marked

UNDO_WITHIN_S = 300.0
"""A mark can be taken back for this long [s]."""
FARTHEST_S = 1e8
"""No run lasts so long [s]; an item with such a time comes from a clock that is wrong."""
QUIET_S = 900.0
DEAD_S = 86_400.0
"""After a quarter of an hour in which nothing came a tick falls on every minute only, after a day
on every hour [s]."""

_NO_RECIPE = marked(
    "No recipe is given: the frozen share and the plateau cannot be said. Temperatures and the"
    " state of the bath can."
)
_WRONG_TIME = marked(
    "Something came with the time {t} s of the run and is passed over: look at the board's clock."
)
_NO_MARK = marked("There is no mark of the last five minutes to take back.")
_STAYS = frozenset({MarkWord.ACK, MarkWord.SHELVE, MarkWord.NOTE})
"""Marks that say nothing of the batch: they are not what a maker wants to take back."""


@dataclass(slots=True)
class _Undoable:
    """A mark that can still be taken back.

    Args:
        mark: the mark.
        heard_s: the run's clock when it was heard [s].
        core: the run before it.
        next_tick: the tick that was due then [s].
        since: what was fed since, each with the run's clock [s].
    """

    mark: Mark
    heard_s: float
    core: RunCore
    next_tick: float
    since: list[tuple[float, Item]] = field(default_factory=list)


class Monitor:
    """One run of one rig.

    Args:
        setup: the rig.
        recipe: the mix, composition resolved; None if not known.
        prior: what is believed of the rig.
        seed: seed of the estimator's fixed random numbers.
        speech: the maker's language and units.
    """

    def __init__(
        self,
        setup: RigSetup,
        recipe: Recipe | None = None,
        prior: RigPrior = PRIOR,
        seed: int = 0,
        speech: Speech | None = None,
    ) -> None:
        self.setup = setup
        self.recipe = recipe
        self._speech = speech or Speech()
        self._core = RunCore(setup, recipe, prior, seed, self._speech)
        self._clock = -math.inf
        self._heard_s = -math.inf
        self._next_tick = -math.inf
        self._undoable: _Undoable | None = None
        self._wrong_time = False
        self._ended = False

    @property
    def clock(self) -> float:
        """Run time up to which everything has been said [s]; −inf before the first item."""
        return self._clock

    @property
    def stage(self) -> Stage:
        """Where the run stands."""
        return self._core.stages.stage

    @property
    def bath_limit_c(self) -> float | None:
        """Bath temperature above which the bath no longer does its job [°C]."""
        return self._core.estimator.bath_limit_c

    @property
    def bath_c(self) -> float | None:
        """The newest accepted bath temperature [°C]."""
        return self._core.bath_c

    def place(self, probe: str) -> Place | None:
        """Where a probe sits; None for one that is not known."""
        return self._core.probes.place(probe)

    def newest(self, probe: str) -> ProbeSeen | None:
        """A probe's newest accepted value, before its second is over; None if none is shown."""
        return self._core.probes.newest(probe, self.stage)

    def live_alarms(self) -> tuple[Alarm, ...]:
        """Alarms that stand now, the most urgent first."""
        return tuple(self._core.alarms.standing(self._clock))

    def feed(self, item: Item) -> list[Said]:
        """Take in one item; returns what there is to say, in order of time."""
        if not abs(item.t) <= FARTHEST_S:
            return self._refuse_time(item)
        said = self._go_on(item.t)
        self._heard_s = max(self._heard_s, item.t)
        self._next_tick = min(self._next_tick, math.ceil(self._clock))
        if not isinstance(item, Mark):
            self._remember(item, self._clock)
            return said + self._core.take(item, self._clock)
        if item.word is MarkWord.UNDO:
            return said + self._undo(item)
        return said + self._heed(item)

    def advance(self, t: float) -> list[Said]:
        """Let time go on to `t` [s]: everything before then has been fed."""
        return self._go_on(t) if abs(t) <= FARTHEST_S else []

    def finish(self) -> list[Said]:
        """End the run: the last tick that is due, and the summary. A second call says nothing."""
        if self._ended or self._clock == -math.inf:
            return []
        self._ended = True
        said = self._tick() if self._next_tick <= self._clock else []
        return [*said, self._core.summary(self._clock)]

    def plateau_s(self, t: float, levels: Sequence[float]) -> tuple[float | None, ...]:
        """Run times by which the first round's plateau comes, with these probabilities [s].

        As was forecast at `t` [s]; None beyond the horizon, nothing where nothing was.
        """
        return self._core.estimator.plateau_s(t, levels)

    def fit(self) -> RunFit | None:
        """What the run says of its rig so far; None if it can say nothing."""
        return self._core.estimator.finish()

    def _go_on(self, t: float) -> list[Said]:
        said = self._start(t) if self._clock == -math.inf else []
        said += self._tick_before(t)
        self._clock = max(self._clock, t)
        return said

    def _start(self, t: float) -> list[Said]:
        self._clock = self._heard_s = t
        self._next_tick = float(math.ceil(t))
        if self.recipe is not None and self.recipe.composition is not None:
            return []
        return [Problem(t, "no-recipe", "", self._speech.say(_NO_RECIPE))]

    def _tick_before(self, t: float) -> list[Said]:
        said: list[Said] = []
        while self._next_tick < t:
            said += self._tick()
        return said

    def _tick(self) -> list[Said]:
        t = self._next_tick
        self._clock = max(self._clock, t)
        seen = self._core.seen()
        said = self._heed(seen) if seen is not None else []
        quiet_s = t - self._heard_s
        step_s = 1.0 if quiet_s < QUIET_S else 60.0 if quiet_s < DEAD_S else 3600.0
        self._next_tick = step_s * (math.floor(t / step_s) + 1.0)
        return said + self._core.tick(t, self._taken_back(t))

    def _taken_back(self, t: float) -> Undoable | None:
        """What an undo would take back at `t` [s]."""
        last = self._undoable
        if last is None or t - last.heard_s > UNDO_WITHIN_S:
            return None
        return Undoable(last.mark.word, last.heard_s)

    def _heed(self, mark: Mark) -> list[Said]:
        """Take in a mark, and keep the run as it was before, so that the mark can be taken back."""
        stays = mark.word in _STAYS and mark.by is not By.DETECTED
        before = None if stays else copy.deepcopy(self._core)
        try:
            said = self._core.hear(mark, self._clock)
        except ValueError as error:
            sentence = self._speech.say(
                NOT_TAKEN, word=mark.word.value, why=self._speech.retold(error.args[0])
            )
            return [self._refused(sentence)]
        if before is None:
            self._remember(mark, self._clock)
        else:
            self._undoable = _Undoable(mark, self._clock, before, self._next_tick)
        return said

    def _remember(self, item: Item, clock: float) -> None:
        if self._undoable is None:
            return
        if clock - self._undoable.heard_s > UNDO_WITHIN_S:
            self._undoable = None
        else:
            self._undoable.since.append((clock, item))

    def _undo(self, mark: Mark) -> list[Said]:
        """Go back to before the last mark and take in again, unsaid, all that has come since."""
        undone = self._undoable
        if undone is None or self._clock - undone.heard_s > UNDO_WITHIN_S:
            return [self._refused(self._speech.say(_NO_MARK))]
        told, clock = self._core.alarms, self._clock
        self._core, self._next_tick, self._undoable = undone.core, undone.next_tick, None
        if undone.mark.by is By.DETECTED:
            self._core.recognition.refuse(undone.mark.word)
        again = list[Said]()
        for then, item in undone.since:
            again += self._tick_before(then)
            self._remember(item, then)
            self._take_again(item, then)
        again += self._tick_before(clock)
        detail = {**mark.detail, "undone": undone.mark.word.value}
        text = self._speech.say("Taken back: {word}.", word=undone.mark.word.value)
        heard = MarkHeard(clock, MarkWord.UNDO, mark.by, detail, text)
        # What is guessed only now that the mark is gone has not been told.
        guessed = [replace(one, at=clock) for one in again if isinstance(one, MarkHeard)]
        return [heard, *guessed, *self._core.alarms.unlike(told, clock)]

    def _take_again(self, item: Item, then: float) -> None:
        if isinstance(item, Reading | Condition):
            self._core.take(item, then)
            return
        # An alarm that was acknowledged may never have sounded without the mark.
        with suppress(ValueError):
            self._core.hear(item, then)

    def _refused(self, sentence: str) -> Problem:
        return Problem(self._clock, "mark-refused", "", sentence)

    def _refuse_time(self, item: Item) -> list[Said]:
        """Pass over an item whose time cannot be; said once, and only once the run has a clock."""
        if self._wrong_time or self._clock == -math.inf:
            return []
        self._wrong_time = True
        sentence = self._speech.say(_WRONG_TIME, t=f"{item.t:g}")
        probe = item.probe if isinstance(item, Reading) else ""
        return [Problem(self._clock, "time-refused", probe, sentence)]
