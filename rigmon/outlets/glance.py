"""What every face shows of one rig: the newest of all that was said, and the last minutes."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from rigmon.records import (
    Alarm,
    AlarmState,
    Event,
    Forecast,
    MarkHeard,
    Priority,
    Problem,
    Said,
    State,
    Summary,
)
from rigmon.run.core import FORECAST_EVERY_S
from rigmon.run.headline import Headline, headline
from rigmon.units import TemperatureUnit

TREND_S = 600.0
"""How much of bath and mix a trend shows [s]."""
_STANDING = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED})
_URGENT_FIRST = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)


@dataclass(slots=True)
class Glance:
    """The newest words on one rig.

    Args:
        rig_id: the rig.
        virtual: whether it is the virtual rig, which every face must say.
        limit_c: the bath limit [°C], if known.
    """

    rig_id: str
    virtual: bool = False
    limit_c: float | None = None
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
            self.notes.append((said.at, alarm_line(said)))
        elif isinstance(said, MarkHeard | Problem):
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
        self.trend.append((state.at, state.estimate.bath_c, state.estimate.mix_c))
        while state.at - self.trend[0][0] > TREND_S:
            self.trend.popleft()

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

    def headline(self, unit: TemperatureUnit = "C") -> Headline:
        """What the maker is to do now."""
        return headline(self.state, self.forecasts, self.standing(), self.limit_c, unit)


def alarm_line(alarm: Alarm) -> str:
    """An alarm in full when it sounds, by its code when it only changes its state.

    >>> alarm = Alarm(0.0, "probe-silent", Priority.MEDIUM, AlarmState.RETURNED, "Check it.")
    >>> alarm_line(alarm)
    'probe-silent: returned to normal'
    """
    if alarm.state is AlarmState.UNACKNOWLEDGED:
        return f"ALARM, {alarm.priority.value}: {alarm.text}"
    return f"{alarm.code}: {alarm.state.value}"
