"""What speaks for each alarm just now, from the estimate, the forecasts and the probes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rigmon.records import BowlSetup, Estimate, Event, Forecast, Quality, Stage
from rigmon.run import advice
from rigmon.run.alarms import Cause
from rigmon.run.probebank import ProbeBank
from rigmon.run.stages import Stages

P_OVER = 0.7
"""The plateau counts as reached above this probability ..."""
P_NOT_OVER = 0.35
"""... and no longer counts as reached below this one."""
BATH_LEAD_S = 600.0
"""A bath that will pass its limit within this time wants a recharge [s] (own choice: fetching and
weighing ice takes five to ten minutes)."""
BATH_CLEAR_S = 900.0
"""It no longer does once there is this much time left [s] ..."""
BATH_CLEAR_K = 0.5
"""... or, if it had passed its limit, once it is this far below it again [K]."""
NEVER_COLD_S = 300.0
"""A bath still above its limit this long after the pour will not get there by itself [s]."""
RECHARGE_WORKS_S = 240.0
"""Ice and salt have this long to work before more is asked for [s] (common practice, no source:
three to five minutes)."""

_PROBE_ALARMS: Mapping[str, tuple[Quality, ...]] = {
    "probe-silent": (Quality.SILENT,),
    "probe-fault": (Quality.FAULT, Quality.IMPLAUSIBLE),
}


def of_probes(t: float, qualities: Mapping[str, Quality], bank: ProbeBank) -> dict[str, Cause]:
    """What speaks for the alarms about probes at run time `t` [s]."""
    found = {}
    for code, bad in _PROBE_ALARMS.items():
        names = tuple(name for name, quality in qualities.items() if quality in bad)
        if names:
            text = " ".join(bank.reason(name, t) for name in names)
            found[code] = Cause(text, {"probe": ", ".join(names)}, names)
    return found


@dataclass(slots=True)
class RoundCauses:
    """What speaks for the alarms about mix and bath; it remembers, so that none flickers.

    Args:
        told_round: the last round whose plateau was announced.
        recharged_s: run time of the last recharge [s].
    """

    told_round: int = 0
    recharged_s: float | None = None
    _over: bool = False
    _gives_out: bool = False

    def told(self, stages: Stages) -> bool:
        """Whether the plateau of the round that is going on has been announced."""
        return stages.round > 0 and self.told_round == stages.round

    def recharged(self, t: float) -> None:
        """Take in that ice or salt went into the bath."""
        self.recharged_s, self._gives_out = t, False

    def at(
        self,
        t: float,
        p_over: float,
        limit_c: float | None,
        estimate: Estimate,
        stages: Stages,
        forecasts: Mapping[Event, Forecast],
        bowls: BowlSetup,
    ) -> dict[str, Cause]:
        """What speaks at run time `t` [s].

        Args:
            t: run time [s].
            p_over: probability that the plateau is here.
            limit_c: the bath limit [°C], if known.
            estimate: mix and bath.
            stages: where the run stands.
            forecasts: the newest forecasts.
            bowls: the two bowls.
        """
        found = {}
        self._over = p_over > (P_NOT_OVER if self._over else P_OVER)
        if self._over or self.told(stages):
            found["plateau-reached"] = advice.stop_beating(estimate)
        if limit_c is not None:
            ahead = forecasts.get(Event.BATH_LIMIT)
            plateau = forecasts.get(Event.PLATEAU)
            self._gives_out = self._bath_gives_out(t, limit_c, estimate, stages, ahead, plateau)
            if self._gives_out:
                found["bath-limit-near"] = advice.add_ice_and_salt(estimate, limit_c, ahead, bowls)
        return found

    def _bath_gives_out(
        self,
        t: float,
        limit_c: float,
        estimate: Estimate,
        stages: Stages,
        ahead: Forecast | None,
        plateau: Forecast | None,
    ) -> bool:
        """Whether the bath will be too warm before the maker can have fetched ice and salt."""
        poured_s = stages.batch.poured_s
        if estimate.bath_c is None or poured_s is None or not stages.batch.in_bath:
            return False
        if stages.stage is Stage.BEAT and self.told(stages):
            return False
        if self.recharged_s is not None and t - self.recharged_s < RECHARGE_WORKS_S:
            return False
        if estimate.bath_c >= limit_c - (BATH_CLEAR_K if self._gives_out else 0.0):
            return t - poured_s > NEVER_COLD_S
        if ahead is None or ahead.p50 is None:
            return False
        soonest = ahead.p50 if ahead.p10 is None else ahead.p10
        if plateau is not None and plateau.p90 is not None and plateau.p90 < soonest:
            return False
        return ahead.p50 - t < (BATH_CLEAR_S if self._gives_out else BATH_LEAD_S)
