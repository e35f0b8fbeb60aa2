"""What the readings alone show of a batch, for makers who set no marks: guesses, never orders.

A guess becomes a mark by the name of `detected`, which the maker may take back. A word that was
taken back is not guessed again. What a maker marks is not guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from rigmon.records import By, Mark, MarkWord, Place, Stage
from rigmon.run.motor import Motor
from rigmon.run.stages import PourDetector, Stages
from rigmon.texts import marked

BASE_ABOVE_C, BASE_FOR_S = 40.0, 60.0
"""A probe that reads more than this for so long sits in a cooked base [°C], [s] (own choice: no
mix is poured as warm, and a probe that is washed does not stay as hot)."""
BATH_BELOW_C, BATH_FOR_S = -3.0, 15.0
"""A bath below this for so long is made up: ice alone does not get there (common practice, no
source)."""
LONGEST_GAP_S = 70.0
"""Readings farther apart do not show that something lasted [s]: boards send once a minute in the
freezer."""
SWAP_K, SWAP_BELOW_C = 4.0, -8.0
"""A mix is never so much colder than its bath [K], and below this [°C]."""
SWAP_BEATEN_S, SWAP_MADE_UP_S, SWAP_POURED_S, SWAP_GAP_S = 15.0, 45.0, 120.0, 120.0
"""That long it lasts while the mix is beaten, in a bath said to be made up, or while what is called
the bath falls like a poured mix [s]; and a gap in the readings that does not matter [s] (own
choice)."""
SETTLED_S, BATH_WORKS_S, NO_BATH_C = 20.0, 120.0, 2.0
"""A probe put into the mix shows it after the first [s]; ice and salt are at work after the second
[s], and then no bath is as warm as the third [°C] (own choice)."""
_TOGETHER_S = 15.0
CORE_C, CORE_FOR_S = (-14.0, -0.5), 180.0
"""A core within these [°C] for so long [s], and no mix probe any more, is that of a packed tub:
a freezer's air is colder (own choice)."""
_BEATING = frozenset({MarkWord.POUR, MarkWord.BEAT_START, MarkWord.BEAT_STOP, MarkWord.REST_START})
SWAPPED_NOTE = "probes-swapped"
UNSEEN = marked(
    "Nobody has marked the pour, so it was taken from the readings. Recharges, scrapes, what is"
    " stirred in, packing, and the way into the freezer and out of it cannot be seen so surely:"
    " mark them."
)
"""What the readings do not show with any certainty."""


@dataclass(slots=True)
class _Lasting:
    """Since when a condition holds, from reading to reading."""

    gap_s: float = LONGEST_GAP_S
    since_s: float = math.inf
    newest_s: float = -math.inf

    def feed(self, t: float, holds: bool) -> None:
        """Take in whether it holds at `t` [s]; a gap in the readings ends it."""
        if not holds:
            self.since_s = math.inf
        elif math.isinf(self.since_s) or t - self.newest_s > self.gap_s:
            self.since_s = t
        self.newest_s = t

    def lasted_s(self) -> float:
        """For how long it has held [s]; negative where it does not."""
        return self.newest_s - self.since_s


