"""The monitor: feed it a reading or a mark, get what there is to say. No clock, thread or file.

The clock of a run is the time of what it is fed. A tick falls on every whole second, once the
clock has gone past it: all that was taken up to and including that second is in, and then the
state, the forecasts that are due and the alarms that changed are said. What comes later with an
earlier time is taken in, but what has been said stays said.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from rigmon.estimate.estimator import Estimator
from rigmon.estimate.knee import PRIOR
from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Event,
    Forecast,
    Item,
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
from rigmon.run.alarms import AlarmBook, Cause
from rigmon.run.causes import Causes
from rigmon.run.probebank import ProbeBank
from rigmon.run.stages import PourDetector, Stages
from rigmon.run.story import Story

FORECAST_EVERY_S = {Stage.BEAT: 5.0, Stage.BASE: 300.0, Stage.HARDEN: 300.0}
_FORECAST_ELSE_S = 60.0
UNDO_WITHIN_S = 300.0
"""A mark can be taken back for this long [s]."""
SHELVE_MIN = 10.0
"""How long an alarm is shelved if nobody says how long [min]."""


@dataclass(slots=True)
class _Core:
    """All that changes while a run goes on."""

    estimator: Estimator
    probes: ProbeBank
    alarms: AlarmBook
    stages: Stages = field(default_factory=Stages)
    pour: PourDetector = field(default_factory=PourDetector)
    story: Story = field(default_factory=Story)
    causes: Causes = field(default_factory=Causes)
    clock: float = -math.inf
    tick: float = -math.inf
    newest_bath_c: float | None = None
    forecast_at: float = -math.inf
    forecasts: dict[Event, Forecast] = field(default_factory=dict)
    qualities: dict[str, Quality] = field(default_factory=dict)
    conditions: dict[str, Cause] = field(default_factory=dict)
    placed: set[str] = field(default_factory=set)


class Monitor:
    """One run of one rig.

    Args:
        setup: the rig.
        recipe: the mix, composition resolved; None if not known.
        prior: what is believed of the rig.
        seed: seed of the estimator's fixed random numbers.
    """

    def __init__(
        self,
        setup: RigSetup,
        recipe: Recipe | None = None,
        prior: RigPrior = PRIOR,
        seed: int = 0,
    ) -> None:
        self.setup = setup
        self.recipe = recipe
        self._core = _Core(
            Estimator(recipe, setup, prior, seed), ProbeBank(setup), AlarmBook(setup.alarms)
        )
        self._before: tuple[_Core, Mark] | None = None
        self._since: list[Item] = []
        self._ended = False

    @property
    def clock(self) -> float:
        """Run time up to which everything has been said [s]; −inf before the first item."""
        return self._core.clock

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
        return self._core.newest_bath_c

    def place(self, probe: str) -> Place | None:
        """Where a probe sits; None for one that is not known."""
        return self._core.probes.place(probe)

    # ── what comes in ────────────────────────────────────────────────────────────────────────────

    def feed(self, item: Item) -> list[Said]:
        """Take in one item; returns what there is to say, in order of time."""
        said = self._start(item.t)
        said += self._tick_before(item.t)
        if isinstance(item, Mark) and item.word is MarkWord.UNDO:
            return said + self._undo(item)
        if isinstance(item, Mark):
            self._before = (copy.deepcopy(self._core), item)
            self._since = []
        elif self._before is not None:
            if item.t - self._before[1].t > UNDO_WITHIN_S:
                self._before, self._since = None, []
            else:
                self._since.append(item)
        return said + self._take(item)

    def advance(self, t: float) -> list[Said]:
        """Let time go on to `t` [s]: everything before then has been fed."""
        said = self._start(t)
        said += self._tick_before(t)
        self._core.clock = max(self._core.clock, t)
        return said

    def finish(self) -> list[Said]:
        """End the run: the last tick that is due, and the summary. A second call says nothing."""
        if self._ended or self._core.clock == -math.inf:
            return []
        self._ended = True
        said = self._tick() if self._core.tick <= self._core.clock else []
        return [*said, Summary(self._core.clock, self._figures())]

    def _start(self, t: float) -> list[Said]:
        core = self._core
        if core.clock != -math.inf:
            return []
        core.tick = float(math.ceil(t))
        core.clock = t
        if self.recipe is None or self.recipe.composition is None:
            return [
                Problem(
                    t,
                    "no-recipe",
                    "",
                    "No recipe is given: the frozen share and the plateau cannot be said. "
                    "Temperatures and the state of the bath can.",
                )
            ]
        return []

    def _tick_before(self, t: float) -> list[Said]:
        said: list[Said] = []
        while self._core.tick < t:
            said += self._tick()
        return said

    def _take(self, item: Item) -> list[Said]:
        core = self._core
        core.clock = max(core.clock, item.t)
        if isinstance(item, Reading):
            return self._read(item)
        if isinstance(item, Mark):
            return self._hear(item)
        if item.active:
            core.conditions[item.code] = Cause(item.text)
        else:
            core.conditions.pop(item.code, None)
        return []

    def _read(self, reading: Reading) -> list[Said]:
        core = self._core
        beating = core.stages.stage is Stage.BEAT
        accepted, news = core.probes.feed(reading, beating=beating)
        said: list[Said] = []
        if news:
            said.append(Problem(core.clock, "probe-setup", reading.probe, news))
        if accepted is None or accepted.value is None:
            return said
        place = core.probes.place(reading.probe)
        if place is not None and reading.probe not in core.placed:
            core.placed.add(reading.probe)
            core.estimator.place_probe(reading.probe, place)
        core.estimator.feed(accepted)
        if accepted.unit is not Unit.CELSIUS:
            return said
        if place is Place.BATH:
            core.newest_bath_c = accepted.value
        elif place is Place.MIX:
            core.pour.feed(reading.t, accepted.value)
        return said

    def _hear(self, mark: Mark) -> list[Said]:
        core = self._core
        try:
            text, said = self._understood(mark)
        except ValueError as error:
            sentence = f"The mark {mark.word.value} was not taken: {error}."
            return [Problem(core.clock, "mark-refused", "", sentence)]
        heard = MarkHeard(core.clock, mark.word, mark.by, dict(mark.detail), text)
        core.story.hear(heard)
        return [heard, *said]

    def _understood(self, mark: Mark) -> tuple[str, list[Said]]:
        core = self._core
        code = mark.detail.get("code")
        if mark.word is MarkWord.ACK:
            alarms = core.alarms.acknowledge(core.clock, str(code) if code else None)
            return "Acknowledged.", list(alarms)
        if mark.word is MarkWord.SHELVE:
            if not code:
                raise ValueError("say which alarm, as in shelve code=bath-limit-near")
            for_min = float(mark.detail.get("for_min", SHELVE_MIN))
            shelved = core.alarms.shelve(core.clock, str(code), 60.0 * for_min)
            return f"{code} is put aside for {for_min:g} min.", [shelved]
        if mark.word is MarkWord.READING:
            return self._typed(mark)
        text = core.stages.hear(mark)
        core.estimator.feed(mark)
        if mark.word in (MarkWord.POUR, MarkWord.BEAT_START):
            if core.causes.poured_at is None:
                core.causes.poured_at = mark.t
            core.forecast_at = -math.inf
        if mark.word is MarkWord.RECHARGE:
            core.causes.recharged()
            core.forecast_at = -math.inf
            text = _recharged(mark)
        return text, []

    def _typed(self, mark: Mark) -> tuple[str, list[Said]]:
        values = {k: v for k, v in mark.detail.items() if k.endswith("_c") and k != "ice_c"}
        if not values:
            raise ValueError("say what was read, as in reading bath_c=-14.5")
        said: list[Said] = []
        for key, value in values.items():
            said += self._read(Reading(mark.t, key.removesuffix("_c"), float(value), by="hand"))
        listed = ", ".join(f"{k.removesuffix('_c')} {float(v):g} °C" for k, v in values.items())
        return f"Read by hand: {listed}.", said

    def _undo(self, mark: Mark) -> list[Said]:
        if self._before is None or mark.t - self._before[1].t > UNDO_WITHIN_S:
            return [
                Problem(
                    max(mark.t, self._core.clock),
                    "mark-refused",
                    "",
                    "There is no mark of the last five minutes to take back.",
                )
            ]
        clock, tick = self._core.clock, self._core.tick
        self._core, undone = self._before
        self._before = None
        for item in self._since:
            self._tick_before(item.t)
            self._take(item)
        self._since = []
        while self._core.tick < tick:
            self._tick()
        self._core.clock = max(clock, mark.t)
        detail = {**mark.detail, "undone": undone.word.value}
        text = f"Taken back: {undone.word.value}."
        return [MarkHeard(self._core.clock, MarkWord.UNDO, mark.by, detail, text)]

    # ── what is said ─────────────────────────────────────────────────────────────────────────────

    def _tick(self) -> list[Said]:
        core = self._core
        t = core.tick
        core.tick += 1.0
        core.clock = max(core.clock, t)
        said: list[Said] = list(self._detect())
        estimate = core.estimator.at(t)
        core.story.see(t, core.stages.stage, estimate)
        qualities = core.probes.qualities(t, core.stages.stage)
        said.append(State(t, core.stages.stage, core.stages.round, estimate, qualities))
        said += self._forecasts(t)
        said += self._problems(t, qualities)
        speaking = {
            **core.conditions,
            **core.causes.probes(t, qualities, core.probes),
            **core.causes.round(
                t, core.estimator, estimate, core.stages, core.forecasts, self.setup.bowls
            ),
        }
        alarms = core.alarms.update(t, core.stages.stage, speaking)
        core.story.alarm(alarms)
        for alarm in alarms:
            if alarm.code == "plateau-reached" and alarm.state is AlarmState.UNACKNOWLEDGED:
                core.causes.reached_round = core.stages.round
        return [*said, *alarms]

    def _detect(self) -> Iterable[Said]:
        core = self._core
        if core.stages.round or core.stages.stage is not Stage.READY:
            return []
        if not core.pour.poured(core.newest_bath_c):
            return []
        return self._hear(Mark(core.pour.began_s, MarkWord.POUR, By.DETECTED))

    def _forecasts(self, t: float) -> list[Said]:
        core = self._core
        period = FORECAST_EVERY_S.get(core.stages.stage, _FORECAST_ELSE_S)
        if t - core.forecast_at < period or core.stages.stage is Stage.DONE:
            return []
        core.forecast_at = t
        made = core.estimator.forecast(t)
        core.forecasts = {
            forecast.event: replace(forecast, round=core.stages.round)
            for forecast in made
            if not (forecast.event is Event.PLATEAU and core.causes.reached(core.stages))
        }
        core.story.forecast(core.forecasts.values())
        return list(core.forecasts.values())

    def _problems(self, t: float, qualities: dict[str, Quality]) -> list[Said]:
        core = self._core
        told: list[Said] = []
        for name, quality in qualities.items():
            before = core.qualities.get(name, Quality.GOOD)
            if quality is not before and quality is not Quality.GOOD:
                text = core.probes.reason(name, t)
                told.append(Problem(t, f"probe-{quality.value}", name, text))
        core.qualities = qualities
        return told

    def _figures(self) -> dict[str, object]:
        core = self._core
        return core.story.figures(core.stages, core.probes.counts())

    def live_alarms(self) -> tuple[Alarm, ...]:
        """Alarms that stand now, the most urgent first."""
        return self._core.alarms.live()


def _recharged(mark: Mark) -> str:
    amounts = [
        f"{float(mark.detail[key]):g} g {word}"
        for key, word in (("ice_g", "ice"), ("salt_g", "salt"))
        if key in mark.detail
    ]
    if "ice_scoops" in mark.detail:
        amounts.append(f"{float(mark.detail['ice_scoops']):g} scoops of ice")
    if not amounts:
        return "Bath recharged, amounts unknown: the ice left can no longer be told."
    return f"Bath recharged with {' and '.join(amounts)}."
