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
from rigmon.run.headline import Headline, headline

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
            self.forecasts[said.event] = said
        elif isinstance(said, Alarm):
            if said.state in _STANDING:
                self.alarms[said.code] = said
            else:
                self.alarms.pop(said.code, None)
            loud = said.state is AlarmState.UNACKNOWLEDGED
            self.notes.append((said.at, said.text if loud else f"{said.code}: {said.state.value}"))
        elif isinstance(said, MarkHeard | Problem):
            self.notes.append((said.at, said.text))
        else:
            self.summary = said

    def _see(self, state: State) -> None:
        if self.state is not None and state.at < self.state.at:
            self.trend.clear()
            self.forecasts.clear()
        if self.state is not None and state.stage is not self.state.stage:
            self.forecasts.clear()
        self.state = state
        self.trend.append((state.at, state.estimate.bath_c, state.estimate.mix_c))
        while state.at - self.trend[0][0] > TREND_S:
            self.trend.popleft()

    def standing(self) -> tuple[Alarm, ...]:
        """Alarms that stand, the most urgent first."""
        return tuple(sorted(self.alarms.values(), key=lambda a: _URGENT_FIRST.index(a.priority)))

    def headline(self) -> Headline:
        """What the maker is to do now."""
        return headline(self.state, self.forecasts, self.standing(), self.limit_c)