@dataclass(slots=True)
class Recognition:
    """Guesses from the accepted readings of one run."""

    pour: PourDetector = field(default_factory=PourDetector)
    _motor: Motor = field(default_factory=Motor)
    _told_s: float = -math.inf
    _core: _Lasting = field(default_factory=_Lasting)
    _hot: dict[Place, _Lasting] = field(default_factory=dict)
    _cold: _Lasting = field(default_factory=_Lasting)
    _bath_c: float | None = None
    _refused: set[MarkWord] = field(default_factory=set)
    _made_up: bool = False
    _made_up_s: float = math.inf
    _newest: dict[Place, tuple[float, float]] = field(default_factory=dict)
    _swapped_pour: PourDetector = field(default_factory=PourDetector)
    _inverted: _Lasting = field(default_factory=lambda: _Lasting(SWAP_GAP_S))

    def feed(self, probe: str, place: Place, t: float, c: float, *, beating: bool) -> None:
        """Take in an accepted reading [°C, of the mixer W]; `beating` is what the run believes."""
        self._motor.feed(probe, place, t, c, beating=beating)
        if place is Place.CORE:
            self._core.feed(t, CORE_C[0] < c < CORE_C[1])
        if place is Place.BATH:
            self._bath_c = c
            self._cold.feed(t, c < BATH_BELOW_C)
            self._swapped_pour.feed(t, c)
        if place in (Place.MIX, Place.CORE):
            self._hot.setdefault(place, _Lasting()).feed(t, c > BASE_ABOVE_C)
        if place is Place.MIX:
            self.pour.feed(t, c)
        self._newest[place] = t, c
        if place in (Place.BATH, Place.MIX) and {Place.BATH, Place.MIX} <= self._newest.keys():
            (bath_s, bath_c), (mix_s, mix_c) = self._newest[Place.BATH], self._newest[Place.MIX]
            if abs(bath_s - mix_s) < _TOGETHER_S:
                self._inverted.feed(t, mix_c < min(bath_c - SWAP_K, SWAP_BELOW_C))

    def hear(self, mark: Mark) -> None:
        """Take in a mark that was taken."""
        if mark.word in _BEATING:
            self._told_s = max(self._told_s, mark.t)
        if mark.word is MarkWord.ICE_IN:
            self._made_up = True
            if mark.by is not By.DETECTED:
                self._made_up_s = mark.t

    def swap(self) -> None:
        """Take in that what was read of the bath was of the mix, and the other way round."""
        self.pour, self._swapped_pour = self._swapped_pour, self.pour
        self._inverted = _Lasting(SWAP_GAP_S)
        self._hot.clear()
        self._cold = _Lasting()
        self._newest.clear()
        self._bath_c = None

    def refuse(self, word: MarkWord) -> None:
        """Take in that the maker took a guess back."""
        self._refused.add(word)

    def seen(self, stages: Stages, *, can_swap: bool = True) -> Mark | None:
        """The next mark that the readings show and nobody has set; None if there is none.

        Args:
            stages: where the run stands.
            can_swap: whether one probe each in bath and mix may have been swapped.
        """
        guesses = (mark for mark in self._guesses(stages) if mark.word not in self._refused)
        if can_swap and MarkWord.NOTE not in self._refused and self._swapped(stages):
            return Mark(self._inverted.since_s, MarkWord.NOTE, By.DETECTED, {"note": SWAPPED_NOTE})
        return next(guesses, None)

    def _swapped(self, stages: Stages) -> bool:
        """Whether what should be the mix has been far colder than the bath for too long."""
        inverted, poured_s = self._inverted, stages.batch.poured_s
        for_s = inverted.lasted_s()
        if stages.stage is Stage.BEAT and poured_s is not None:
            return min(for_s, inverted.newest_s - poured_s - SETTLED_S) >= SWAP_BEATEN_S
        if stages.stage is not Stage.READY or stages.round or for_s < SWAP_MADE_UP_S:
            return False
        bath_c = self._newest[Place.BATH][1]
        # Before the pour a mix probe may lie in a freezer beside an outer bowl without salt.
        since_ice_s = inverted.newest_s - self._made_up_s - BATH_WORKS_S
        if since_ice_s >= SWAP_MADE_UP_S and bath_c > NO_BATH_C:
            return True
        mix_c = self._newest[Place.MIX][1]
        return for_s >= SWAP_POURED_S and self._swapped_pour.poured(mix_c)

    def _guesses(self, stages: Stages) -> Iterator[Mark]:
        if stages.round == 0:
            if stages.stage in (Stage.BASE, Stage.READY):
                yield from self._before_the_pour(stages.stage)
        elif stages.stage in (Stage.BEAT, Stage.REST):
            yield from self._after_the_pour(stages.stage)

    def _after_the_pour(self, stage: Stage) -> Iterator[Mark]:
        beats = stage is Stage.BEAT
        at_s = self._motor.stopped_s() if beats else self._motor.started_s()
        # What was marked since then was marked by someone who knew.
        if at_s is not None and at_s > self._told_s:
            yield _guess(at_s, MarkWord.BEAT_STOP if beats else MarkWord.BEAT_START)
        mix_s = self._newest.get(Place.MIX, (-math.inf,))[0]
        in_tub = self._core.lasted_s() >= CORE_FOR_S
        if not beats and in_tub and self._core.newest_s - mix_s > CORE_FOR_S:
            yield _guess(self._core.since_s, MarkWord.HARDEN_START)

    def _before_the_pour(self, stage: Stage) -> Iterator[Mark]:
        if not self._made_up and self._cold.lasted_s() >= BATH_FOR_S:
            yield _guess(self._cold.since_s, MarkWord.ICE_IN)
        hot = max(self._hot.values(), key=_Lasting.lasted_s, default=_Lasting())
        if stage is Stage.READY and not self._made_up and hot.lasted_s() >= BASE_FOR_S:
            yield Mark(hot.since_s, MarkWord.START, By.DETECTED, {"stage": Stage.BASE.value})
        if stage is Stage.READY and self.pour.poured(self._bath_c):
            yield _guess(self.pour.began_s, MarkWord.POUR)


def is_swap(mark: Mark) -> bool:
    """Whether a mark says that the probes of bath and mix sit in each other's place."""
    return mark.by is By.DETECTED and mark.detail.get("note") == SWAPPED_NOTE


def _guess(t: float, word: MarkWord) -> Mark:
    return Mark(t, word, By.DETECTED)
