"""What speaks of beating that does harm: too long after the plateau, too long while warm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import Stage
from rigmon.run.alarmrule import Trip
from rigmon.run.alarms import Cause, trips
from rigmon.run.causes import Seen

WARM_C = 5.0
"""Above this cream churns and takes up no air [°C] (common practice, no source)."""


@dataclass(slots=True)
class BeatCauses:
    """Minutes of beating that do harm, in the round that is going on.

    Args:
        trips: figures held against their set points, by code.
        warm_s: beaten above 5 °C [s].
        stiff_s: beaten after the plateau was announced [s].
    """

    trips: Mapping[str, Trip] = field(default_factory=lambda: trips({}))
    warm_s: float = 0.0
    stiff_s: float = 0.0
    _round: int = 0
    _seen_s: float | None = None

    def heeded(self) -> None:
        """Take in a scrape or a recharge: from here on the mix may stiffen again."""
        self.stiff_s = 0.0

    def at(self, seen: Seen, *, told: bool) -> dict[str, Cause]:
        """What speaks just now.

        Args:
            seen: what is known.
            told: whether the plateau of this round has been announced.
        """
        self._count(seen, told=told)
        found, speech = {}, seen.speech
        if self.trips["over-beaten"].past(self.stiff_s):
            found["over-beaten"] = Cause(
                speech.say(
                    "Beaten on for {time} since it stopped stiffening: it only gets warmer.",
                    time=speech.minutes(self.stiff_s),
                )
            )
        if self._warm(seen) and self.trips["too-warm"].past(self.warm_s):
            found["too-warm"] = Cause(
                speech.say(
                    "Beaten for {time} above {warm}: cream churns and takes up no air.",
                    time=speech.minutes(self.warm_s),
                    warm=speech.temperature(WARM_C, 0),
                )
            )
        return found

    def _count(self, seen: Seen, *, told: bool) -> None:
        stages = seen.stages
        if stages.round != self._round:
            self._round, self.warm_s, self.stiff_s = stages.round, 0.0, 0.0
        since_s = 0.0 if self._seen_s is None else seen.t - self._seen_s
        self._seen_s = seen.t
        if stages.stage is Stage.BEAT and stages.batch.beating:
            self.warm_s += since_s * self._warm(seen)
            self.stiff_s += since_s * told

    @staticmethod
    def _warm(seen: Seen) -> bool:
        mix_c = seen.estimate.mix_c
        return mix_c is not None and mix_c > WARM_C
