"""What happened in a run, gathered as it goes, for the summary at its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rigmon.records import Alarm, AlarmState, Estimate, Forecast, Stage
from rigmon.run.stages import Stages

_FREEZING_PCT = 1.0
"""A share of ice that is no error of the probe any more [%] (own choice)."""


@dataclass(slots=True)
class Story:
    """Times and extremes of one run; times are run times [s]."""

    freezing_s: float | None = None
    plateau_s: float | None = None
    frozen_pct: float | None = None
    bath_min_c: float | None = None
    bath_min_s: float | None = None
    ice_left_g: float | None = None
    first_plateau: Forecast | None = None
    mix_offset_k: float | None = None
    mix_offset_k_sd: float | None = None
    alarms: int = 0
    marks: int = 0

    def see(self, t: float, stages: Stages, estimate: Estimate) -> None:
        """Take in the estimate of a tick."""
        first_round = stages.stage is Stage.BEAT and stages.round == 1
        if first_round and estimate.frozen_pct is not None:
            self.frozen_pct = estimate.frozen_pct
            if self.freezing_s is None and estimate.frozen_pct >= _FREEZING_PCT:
                self.freezing_s = t
            if self.freezing_s is not None and estimate.mix_offset_k is not None:
                self.mix_offset_k = estimate.mix_offset_k
                self.mix_offset_k_sd = estimate.mix_offset_k_sd
        bath_c = estimate.bath_c
        if bath_c is None:
            return
        self.ice_left_g = estimate.ice_left_g
        if self.bath_min_c is None or bath_c < self.bath_min_c:
            self.bath_min_c, self.bath_min_s = bath_c, t

    def forecast(self, plateau: Forecast | None) -> None:
        """Keep the first plateau forecast, to be held against what happened."""
        if self.first_plateau is None and plateau is not None and plateau.p50 is not None:
            self.first_plateau = plateau

    def alarm(self, alarm: Alarm) -> None:
        """Take in an alarm that changed."""
        if alarm.state is not AlarmState.UNACKNOWLEDGED:
            return
        self.alarms += 1
        if alarm.code == "plateau-reached" and self.plateau_s is None:
            self.plateau_s = alarm.at

    def figures(self, stages: Stages, counts: Mapping[str, int]) -> dict[str, object]:
        """The summary, as a maker reads it: what is not known is None."""
        first = self.first_plateau
        quantiles = None if first is None else (first.at, first.p10, first.p50, first.p90)
        return {
            "stage": stages.stage.value,
            "rounds": stages.round,
            "poured_s": _rounded(stages.batch.poured_s),
            "freezing_s": _rounded(self.freezing_s),
            "plateau_s": _rounded(self.plateau_s),
            "frozen_pct": _rounded(self.frozen_pct),
            "bath_min_c": _rounded(self.bath_min_c),
            "bath_min_s": _rounded(self.bath_min_s),
            "mix_offset_k": _rounded(self.mix_offset_k, 2),
            "mix_offset_k_sd": _rounded(self.mix_offset_k_sd, 2),
            "ice_left_g": None if self.ice_left_g is None else round(self.ice_left_g),
            "first_plateau_forecast": (
                None if quantiles is None else [_rounded(value) for value in quantiles]
            ),
            "alarms": self.alarms,
            "marks": self.marks,
            **counts,
        }


def _rounded(value: float | None, digits: int = 1) -> float | None:
    return None if value is None else round(value, digits)
