"""All that changes while a run goes on: what is fed changes it, a tick says what there is to say.

It can be copied whole, which is how a mark is taken back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from rigmon.estimate.amounts import amounts_of
from rigmon.estimate.estimator import Estimator
from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Choice,
    Condition,
    Estimate,
    Event,
    Forecast,
    Mark,
    MarkHeard,
    MarkWord,
    Place,
    Problem,
    Quality,
    Reading,
    Recipe,
    RigPrior,
    RigSetup,
    Said,
    Stage,
    State,
    Summary,
    Undoable,
)
from rigmon.run import choices, marks
from rigmon.run.alarmbook import AlarmBook, NoticeBook
from rigmon.run.basecauses import BaseCauses
from rigmon.run.causebook import CauseBook
from rigmon.run.causes import Seen, lost_places, of_probes
from rigmon.run.mixcauses import SWAPPED, SWAPPED_BACK, of_freezing, of_swap
from rigmon.run.probebank import ProbeBank
from rigmon.run.recognition import UNSEEN, Recognition, is_swap
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages
from rigmon.run.stiffening import Stiffening
from rigmon.run.story import Story
from rigmon.texts import Sentence, marked

FORECAST_EVERY_S: Mapping[Stage, float] = {
    Stage.BASE: 300.0,
    Stage.READY: 60.0,
    Stage.BEAT: 5.0,
    Stage.REST: 60.0,
    Stage.PACK: 60.0,
    Stage.HARDEN: 300.0,
    Stage.DONE: math.inf,
}
"""How often forecasts are refreshed [s]."""
_ASIDE = marked("{code} is put aside for {n} min.")
SETTLED_S = 60.0
"""A probe that was poured over has the mix's temperature after this time [s] (own choice)."""
SHELVE_MIN = 10.0
"""How long an alarm is shelved if nobody says how long [min]."""


