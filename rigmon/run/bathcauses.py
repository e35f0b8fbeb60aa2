"""What speaks of the bath beside its limit: a recharge that did not work, ice gone, round 2."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import Event, Stage
from rigmon.run import advice, bathcases
from rigmon.run.alarmrule import Trip
from rigmon.run.alarms import Cause, trips
from rigmon.run.causes import RECHARGE_WORKS_S, Seen


@dataclass(slots=True)
class BathCauses:
    """What speaks for the alarms about the bath; it remembers what went into it.

    Args:
        trips: figures held against their set points, by code.
        ice_g: all ice put in [g]; None once some was not weighed.
        recharged_s: run time of the last recharge [s].
        recharged_c: the bath as it was then [°C].
        adviser: what to put into it.
    """

    trips: Mapping[str, Trip] = field(default_factory=lambda: trips({}))
    ice_g: float | None = 0.0
    recharged_s: float | None = None
    recharged_c: float | None = None
    adviser: advice.Adviser = field(default_factory=advice.Adviser)
    _asked: bool = False

    def filled(self, ice_g: float | None) -> None:
        """Take in that ice went into the bath [g]; None where it was not weighed."""
        self.ice_g = None if ice_g is None or self.ice_g is None else self.ice_g + ice_g

    def recharged(self, t: float, bath_c: float | None) -> None:
        """Take in a recharge, and the bath as it was [°C]."""
        self.recharged_s, self.recharged_c = t, bath_c
        self.adviser.forget()

    def at(self, seen: Seen, found: Mapping[str, Cause]) -> dict[str, Cause]:
        """What speaks just now.

        Args:
            seen: what is known.
            found: what speaks otherwise; a bath that is to be recharged is spoken of once.
        """
        stage, batch = seen.stages.stage, seen.stages.batch
        if stage is Stage.BEAT and "plateau-reached" in found:
            return {}
        if stage is Stage.REST and not batch.in_bath:
            return self._for_round_2(seen)
        if not batch.in_bath:
            return {}
        short = self._short(seen)
        # A maker who was asked for more ice and salt is not told to stir as well.
        self._asked = "bath-limit-near" in found and (self._asked or short is None)
        if short is not None and not self._asked:
            return {"recharge-short": short}
        if "bath-limit-near" in found or not self._ice_is_gone(seen):
            return {}
        return {"ice-gone": Cause(seen.speech.say("Next to no ice is left, and the bath warms."))}

    @property
    def short(self) -> bool:
        """Whether the last recharge has not done what it should."""
        return self.trips["recharge-short"].holds

    def _short(self, seen: Seen) -> Cause | None:
        """A recharge that has had its time and did not bring the bath down."""
        trip, speech, bath_c = self.trips["recharge-short"], seen.speech, seen.estimate.bath_c
        before_c, since_s = self.recharged_c, self.recharged_s
        if bath_c is None or before_c is None or since_s is None:
            return None
        if not RECHARGE_WORKS_S <= seen.t - since_s < 2.0 * RECHARGE_WORKS_S:
            # Sooner it has not had its time; later what is missing is ice and salt.
            trip.holds = False
            return None
        goal_c = before_c if seen.limit_c is None else min(before_c, seen.limit_c)
        if not trip.past(bath_c - goal_c):
            return None
        why = speech.say(
            "Recharged {time} ago, and it is at {bath}; it was to come below {goal}.",
            time=speech.minutes(seen.t - since_s),
            bath=speech.temperature(bath_c),
            goal=speech.temperature(goal_c),
        )
        caked_g = bathcases.caked_g(seen.estimate)
        if caked_g is not None and caked_g > advice.CAKED_G:
            how = advice.undissolved(caked_g, speech)
            return Cause(f"{why} {how}", {"do": "stir-bath"})
        return self._too_little(seen, why)

    def _too_little(self, seen: Seen, why: str) -> Cause:
        """A recharge whose salt has dissolved: what is missing, if its masses are known."""
        speech, amount = seen.speech, None
        if seen.limit_c is not None:
            amount = self.adviser.amount(seen.estimate, seen.limit_c, seen.bowls)
        how = speech.say("The ice was warm or wet, or it was too little salt.")
        if amount is None or advice.stirs(amount) or advice.hopeless(amount):
            return Cause(f"{why} {how}", {"do": "stir-bath"})
        if not amount.salt_g:
            how = speech.say("It was too little ice.")
        advised = {"do": "recharge", **advice.in_figures(amount)}
        return Cause(f"{why} {how}", advised, call=advice.added(amount, speech))

    def _ice_is_gone(self, seen: Seen) -> bool:
        left_g = seen.estimate.ice_left_g
        share = None if left_g is None or not self.ice_g else 100.0 * left_g / self.ice_g
        return self.trips["ice-gone"].past(share)

    def _for_round_2(self, seen: Seen) -> dict[str, Cause]:
        """A bath that waits without its bowl is to be cold again when the rest is over."""
        bath_c, limit_c = seen.estimate.bath_c, seen.limit_c
        soon = self.trips["bath-for-round-2"].past(seen.until(Event.REST_OVER))
        if bath_c is None or limit_c is None or bath_c < limit_c or not soon:
            return {}
        amount = self.adviser.amount(seen.estimate, limit_c, seen.bowls)
        cause = advice.add_ice_and_salt(seen.estimate, limit_c, None, amount, seen.speech)
        return {"bath-for-round-2": cause}
