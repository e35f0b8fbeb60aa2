"""What speaks of a cooked base: that it has been held hot, cools too slowly, is cold."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.estimate.basecooling import BaseState
from rigmon.physics.foodsafety import COLD_WITHIN_S, COOLING_FROM_C, FIRST_STAGE_C, FIRST_STAGE_S
from rigmon.run.alarms import Cause
from rigmon.run.speech import Speech
from rigmon.texts import marked

ACT_LEAD_S = 3600.0
"""A base that would come too late is spoken of once so little time is left to act [s] (own choice:
most makers let it stand for a while and mean to move it)."""
P_LATE, P_NOT_LATE = 0.5, 0.25
"""It counts as too slow above the first probability, and no longer below the second."""
_LOCAL = marked("Local rules come first.")


@dataclass(slots=True)
class BaseCauses:
    """What speaks for the alarm and the notices about a base; it remembers, so none flickers."""

    _slow: bool = False

    def at(self, base: BaseState, speech: Speech) -> dict[str, Cause]:
        """What speaks just now, in the maker's language and units."""
        found, local = {}, speech.say(_LOCAL)
        if base.held >= 1.0:
            hot = speech.say(
                "The base has been as hot for as long as a printed rule for dessert mix asks, where"
                " its probe sits."
            )
            found["base-pasteurised"] = Cause(f"{hot} {local}")
        if base.cold:
            cold = speech.say("The base is cold enough to pour.")
            found["base-cold"] = Cause(f"{cold} {local}")
        slow = self._too_slow(base, speech)
        return found if slow is None else {**found, "base-cooling-slow": slow}

    def _too_slow(self, base: BaseState, speech: Speech) -> Cause | None:
        deadline_s, act_by_s, goal_c = base.deadline_s, base.act_by_s, base.goal_c
        if deadline_s is None or act_by_s is None or goal_c is None:
            self._slow = False
            return None
        passed = base.t >= deadline_s
        likely = base.p_late > (P_NOT_LATE if self._slow else P_LATE)
        self._slow = passed or (likely and base.t >= act_by_s - ACT_LEAD_S)
        if not self._slow:
            return None
        within_h = (FIRST_STAGE_S if goal_c == FIRST_STAGE_C else COLD_WITHIN_S) / 3600.0
        rule = {
            "goal": speech.temperature(goal_c, 0),
            "hours": f"{within_h:g}",
            "start": speech.temperature(COOLING_FROM_C, 0),
        }
        if passed:
            why = speech.say(
                "The base was not at {goal} within {hours} h of {start}; what is to become of it"
                " your local rules say.",
                **rule,
            )
            return Cause(why, {"do": "cool-faster", "p_late": 1.0})
        left_s = act_by_s - base.t
        if left_s > 0.0:
            time = speech.minutes(left_s)
            call = speech.say("Cool the base faster: ice and water within {time}, stir", time=time)
        else:
            call = speech.say("Cool the base faster: ice and water now, stir")
        why = speech.say(
            "As it cools now it will hardly be at {goal} within {hours} h of {start}.", **rule
        )
        return Cause(
            f"{why} {speech.say(_LOCAL)}",
            {
                "do": "cool-faster",
                "left_min": round(left_s / 60.0),
                "p_late": round(base.p_late, 2),
            },
            call=call,
        )
