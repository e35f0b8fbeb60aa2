"""What every face shows of one rig: the newest of all that was said, and the last minutes."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace

from rigmon.records import (
    Alarm,
    AlarmState,
    Choice,
    Event,
    Forecast,
    MarkHeard,
    Notice,
    Priority,
    Problem,
    Quality,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.choices import advised
from rigmon.run.core import FORECAST_EVERY_S
from rigmon.run.headline import Headline, headline, parted
from rigmon.run.speech import Speech
from rigmon.texts import marked

TREND_S = 600.0
"""How much of bath and mix a trend shows [s]."""
STAGES = {
    Stage.BASE: marked("base"),
    Stage.READY: marked("ready"),
    Stage.BEAT: marked("beat"),
    Stage.REST: marked("rest"),
    Stage.PACK: marked("pack"),
    Stage.HARDEN: marked("harden"),
    Stage.DONE: marked("done"),
}
PRIORITIES = {
    Priority.LOW: marked("low"),
    Priority.MEDIUM: marked("medium"),
    Priority.HIGH: marked("high"),
}
ALARM_STATES = {
    AlarmState.NORMAL: marked("normal"),
    AlarmState.UNACKNOWLEDGED: marked("unacknowledged"),
    AlarmState.ACKNOWLEDGED: marked("acknowledged"),
    AlarmState.RETURNED_UNACKNOWLEDGED: marked("over, unacknowledged"),
    AlarmState.RETURNED: marked("returned to normal"),
    AlarmState.SHELVED: marked("put aside"),
    AlarmState.SUPPRESSED: marked("over with its stage"),
    AlarmState.OUT_OF_SERVICE: marked("out of service"),
}
QUALITIES = {
    Quality.GOOD: marked("good"),
    Quality.NOISY: marked("noisy"),
    Quality.STUCK: marked("stuck"),
    Quality.IMPLAUSIBLE: marked("implausible"),
    Quality.SILENT: marked("silent"),
    Quality.FAULT: marked("at fault"),
}
_STANDING = frozenset(
    {
        AlarmState.UNACKNOWLEDGED,
        AlarmState.ACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
        AlarmState.SHELVED,
    }
)
_URGENT_FIRST = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)


@dataclass(slots=True)
class Glance:
    """The newest words on one rig.

    Args:
        rig_id: the rig.
        virtual: whether it is the virtual rig, which every face must say.
        limit_c: the bath limit [°C], if known.
        speech: the maker's language and units.
        first: marks that begin a run, for as long as nothing is known of it.
    """

    rig_id: str
    virtual: bool = False
    limit_c: float | None = None
    speech: Speech = field(default_factory=Speech)
    first: tuple[Choice, ...] = ()
    state: State | None = None
    forecasts: dict[Event, Forecast] = field(default_factory=dict)
    alarms: dict[str, Alarm] = field(default_factory=dict)
    notes: deque[tuple[float, str]] = field(default_factory=lambda: deque(maxlen=6))
    trend: deque[tuple[float, float | None, float | None]] = field(default_factory=deque)
    summary: Summary | None = None

    def tell(self, said: Said) -> None:
        """Take in one thing said."""
        if isinstance(said, State):
            self._see(said)
        elif isinstance(said, Forecast):
            # All forecasts of one time are said together: one that is not among them has ended.
            self._keep_forecasts_since(said.at)
            self.forecasts[said.event] = said
        elif isinstance(said, Alarm):
            if said.state in _STANDING:
                self.alarms[said.code] = said
            else:
                self.alarms.pop(said.code, None)
            self.notes.append((said.at, alarm_line(said, self.speech)))
        elif isinstance(said, MarkHeard | Problem | Notice):
            self.notes.append((said.at, said.text))
        else:
            self.summary = said

    def _see(self, state: State) -> None:
        before = self.state
        if before is not None and state.at < before.at:
            self._begin_anew()
        elif before is not None and state.stage is not before.stage:
            self.forecasts.clear()
        self._keep_forecasts_since(state.at - 2.0 * FORECAST_EVERY_S[state.stage])
        self.state = state
        if state.bath_limit_c is not None:
            self.limit_c = state.bath_limit_c
        self.trend.append((state.at, state.estimate.bath_c, state.estimate.mix_c))
        while state.at - self.trend[0][0] > TREND_S:
            self.trend.popleft()

    def end(self) -> None:
        """The run has ended: nothing is to be done any more, and no alarm is of use."""
        self.forecasts.clear()
        self.alarms.clear()
        if self.state is not None:
            # The kitchen of a virtual rig is gone with its run.
            then = () if self.virtual else self.first
            self.state = replace(self.state, stage=Stage.DONE, choices=then, undo=None)

    def _begin_anew(self) -> None:
        """Another run has begun: nothing of the one before holds for it."""
        self.forecasts.clear()
        self.alarms.clear()
        self.trend.clear()
        self.summary = None

    def _keep_forecasts_since(self, at: float) -> None:
        for event in [e for e, forecast in self.forecasts.items() if forecast.at < at]:
            del self.forecasts[event]

    def standing(self) -> tuple[Alarm, ...]:
        """Alarms that stand, the most urgent first."""
        return tuple(sorted(self.alarms.values(), key=lambda a: _URGENT_FIRST.index(a.priority)))

    def headline(self) -> Headline:
        """What the maker is to do now."""
        return headline(self.state, self.forecasts, self.standing(), self.limit_c, self.speech)

    def stage(self) -> str:
        """Stage and round in the maker's language; "" before the first reading."""
        if self.state is None:
            return ""
        stage = self.speech.say(STAGES[self.state.stage])
        return f"{stage} {self.state.round}" if self.state.round else stage

    def choices(self) -> tuple[Choice, ...]:
        """Marks that make sense now, the likeliest first, with the grams that were advised."""
        made = self.first if self.state is None else self.state.choices
        return advised(made, self.standing())

    def bad_probes(self) -> list[tuple[str, str]]:
        """Probes that are not good, and what is wrong with them, in the maker's language."""
        if self.state is None:
            return []
        say = self.speech.say
        return [
            (say("{name} probe", name=name), say(QUALITIES[quality]))
            for name, quality in self.state.quality.items()
            if quality is not Quality.GOOD
        ]


def alarm_line(alarm: Alarm, speech: Speech | None = None) -> str:
    """An alarm in full when it sounds, by its call when it only changes its state.

    >>> alarm = Alarm(0.0, "probe-silent", Priority.MEDIUM, AlarmState.RETURNED, "Check it. Look.")
    >>> alarm_line(alarm)
    '“Check it”: returned to normal'
    """
    say = (speech or Speech()).say
    if alarm.state is AlarmState.UNACKNOWLEDGED:
        priority = say(PRIORITIES[alarm.priority])
        return say("ALARM, {priority}: {text}", priority=priority, text=alarm.text)
    call, _ = parted(alarm)
    return say("“{call}”: {state}", call=call, state=say(ALARM_STATES[alarm.state]))
