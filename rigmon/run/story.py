"""What happened in a run, gathered as it goes, for the summary at its end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from rigmon.records import (
    Alarm,
    AlarmState,
    Estimate,
    Event,
    Forecast,
    MarkHeard,
    MarkWord,
    Stage,
)
from rigmon.run.stages import Stages


@dataclass(slots=True)
class Story:
    """Times and extremes of one run; times are run times [s]."""

    poured_at: float | None = None
    freezing_at: float | None = None
    plateau_at: float | None = None
    frozen_at_stop: float | None = None
    bath_min_c: float | None = None
    bath_min_at: float | None = None
    first_plateau: Forecast | None = None
    ice_left_g: float | None = None
    alarms: int = 0
    marks: int = 0
    _frozen: float | None = field(default=None)

    def hear(self, mark: MarkHeard) -> None:
        """Take in a mark."""
        self.marks += 1
        if mark.word in (MarkWord.POUR, MarkWord.BEAT_START) and self.poured_at is None:
            self.poured_at = mark.at
        if mark.word is MarkWord.BEAT_STOP and self.frozen_at_stop is None:
            self.frozen_at_stop = self._frozen

    def see(self, t: float, stage: Stage, estimate: Estimate) -> None:
        """Take in the estimate of a tick."""
        if stage is Stage.BEAT and estimate.frozen_pct is not None:
            self._frozen = estimate.frozen_pct
            if self.freezing_at is None and estimate.frozen_pct >= 1.0:
                self.freezing_at = t
        bath = estimate.bath_c
        if bath is not None and (self.bath_min_c is None or bath < self.bath_min_c):
            self.bath_min_c, self.bath_min_at = bath, t
        if estimate.ice_left_g is not None:
            self.ice_left_g = estimate.ice_left_g

    def forecast(self, forecasts: Iterable[Forecast]) -> None:
        """Keep the first plateau forecast, to be held against what happened."""
        for forecast in forecasts:
            if forecast.event is Event.PLATEAU and forecast.p50 and self.first_plateau is None:
                self.first_plateau = forecast

    def alarm(self, alarms: Iterable[Alarm]) -> None:
        """Take in alarms that changed."""
        for alarm in alarms:
            if alarm.state is AlarmState.UNACKNOWLEDGED:
                self.alarms += 1
                if alarm.code == "plateau-reached" and self.plateau_at is None:
                    self.plateau_at = alarm.at

    def figures(self, stages: Stages, counts: dict[str, int]) -> dict[str, object]:
        """The summary: what is not known is None."""
        first = self.first_plateau
        return {
            "stage": stages.stage.value,
            "rounds": stages.round,
            "poured_s": self.poured_at,
            "freezing_s": self.freezing_at,
            "plateau_s": self.plateau_at,
            "frozen_pct": self.frozen_at_stop if self.frozen_at_stop is not None else self._frozen,
            "bath_min_c": self.bath_min_c,
            "bath_min_s": self.bath_min_at,
            "ice_left_g": self.ice_left_g,
            "first_plateau_forecast": (
                None if first is None else [first.at, first.p10, first.p50, first.p90]
            ),
            "alarms": self.alarms,
            "marks": self.marks,
            **counts,
        }
