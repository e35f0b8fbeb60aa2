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
    Condition,
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
    Unit,
)
from rigmon.run import marks
from rigmon.run.alarmbook import AlarmBook
from rigmon.run.alarms import Cause
from rigmon.run.causes import RoundCauses, of_probes
from rigmon.run.probebank import ProbeBank
from rigmon.run.stages import PourDetector, Stages
from rigmon.run.story import Story

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
SHELVE_MIN = 10.0
"""How long an alarm is shelved if nobody says how long [min]."""


class RunCore:
    """One run of one rig, without a clock of its own.

    Args:
        setup: the rig.
        recipe: the mix, composition resolved; None if not known.
        prior: what is believed of the rig.
        seed: seed of the estimator's fixed random numbers.
    """

    def __init__(self, setup: RigSetup, recipe: Recipe | None, prior: RigPrior, seed: int) -> None:
        self._setup = setup
        self.estimator = Estimator(recipe, setup, prior, seed)
        self.probes = ProbeBank(setup)
        self.alarms = AlarmBook(setup.alarms)
        self.stages = Stages()
        self.pour = PourDetector()
        self.bath_c: float | None = None
        self._causes = RoundCauses()
        self._story = Story()
        self._conditions: dict[str, Cause] = {}
        self._placed: set[str] = set()
        self._forecast_s = -math.inf
        self._forecasts: dict[Event, Forecast] = {}
        self._qualities: dict[str, Quality] = {}

    def take(self, item: Reading | Condition, now: float) -> list[Said]:
        """Take in a reading or a condition of the program; `now` is the run's clock [s]."""
        if isinstance(item, Reading):
            return self._read(item, now)
        if item.active:
            self._conditions[item.code] = Cause(item.text)
        else:
            self._conditions.pop(item.code, None)
        return []

    def _read(self, reading: Reading, now: float) -> list[Said]:
        beating = self.stages.stage is Stage.BEAT
        accepted, news = self.probes.feed(reading, beating=beating)
        said: list[Said] = [Problem(now, "probe-setup", reading.probe, news)] if news else []
        if accepted is None or accepted.value is None or accepted.unit is not Unit.CELSIUS:
            return said
        place = self.probes.place(reading.probe)
        if place is not None and reading.probe not in self._placed:
            self._placed.add(reading.probe)
            self.estimator.place_probe(reading.probe, place)
        self.estimator.feed(accepted)
        if place is Place.BATH:
            self.bath_c = accepted.value
        elif place is Place.MIX:
            self.pour.feed(reading.t, accepted.value)
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
            return "Acknowledged." if told else "No alarm sounds.", [*told]
        if mark.word is MarkWord.SHELVE:
            if not code:
                raise ValueError("say which alarm, as in shelve code=bath-limit-near")
            for_min = float(mark.detail.get("for_min", SHELVE_MIN))
            shelved = self.alarms.shelve(now, str(code), 60.0 * for_min)
            return f"{code} is put aside for {for_min:g} min.", [shelved]
        if mark.word is MarkWord.READING:
            return self._typed(mark, now)
        amounts = amounts_of(mark, self._setup)
        text = self.stages.hear(mark)
        self.estimator.feed(mark)
        self._forecast_s = -math.inf
        if mark.word is MarkWord.RECHARGE:
            self._causes.recharged(mark.t)
            text = marks.recharged(mark, amounts)
        return text, []

    def _typed(self, mark: Mark, now: float) -> tuple[str, list[Said]]:
        values = marks.typed(mark)
        if not values:
            raise ValueError("say what was read, as in reading bath_c=-14.5")
        said: list[Said] = []
        for probe, value in values.items():
            said += self._read(Reading(mark.t, probe, value, by="hand"), now)
        listed = ", ".join(f"{probe} {value:g} °C" for probe, value in values.items())
        return f"Read by hand: {listed}.", said

    def pour_seen(self) -> Mark | None:
        """The pour, if readings alone show one that nobody has said."""
        waiting = self.stages.stage is Stage.READY and not self.stages.round
        if waiting and self.pour.poured(self.bath_c):
            return Mark(self.pour.began_s, MarkWord.POUR, By.DETECTED)
        return None

    def tick(self, t: float) -> list[Said]:
        """What there is to say at run time `t` [s], with all in that came up to then."""
        stages = self.stages
        estimate = self.estimator.at(t)
        self._story.see(t, stages, estimate)
        qualities = self.probes.qualities(t, stages.stage)
        said: list[Said] = [State(t, stages.stage, stages.round, estimate, qualities)]
        said += self._ahead(t)
        said += self._problems(t, qualities)
        causes = {
            **self._conditions,
            **of_probes(t, qualities, self.probes),
            **self._causes.at(
                t,
                self.estimator.p_over(t),
                self.estimator.bath_limit_c,
                estimate,
                stages,
                self._forecasts,
                self._setup.bowls,
            ),
        }
        alarms = self.alarms.update(t, stages.stage, causes)
        for alarm in alarms:
            self._told(alarm)
        return [*said, *alarms]

    def _told(self, alarm: Alarm) -> None:
        self._story.alarm(alarm)
        if alarm.code == "plateau-reached" and alarm.state is AlarmState.UNACKNOWLEDGED:
            self._causes.told_round = self.stages.round
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
