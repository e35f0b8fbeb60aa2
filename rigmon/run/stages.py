"""Where a run stands, as its marks say; and the one mark that readings alone can set."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import fmean, median

from rigmon.estimate.batch import Batch
from rigmon.records import By, Mark, MarkWord, Stage
from rigmon.run.speech import Speech
from rigmon.texts import Sentence, marked

_WINDOW_S = 75.0
_FALL_K, _STEEP_K = 0.5, 3.0
_BATH_AT_WORK_C = -3.0
_WARMEST_MIX_C, _COLDEST_MIX_C = 25.0, -5.0
_ABOVE_BATH_K = 3.0

_ENTERED: Mapping[MarkWord, Stage] = {
    MarkWord.ICE_IN: Stage.READY,
    MarkWord.POUR: Stage.BEAT,
    MarkWord.BEAT_START: Stage.BEAT,
    MarkWord.BEAT_STOP: Stage.REST,
    MarkWord.REST_START: Stage.REST,
    MarkWord.PACK: Stage.PACK,
    MarkWord.HARDEN_START: Stage.HARDEN,
    MarkWord.END: Stage.DONE,
}
_ANSWERS: Mapping[MarkWord, str] = {
    MarkWord.START: marked("Run started; {stage}."),
    MarkWord.ICE_IN: marked("Bath made up."),
    MarkWord.POUR: marked("Mix poured; round {round}."),
    MarkWord.BEAT_START: marked("Beating; round {round}."),
    MarkWord.BEAT_STOP: marked("Round {round} stopped."),
    MarkWord.REST_START: marked("Resting after round {round}."),
    MarkWord.REST_STOP: marked("Rest after round {round} over."),
    MarkWord.PACK: marked("Packing."),
    MarkWord.HARDEN_START: marked("Hardening."),
    MarkWord.END: marked("Run ended."),
}
_NO_START = marked("a run starts with stage=base or with none, not with {stage}")
_ENDED = marked("the run has ended; {word} belongs to a new one")
_AT_WORK = marked("the bath is at work already; fresh ice is a recharge")
_SEEN_STOP = marked("The stop had been seen already; round {round}.")
_MORE_ICE = marked("More ice and salt in the bath, beside what was there.")
_RESTING, _NOTED = marked("Resting."), marked("Noted: {word}.")


@dataclass(slots=True)
class Stages:
    """Stage and round of one run.

    Args:
        stage: where the run stands.
        batch: where the mix is.
        speech: the maker's language.
        moved: the last mark that moved the batch on, and who set it; None before the first.
    """

    stage: Stage = Stage.READY
    batch: Batch = field(default_factory=Batch)
    speech: Speech = field(default_factory=Speech)
    moved: tuple[MarkWord, By] | None = None
    _seen: bool = False
    _stop_seen: bool = False

    @property
    def round(self) -> int:
        """Beating rounds begun."""
        return self.batch.round

    def hear(self, mark: Mark) -> str:
        """Take a mark in; returns in one sentence what was made of it.

        Raises:
            ValueError: the mark makes no sense where the run stands.
        """
        word, poured = mark.word, self.round > 0
        from_stage = mark.detail.get("stage")
        if word is MarkWord.START and from_stage not in (None, Stage.BASE):
            raise ValueError(Sentence(_NO_START, stage=from_stage))
        if word is MarkWord.START and from_stage and (poured or self.stage is not Stage.READY):
            raise ValueError(Sentence(marked("the run is past its base already")))
        if self.stage is Stage.DONE and word is not MarkWord.NOTE:
            raise ValueError(Sentence(_ENDED, word=word.value))
        if word is MarkWord.POUR and poured:
            if self._seen and self.round == 1:
                return self.speech.say("The pour had been seen already; round 1.")
            raise ValueError(Sentence(marked("the mix is in the bowl already")))
        if word is MarkWord.ICE_IN and poured:
            raise ValueError(Sentence(_AT_WORK))
        if word is MarkWord.BEAT_STOP and self.stage is not Stage.BEAT:
            if self._stop_seen and self.stage is Stage.REST:
                return self.speech.say(_SEEN_STOP, round=self.round)
            raise ValueError(Sentence(marked("nothing is being beaten")))
        if word is MarkWord.REST_STOP and self.stage is not Stage.REST:
            raise ValueError(Sentence(marked("nothing is resting")))
        self._seen = self._seen or (word is MarkWord.POUR and mark.by is By.DETECTED)
        self._stop_seen = word is MarkWord.BEAT_STOP and mark.by is By.DETECTED
        again = word is MarkWord.ICE_IN and self.moved == (MarkWord.ICE_IN, By.MAKER)
        self.batch.hear(mark)
        self.stage = Stage.BASE if from_stage and word is MarkWord.START else self.stage
        self.stage = _ENTERED.get(word, self.stage)
        if word in _ANSWERS:
            self.moved = word, mark.by
        return self.speech.say(_MORE_ICE) if again else self._sentence(word)

    def _sentence(self, word: MarkWord) -> str:
        text = _ANSWERS.get(word, _NOTED)
        if word is MarkWord.REST_START and not self.round:
            text = _RESTING
        stage = self.speech.say(self.stage.value)
        return self.speech.say(text, round=self.round, stage=stage, word=word.value)


@dataclass(slots=True)
class PourDetector:
    """Sees the mix begin to cool in a working bath, for makers who set no marks.

    Over a minute and a quarter the last third must lie half a kelvin below the first, the middle
    third between them and nowhere 3 K from its neighbours, with the bath below −3 °C (common
    practice, no source: a poured mix falls by one to two kelvin a minute, a probe that is put into
    it by much more).

    Args:
        wanted: False once the maker has taken a detected pour back.
    """

    wanted: bool = True
    _mix: deque[tuple[float, float]] = field(default_factory=deque)

    def feed(self, t: float, mix_c: float) -> None:
        """Take in an accepted mix reading."""
        self._mix.append((t, mix_c))
        while t - self._mix[0][0] > _WINDOW_S:
            self._mix.popleft()

    def poured(self, bath_c: float | None) -> bool:
        """Whether the mix is in the bowl and cooling."""
        if not self.wanted or bath_c is None or bath_c > _BATH_AT_WORK_C or len(self._mix) < 9:
            return False
        if self._mix[-1][0] - self._mix[0][0] < 0.8 * _WINDOW_S:
            return False
        first, middle, last = (c for _, c in self._thirds())
        falls = first - last >= _FALL_K and first > middle > last
        newest = median(c for _, c in list(self._mix)[-3:])
        steepest = max(first - middle, middle - last, 2.0 * (last - newest))
        falls = falls and steepest < _STEEP_K
        is_mix = first < _WARMEST_MIX_C and last > max(bath_c + _ABOVE_BATH_K, _COLDEST_MIX_C)
        return falls and is_mix

    def _thirds(self) -> list[tuple[float, float]]:
        """Mean time [s] and temperature [°C] of each third of the readings."""
        points, n = list(self._mix), len(self._mix)
        parts = [points[i * n // 3 : (i + 1) * n // 3] for i in range(3)]
        return [(fmean(t for t, _ in part), fmean(c for _, c in part)) for part in parts]

    @property
    def began_s(self) -> float:
        """Run time at which the fall began [s]: where its line meets the first third's level."""
        (_, first_c), (middle_s, middle_c), (last_s, last_c) = self._thirds()
        meets_s = middle_s - (first_c - middle_c) * (last_s - middle_s) / (middle_c - last_c)
        return max(meets_s, self._mix[0][0])