class RunCore:
    """One run of one rig, without a clock of its own.

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
        recipe: Recipe | None,
        prior: RigPrior,
        seed: int,
        speech: Speech | None = None,
    ) -> None:
        self._setup, self._recipe = setup, recipe
        self._speech = speech or Speech()
        self.estimator = Estimator(recipe, setup, prior, seed)
        self.probes = ProbeBank(setup, self._speech)
        self.alarms = AlarmBook(setup.alarms, self._speech)
        self._notices = NoticeBook(setup.alarms)
        self.stages = Stages(speech=self._speech)
        self.recognition = Recognition()
        self.bath_c: float | None = None
        self._causes = CauseBook(setup.alarms)
        self._base = BaseCauses()
        self._story = Story()
        self._stiffening = Stiffening()
        self._choices: dict[tuple[str, ...], tuple[Choice, ...]] = {}
        self._placed: set[str] = set()
        self._forecast_s = -math.inf
        self._forecasts: dict[Event, Forecast] = {}
        self._qualities: dict[str, Quality] = {}

    def take(self, item: Reading | Condition, now: float) -> list[Said]:
        """Take in a reading or a condition of the program; `now` is the run's clock [s]."""
        if isinstance(item, Reading):
            return self._read(item, now)
        self._causes.condition(item)
        return []

    def _read(self, reading: Reading, now: float) -> list[Said]:
        beating = self.stages.stage is Stage.BEAT
        poured_s = self.stages.batch.poured_s
        settled = poured_s is not None and reading.t - poured_s > SETTLED_S
        in_mix = settled and self.stages.stage in (Stage.BEAT, Stage.REST)
        accepted, news = self.probes.feed(reading, beating=beating, in_mix=in_mix)
        said: list[Said] = [Problem(now, "probe-setup", reading.probe, news)] if news else []
        if accepted is None or accepted.value is None:
            return said
        place = self.probes.place(reading.probe)
        if place is not None and reading.probe not in self._placed:
            self._placed.add(reading.probe)
            self.estimator.place_probe(reading.probe, place)
        self.estimator.feed(accepted)
        if place is Place.BATH:
            self.bath_c = accepted.value
        if place is not None:
            at_work = self.stages.batch.beating
            self.recognition.feed(reading.probe, place, reading.t, accepted.value, beating=at_work)
            self._causes.feed(place, reading.t, accepted.value)
        return said

    def hear(self, mark: Mark, now: float) -> list[Said]:
        """Take in a mark; returns what was made of it.

        Raises:
            ValueError: it makes no sense; nothing has changed.
        """
        marks.check(mark.detail)
        text, said = self._understood(mark, now)
        self._story.marks += 1
        return [MarkHeard(now, mark.word, mark.by, dict(mark.detail), text), *said]

    def _understood(self, mark: Mark, now: float) -> tuple[str, list[Said]]:
        code = mark.detail.get("code")
        if mark.word is MarkWord.ACK:
            told = self.alarms.acknowledge(now, str(code) if code else None)
            text = marked("Acknowledged.") if told else marked("No alarm sounds.")
            return self._speech.say(text), [*told]
        if mark.word is MarkWord.SHELVE:
            if not code:
                raise ValueError(
                    Sentence(marked("say which alarm, as in shelve code=bath-limit-near"))
                )
            for_min = float(mark.detail.get("for_min", SHELVE_MIN))
            shelved = self.alarms.shelve(now, str(code), 60.0 * for_min)
            return self._speech.say(_ASIDE, code=code, n=f"{for_min:g}"), [shelved]
        if mark.word is MarkWord.READING:
            return self._typed(mark, now)
        if is_swap(mark):
            return self._swapped(mark, now)
        amounts = amounts_of(mark, self._setup)
        text = self.stages.hear(mark)
        self.estimator.feed(mark)
        self.recognition.hear(mark)
        self._forecast_s = -math.inf
        self._causes.hear(mark, amounts, self.bath_c)
        if mark.word is MarkWord.RECHARGE:
            text = marks.recharged(mark, amounts, self._speech)
        if mark.word is MarkWord.POUR and mark.by is By.DETECTED:
            return text, [Problem(now, "unmarked", "", self._speech.say(UNSEEN))]
        return text, []

    def _typed(self, mark: Mark, now: float) -> tuple[str, list[Said]]:
        values = marks.typed(mark)
        if not values:
            raise ValueError(Sentence(marked("say what was read, as in reading bath_c=-14.5")))
        said: list[Said] = []
        for probe, value in values.items():
            said += self._read(Reading(mark.t, probe, value, by="hand"), now)
        say = self._speech
        listed = ", ".join(f"{probe} {say.temperature(c)}" for probe, c in values.items())
        return say.say("Read by hand: {listed}.", listed=listed), said

    def seen(self) -> Mark | None:
        """What the readings show and nobody has said; None if there is nothing."""
        return self.recognition.seen(self.stages, can_swap=self.probes.alone())

    def _swapped(self, mark: Mark, now: float) -> tuple[str, list[Said]]:
        """Read the probes of bath and mix as each other."""
        self.probes.swapped = not self.probes.swapped
        self.estimator.swap_probes(mark.t)
        self.recognition.swap()
        self.bath_c, self._forecast_s = None, -math.inf
        text = self._speech.say(SWAPPED if self.probes.swapped else SWAPPED_BACK)
        return text, [Problem(now, "probe-swapped", "", text)]

    def tick(self, t: float, undo: Undoable | None = None) -> list[Said]:
        """What there is to say at run time `t` [s], with all in that came up to then.

        Args:
            t: run time [s].
            undo: the mark that can be taken back.
        """
        stages = self.stages
        estimate = self.estimator.at(t)
        self._story.see(t, stages, estimate)
        self._stiffening.see(t, estimate.frozen_pct, beating=stages.batch.beating)
        qualities = self.probes.qualities(t, stages.stage)
        said: list[Said] = [self._state(t, estimate, qualities, undo)]
        said += self._ahead(t)
        said += self._problems(t, qualities)
        base = self.estimator.base(t)
        seen = Seen(
            t,
            estimate,
            stages,
            self._forecasts,
            self.estimator.p_over(t),
            self.estimator.p_rested(t),
            self.estimator.p_melting(t),
            self.estimator.why(t),
            self.estimator.bath_limit_c,
            self._setup.bowls,
            self._speech,
        )
        causes = {
            **of_probes(qualities, self._speech),
            **({} if base is None else self._base.at(base, self._speech)),
            **of_freezing(self.estimator.freezing_off(t), self._speech),
            **of_swap(self.probes.swapped, self._speech),
            **self._causes.at(seen),
        }
        lost = lost_places(qualities, self.probes)
        alarms = self.alarms.update(t, stages.stage, causes, lost)
        for alarm in alarms:
            self._told(alarm)
        return [*said, *self._notices.update(t, stages.stage, stages.round, causes), *alarms]

    def _state(
        self,
        t: float,
        estimate: Estimate,
        qualities: dict[str, Quality],
        undo: Undoable | None,
    ) -> State:
        words = choices.words(self.stages)
        if words not in self._choices:
            of = self._setup, self._recipe, self._speech
            self._choices = {words: choices.choices(words, *of)}
        return State(
            at=t,
            stage=self.stages.stage,
            round=self.stages.round,
            estimate=estimate,
            quality=qualities,
            probes=self.probes.seen(t, qualities),
            choices=self._choices[words],
            undo=undo,
            stiffening_pct_min=self._stiffening.pct_min(),
            bath_limit_c=self.estimator.bath_limit_c,
            freezing_c=self.estimator.freezing_c,
        )

    def _told(self, alarm: Alarm) -> None:
        self._story.alarm(alarm)
        if alarm.code == "plateau-reached" and alarm.state is AlarmState.UNACKNOWLEDGED:
            self._causes.plateau_told(self.stages.round)
            self.estimator.plateau_told()

    def _ahead(self, t: float) -> list[Forecast]:
        if t - self._forecast_s < FORECAST_EVERY_S[self.stages.stage]:
            return []
        self._forecast_s = t
        self._forecasts = {made.event: made for made in self.estimator.forecast(t)}
        self._story.forecast(self._forecasts.get(Event.PLATEAU))
        return list(self._forecasts.values())

    def _problems(self, t: float, qualities: dict[str, Quality]) -> list[Problem]:
        told = [
            Problem(t, f"probe-{quality.value}", name, self.probes.reason(name, t))
            for name, quality in qualities.items()
            if quality is not Quality.GOOD and quality is not self._qualities.get(name)
        ]
        self._qualities = qualities
        return told

    def summary(self, now: float) -> Summary:
        """The run in figures."""
        return Summary(now, self._story.figures(self.stages, self.probes.counts()))
