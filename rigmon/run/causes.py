"""What speaks for each alarm just now, from the estimate, the forecasts and the probes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rigmon.estimate.estimator import Estimator
from rigmon.records import BowlSetup, Estimate, Event, Forecast, Quality, Stage
from rigmon.run import advice
from rigmon.run.alarms import Cause
from rigmon.run.probebank import ProbeBank
from rigmon.run.stages import Stages

P_OVER = 0.5
"""The plateau counts as reached above this probability ..."""
P_NOT_OVER = 0.25
"""... and no longer counts as reached below this one."""
BATH_LEAD_S = 600.0
"""A bath that will pass its limit within this time wants a recharge [s] (own choice: fetching and
weighing ice takes five to ten minutes)."""
BATH_CLEAR_S = 900.0
"""It no longer does once there is this much time left [s]."""
NEVER_COLD_S = 300.0
"""A bath still above its limit this long after the pour will not get there by itself [s]."""

_PROBE_ALARMS: Mapping[str, tuple[Quality, ...]] = {
    "probe-silent": (Quality.SILENT,),
    "probe-fault": (Quality.FAULT, Quality.IMPLAUSIBLE),
}


@dataclass(slots=True)
class Causes:
    """Keeps what has a memory: an alarm's condition must not flicker.

    Args:
        poured_at: run time at which the mix went into the bowl [s].
        reached_round: the last round whose plateau was announced.
    """

    poured_at: float | None = None
    reached_round: int = 0
    _over: bool = False
    _wants_recharge: bool = False

    def reached(self, stages: Stages) -> bool:
        """Whether the plateau of the round that is going on has been announced."""
        return stages.round > 0 and self.reached_round == stages.round

    def recharged(self) -> None:
        """Take in that ice or salt went into the bath: the next forecast decides anew."""
        self._wants_recharge = False

    @staticmethod
    def probes(t: float, qualities: Mapping[str, Quality], bank: ProbeBank) -> dict[str, Cause]:
        """Alarms about probes at run time `t` [s]."""
        found = {}
        for code, bad in _PROBE_ALARMS.items():
            names = tuple(name for name, quality in qualities.items() if quality in bad)
            if names:
                text = " ".join(bank.reason(name, t) for name in names)
                found[code] = Cause(text, {"probe": ", ".join(names)}, names)
        return found

    def round(
        self,
        t: float,
        estimator: Estimator,
        estimate: Estimate,
        stages: Stages,
        forecasts: Mapping[Event, Forecast],
        bowls: BowlSetup,
    ) -> dict[str, Cause]:
        """Alarms about mix and bath at run time `t` [s]."""
        found = {}
        self._over = estimator.p_over(t) > (P_NOT_OVER if self._over else P_OVER)
        if self._over or self.reached(stages):
            found["plateau-reached"] = advice.stop_beating(estimate)
        limit_c = estimator.bath_limit_c
        if limit_c is not None:
            self._wants_recharge = self._bath_gives_out(t, limit_c, estimate, stages, forecasts)
            if self._wants_recharge:
                found["bath-limit-near"] = advice.add_ice_and_salt(
                    estimate, limit_c, forecasts.get(Event.BATH_LIMIT), bowls
                )
        return found

    def _bath_gives_out(
        self,
        t: float,
        limit_c: float,
        estimate: Estimate,
        stages: Stages,
        forecasts: Mapping[Event, Forecast],
    ) -> bool:
        """Whether the bath will be too warm before the maker can have fetched ice and salt."""
        if estimate.bath_c is None or self.poured_at is None:
            return False
        if stages.stage is Stage.BEAT and self.reached(stages):
            return False
        ahead = forecasts.get(Event.BATH_LIMIT)
        if ahead is None:
            return estimate.bath_c >= limit_c and t - self.poured_at > NEVER_COLD_S
        if ahead.p50 is None:
            return False
        plateau = forecasts.get(Event.PLATEAU)
        ends = None if plateau is None else plateau.p90
        if ends is not None and ends < (ahead.p10 or ahead.p50):
            return False
        return ahead.p50 - t < (BATH_CLEAR_S if self._wants_recharge else BATH_LEAD_S)
