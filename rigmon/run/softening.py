"""What speaks for ending a rest, and for ending a later round before what was beaten melts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import Stage
from rigmon.run.alarmrule import Trip
from rigmon.run.alarms import Cause, trips
from rigmon.run.causes import Seen

DIP_K = 0.15
"""A mix that has fallen by this much since the round began has its frozen lining stirred in [K]
(own choice, on simulated rigs)."""
NO_DIP_S = 120.0
"""A round in which no dip is seen has none to come after this long [s] (own estimate: a lining is
stirred in within half a minute to a minute and a half)."""


@dataclass(slots=True)
class Softening:
    """A later round's dip and its turning point; what was said stands until the round is over.

    Args:
        trips: figures held against their set points, by code.
        armed: whether the dip has been seen.
    """

    trips: Mapping[str, Trip] = field(default_factory=lambda: trips({}))
    armed: bool = False
    _round: int = 0
    _began: tuple[float, float | None] = (0.0, None)
    _told: bool = False

    def at(self, seen: Seen) -> dict[str, Cause]:
        """What speaks just now."""
        stages, speech = seen.stages, seen.speech
        if self.trips["rest-over"].past(seen.p_rested if stages.stage is Stage.REST else None):
            again = speech.say("Wall and middle together, it has frozen as far as a rest should.")
            return {"rest-over": Cause(again, {"do": "beat-again"})}
        if stages.stage is not Stage.BEAT or stages.round < 2 or not stages.batch.beating:
            return {}
        self._look(seen)
        trip = self.trips["melt-onset"]
        self._told = trip.past(seen.p_melting if self.armed else None) or self._told
        if not self._told:
            return {}
        why = speech.say("It has been at its stiffest: from here on beating only melts it.")
        return {"melt-onset": Cause(why, {"do": "pack"})}

    def _look(self, seen: Seen) -> None:
        """Look for the dip that the frozen lining makes as it is stirred in."""
        mix_c = seen.estimate.mix_c
        if seen.stages.round != self._round:
            self._round, self.armed, self._told = seen.stages.round, False, False
            self._began = seen.t, mix_c
        begun_s, warmest_c = self._began
        if mix_c is not None:
            warmest_c = mix_c if warmest_c is None else max(warmest_c, mix_c)
            self.armed = self.armed or warmest_c - mix_c >= DIP_K
        self.armed = self.armed or seen.t - begun_s >= NO_DIP_S
        self._began = begun_s, warmest_c
