"""Where the mix is and which round it is in, as the marks say."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.records import DetailValue, Mark, MarkWord

PAUSE_S = 180.0
"""Beating taken up again within this time of stopping is the same round (own choice) [s]."""

_OUT = frozenset({MarkWord.PACK, MarkWord.HARDEN_START, MarkWord.END})


@dataclass(slots=True)
class Batch:
    """One batch on its way through bowl, rest and rounds.

    Args:
        poured_s: run time at which the mix went into the bowl [s]; None before.
        round: beating rounds begun.
        beating: whether the mix is being beaten.
        in_bath: whether the bowl with the mix stands in the bath.
        in_freezer: whether bath and all stand in the freezer.
        packed: whether it has left the bowl.
        begun_s: run time at which the last round began [s]; None before.
        perhaps_out: the bowl rested alone, and nobody has said where it is beaten since.
    """

    poured_s: float | None = None
    round: int = 0
    beating: bool = False
    in_bath: bool = False
    in_freezer: bool = False
    packed: bool = False
    begun_s: float | None = None
    perhaps_out: bool = False
    _stopped_s: float | None = None

    def hear(self, mark: Mark) -> None:
        """Take in a mark that made sense."""
        word = mark.word
        if word in (MarkWord.POUR, MarkWord.BEAT_START):
            self._beat(mark.t, mark.detail.get("where"))
        elif word is MarkWord.BEAT_STOP:
            self.beating, self._stopped_s = False, mark.t
        elif word is MarkWord.REST_START:
            where = mark.detail.get("where")
            self.beating, self._stopped_s = False, None
            self.in_bath = self.in_bath and where != "bowl"
            self.in_freezer, self.perhaps_out = where == "rig", False
        elif word is MarkWord.REST_STOP:
            self.in_freezer = False
        elif word in _OUT:
            self.beating = self.in_bath = self.in_freezer = False
            self.packed, self._stopped_s = True, None

    def _beat(self, t: float, where: DetailValue | None) -> None:
        lifted = self.perhaps_out or (self.poured_s is not None and not self.in_bath)
        self.perhaps_out = lifted and where is None
        if self.poured_s is None:
            self.poured_s = t
        if not self.beating and not self.paused(t):
            self.round += 1
            self.begun_s = t
        self.beating, self.in_bath = True, where != "bowl"
        self.in_freezer = self.packed = False
        self._stopped_s = None

    def paused(self, t: float) -> bool:
        """Whether beating has stopped for so short a time that the round may go on."""
        return self._stopped_s is not None and t - self._stopped_s <= PAUSE_S

    def resting(self, t: float) -> bool:
        """Whether the mix stands in its bowl, its round over."""
        standing = self.round > 0 and not self.beating and not self.packed
        return standing and not self.paused(t)
