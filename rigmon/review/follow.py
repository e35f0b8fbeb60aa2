"""A run followed again from the log: what it was at each time, without what lay ahead.

The run's own core takes in what the log holds, as it did live; only the forecasts are left out,
which the log has as they were given.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from rigmon.estimate.amounts import amounts_of
from rigmon.records import (
    Condition,
    Estimate,
    Mark,
    MarkWord,
    Place,
    Quality,
    RigStates,
    RunFit,
    Slowdown,
    Stage,
)
from rigmon.review.logged import Logged
from rigmon.run.core import RunCore

MEASURED_EVERY_S = 30.0
"""How often a round is looked at for its measures [s]."""
DRAWN_EVERY_S = 10.0
"""How often for its figures [s]."""
_SPARSE: dict[Stage, float] = {
    Stage.BASE: 60.0,
    Stage.REST: 60.0,
    Stage.PACK: 60.0,
    Stage.HARDEN: 300.0,
    Stage.DONE: 300.0,
}
_AFTER_SCRAPE_S = 60.0
PLATEAU_ALARM = "plateau-reached"
_MEMBERS = 200
_SOUND = frozenset({Quality.GOOD, Quality.NOISY})
_MOVES = frozenset(MarkWord) - {MarkWord.NOTE, MarkWord.ACK, MarkWord.SHELVE, MarkWord.READING}


@dataclass(frozen=True, slots=True)
class Sample:
    """A run at one time.

    Args:
        t: run time [s].
        stage: where it stood.
        round: beating rounds begun.
        in_bath: whether the bath was at work: made up, and the mix in it or still to come.
        bath_alone: whether it stood in the room without a mix.
        estimate: what was held true.
        slowdown: what kept the mix from freezing faster; None outside the freezing part of round 1.
        mix_sound: whether the mix probe could be trusted.
        core_c: core of a tub [°C]; None where no probe reads it.
        room_c: air of the room [°C]; None where no probe reads it.
        freezer_c: air of the freezer [°C]; None where no probe reads it.
    """

    t: float
    stage: Stage
    round: int
    in_bath: bool
    bath_alone: bool
    estimate: Estimate
    slowdown: Slowdown | None = None
    mix_sound: bool = True
    core_c: float | None = None
    room_c: float | None = None
    freezer_c: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """A mark as it was taken.

    Args:
        mark: the mark.
        t: run time at which it was heard [s].
        bath_c: bath just then [°C].
    """

    mark: Mark
    t: float
    bath_c: float | None


@dataclass(slots=True)
class Track:
    """A run followed to its end.

    Args:
        samples: the run at times in order.
        heard: the marks, guessed ones too, in order.
        first_round: members of the belief as the first round ended, and the run then; None where
            no first round was followed.
        at_pour: the belief's members as soon as there were any.
        fit: what the run says of its rig; None if nothing.
        bath_limit_c: bath temperature above which it no longer does its job [°C].
        freezing_c: where the mix begins to freeze [°C].
        ice_put_g: ice put in, water that clung to it included [g]; None if not all was weighed.
    """

    samples: list[Sample] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    first_round: tuple[RigStates, Sample] | None = None
    fit: RunFit | None = None
    bath_limit_c: float | None = None
    freezing_c: float | None = None
    ice_put_g: float | None = 0.0

    def marks(self, *words: MarkWord) -> Iterator[Heard]:
        """The marks of some words."""
        return (one for one in self.heard if one.mark.word in words)

    def column(self, name: str) -> np.ndarray:
        """A field of the estimates over the samples; not a number where it is not known."""
        values = (getattr(sample.estimate, name) for sample in self.samples)
        return np.array([math.nan if value is None else value for value in values], dtype=float)

    def times(self) -> np.ndarray:
        """Run times of the samples [s]."""
        return np.array([sample.t for sample in self.samples], dtype=float)

    def nearest(self, t: float) -> Sample | None:
        """The last sample at or before a run time [s]."""
        place = int(np.searchsorted(self.times(), t, side="right")) - 1
        return self.samples[place] if place >= 0 else None


def follow(logged: Logged, every_s: float = MEASURED_EVERY_S) -> Track:
    """A logged run followed to its end.

    Args:
        logged: the run.
        every_s: how often the beating rounds are looked at [s].
    """
    return _Following(logged, every_s).to_the_end()


class _Following:
    """A core that takes in a logged run, and looks at it now and then."""

    def __init__(self, logged: Logged, every_s: float) -> None:
        self._logged = logged
        self._every_s = every_s
        self._core = RunCore(logged.setup, logged.recipe, logged.prior, logged.seed)
        self._core.estimator.looks_ahead = False
        for word in logged.refused:
            self._core.recognition.refuse(word)
        self._track = Track()
        self._due_s = -math.inf
        told = (line for line in logged.lines("alarm") if line["code"] == PLATEAU_ALARM)
        self._also_s = [float(line["at"]) for line in told][:1]
        self._clock = -math.inf

    def to_the_end(self) -> Track:
        """All of it."""
        for _, item in self._logged.items:
            # The clock may have run on while nothing came in; what came has its own time.
            self._clock = max(self._clock, item.t)
            if item.t >= self._due_s or (self._also_s and item.t >= self._also_s[0]):
                self._look(item.t)
            if isinstance(item, Mark):
                self._hear(item)
            elif isinstance(item, Condition):
                continue
            else:
                self._core.take(item, self._clock)
                if (guess := self._core.seen()) is not None:
                    self._hear(guess)
        if self._track.samples and self._clock > self._track.samples[-1].t:
            self._look(self._clock)
        track, estimator = self._track, self._core.estimator
        track.fit = estimator.finish()
        track.bath_limit_c = estimator.bath_limit_c
        track.freezing_c = estimator.freezing_c
        return track

    def _hear(self, mark: Mark) -> None:
        moves = mark.word in _MOVES
        if moves and self._track.samples:
            self._look(self._clock)
        amounts = amounts_of(mark, self._logged.setup)
        try:
            self._core.hear(mark, self._clock)
        except ValueError:
            return
        self._track.heard.append(Heard(mark, self._clock, self._core.bath_c))
        if mark.word in (MarkWord.ICE_IN, MarkWord.RECHARGE):
            put = self._track.ice_put_g
            known = put is not None and amounts.ice_g is not None
            self._track.ice_put_g = (put or 0.0) + (amounts.ice_g or 0.0) if known else None
        if mark.word is MarkWord.SCRAPE:
            self._also_s = sorted([*self._also_s, self._clock + _AFTER_SCRAPE_S])
        if moves:
            self._due_s = -math.inf

    def _look(self, t: float) -> None:
        core, stages = self._core, self._core.stages
        batch = stages.batch
        estimate = core.estimator.at(t)
        first = batch.beating and batch.round == 1
        worth = core.probes.qualities(t, stages.stage)
        seen = core.probes.seen(t, worth)
        by_place: dict[Place, float] = {}
        for probe in seen.values():
            if probe.value_c is not None:
                by_place.setdefault(probe.place, probe.value_c)
        bath_c = None if stages.stage is Stage.BASE else estimate.bath_c
        sample = Sample(
            t=t,
            stage=stages.stage,
            round=stages.round,
            in_bath=bath_c is not None and (batch.in_bath or not stages.round),
            bath_alone=bath_c is not None and not batch.in_bath and not batch.in_freezer,
            estimate=estimate,
            slowdown=core.estimator.why(t) if first else None,
            mix_sound=any(
                worth[name] in _SOUND for name, one in seen.items() if one.place is Place.MIX
            ),
            core_c=by_place.get(Place.CORE),
            room_c=by_place.get(Place.ROOM),
            freezer_c=by_place.get(Place.FREEZER),
        )
        self._track.samples.append(sample)
        if first and (states := core.estimator.ensemble(t, _MEMBERS)) is not None:
            self._track.first_round = states, sample
        self._due_s = t + max(self._every_s, _SPARSE.get(stages.stage, 0.0))
        while self._also_s and self._also_s[0] <= t:
            self._also_s.pop(0)
