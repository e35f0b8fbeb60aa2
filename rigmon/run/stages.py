"""Where a run stands, as its marks say; and the one mark that readings alone can set."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import fmean

from rigmon.records import By, Mark, MarkWord, Stage

PAUSE_S = 180.0
"""Beating taken up again within this time of stopping is the same round (own choice) [s]."""

_WINDOW_S = 75.0
_FALL_K = 0.5
_BATH_AT_WORK_C = -3.0
_WARMEST_MIX_C = 25.0
_ABOVE_BATH_K = 3.0


@dataclass(slots=True)
class Stages:
    """Stage and round of one run.

    Args:
        stage: where the run stands.
        round: beating rounds begun.
        since: run time at which the stage began [s].
    """

    stage: Stage = Stage.READY
    round: int = 0
    since: float = 0.0
    _stopped_at: float | None = None
    _seen: bool = False

    def hear(self, mark: Mark) -> str:
        """Take a mark in; returns in one sentence what was made of it.

        Raises:
            ValueError: the mark makes no sense where the run stands.
        """
        word = mark.word
        if self.stage is Stage.DONE and word is not MarkWord.NOTE:
            raise ValueError(f"the run has ended; {word.value} belongs to a new one")
        if word is MarkWord.POUR:
            if self._seen and self.round == 1:
                return "The pour had been seen already; round 1."
            if self.round:
                raise ValueError("the mix is in the bowl already")
            self._seen = mark.by is By.DETECTED
            return self._beat(mark.t, "Mix poured")
        if word is MarkWord.BEAT_START:
            return self._beat(mark.t, "Beating")
        if word is MarkWord.BEAT_STOP:
            if self.stage is not Stage.BEAT:
                raise ValueError("nothing is being beaten")
            self._stopped_at = mark.t
            self._enter(Stage.REST, mark.t)
            return f"Round {self.round} stopped."
        if word is MarkWord.ICE_IN:
            if self.round:
                raise ValueError("the bath is at work already; fresh ice is a recharge")
            self._enter(Stage.READY, mark.t)
            return "Bath made up."
        if word is MarkWord.REST_START:
            self._stopped_at = None
            self._enter(Stage.REST, mark.t)
            return f"Resting after round {self.round}."
        if word is MarkWord.REST_STOP:
            if self.stage is not Stage.REST:
                raise ValueError("nothing is resting")
            return f"Rest after round {self.round} over."
        if word is MarkWord.PACK:
            self._enter(Stage.PACK, mark.t)
            return "Packing."
        if word is MarkWord.HARDEN_START:
            self._enter(Stage.HARDEN, mark.t)
            return "Hardening."
        if word is MarkWord.END:
            self._enter(Stage.DONE, mark.t)
            return "Run ended."
        return f"Noted: {word.value}."

    def _beat(self, t: float, what: str) -> str:
        paused = self._stopped_at is not None and t - self._stopped_at <= PAUSE_S
        if self.stage is Stage.BEAT or paused:
            self.stage = Stage.BEAT
        else:
            self.round += 1
            self._enter(Stage.BEAT, t)
        self._stopped_at = None
        return f"{what}; round {self.round}."

    def _enter(self, stage: Stage, t: float) -> None:
        self.stage = stage
        self.since = t


@dataclass(slots=True)
class PourDetector:
    """Sees the mix begin to cool in a working bath, for makers who set no marks.

    Over a minute and a quarter the last third must lie half a kelvin below the first, the middle
    third between them, with the bath below −3 °C (common practice, no source: a poured mix falls
    by one to two kelvin a minute).
    """

    _mix: deque[tuple[float, float]] = field(default_factory=deque)

    def feed(self, t: float, mix_c: float) -> None:
        """Take in an accepted mix reading."""
        self._mix.append((t, mix_c))
        while t - self._mix[0][0] > _WINDOW_S:
            self._mix.popleft()

    def poured(self, bath_c: float | None) -> bool:
        """Whether the mix is in the bowl and cooling."""
        n = len(self._mix)
        if bath_c is None or bath_c > _BATH_AT_WORK_C or n < 9:
            return False
        if self._mix[-1][0] - self._mix[0][0] < 0.8 * _WINDOW_S:
            return False
        values = [c for _, c in self._mix]
        first, middle, last = (fmean(values[i * n // 3 : (i + 1) * n // 3]) for i in range(3))
        falls = first - last >= _FALL_K and first > middle > last
        return falls and first < _WARMEST_MIX_C and last > bath_c + _ABOVE_BATH_K

    @property
    def began_s(self) -> float:
        """Run time at which the fall began [s]: the last time the mix was as warm as at first."""
        warmest = max(self._mix, key=lambda point: point[1])
        return warmest[0]
