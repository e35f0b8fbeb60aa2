"""What speaks of tubs in the freezer: its air, its door, crystals that grow, the hard core."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.estimate.hardening import HARDENED_C
from rigmon.records import Place, Stage
from rigmon.run.alarmrule import Trip
from rigmon.run.alarms import Cause, trips
from rigmon.run.causes import Seen

COARSENS_C = (-12.0, -6.0)
"""Between these a core's ice crystals grow fastest [°C] (common practice, no source)."""
SETTLES_S = 3600.0
"""The freezer's air is warmed by the tubs themselves for so long [s] (own choice)."""
RECOVERS_K = 1.0
"""Air that has come down by this from its warmest is closed in again [K] (own choice)."""
USUAL_OVER_S = 3600.0
"""What is usual for the freezer's air is its mean over about this long [s] (own choice: longer
than one cycle of its compressor)."""


@dataclass(slots=True)
class FreezerCauses:
    """What speaks for the alarms and notices about tubs that harden.

    Args:
        trips: figures held against their set points, by code.
        coarse_s: time that the core has spent where crystals grow [s].
        usual_c: the freezer's air as it usually is [°C]; None before it was read.
    """

    trips: Mapping[str, Trip] = field(default_factory=lambda: trips({}))
    coarse_s: float = 0.0
    usual_c: float | None = None
    _air: tuple[float, float] | None = None
    _warmest_c: float = -math.inf
    _core: tuple[float, float] | None = None
    _begun_s: float | None = None

    def feed(self, place: Place, t: float, c: float) -> None:
        """Take in an accepted reading [°C]."""
        if place is Place.FREEZER:
            self._read_air(t, c)
        elif place is Place.CORE:
            if self._core is not None and COARSENS_C[0] < c < COARSENS_C[1]:
                self.coarse_s += max(t - self._core[0], 0.0)
            self._core = t, c

    def _read_air(self, t: float, c: float) -> None:
        if self._air is None or self.usual_c is None:
            self.usual_c = c
        elif not self.trips["door-open"].holds:
            self.usual_c += (c - self.usual_c) * -math.expm1(-(t - self._air[0]) / USUAL_OVER_S)
        self._air = t, c

    def at(self, seen: Seen) -> dict[str, Cause]:
        """What speaks just now."""
        if seen.stages.stage is not Stage.HARDEN:
            self._begun_s, self.coarse_s = None, 0.0
            return {}
        self._begun_s = seen.t if self._begun_s is None else self._begun_s
        speech = seen.speech
        found = {
            "flat-hours": Cause(
                speech.say("The core will hardly move for the first hours: that is normal.")
            )
        }
        return found | self._of_the_air(seen) | self._of_the_core(seen)

    def _of_the_air(self, seen: Seen) -> dict[str, Cause]:
        found: dict[str, Cause] = {}
        if self._air is None or self.usual_c is None or self._begun_s is None:
            return found
        speech, air_c = seen.speech, self._air[1]
        read = speech.temperature(air_c)
        risen = self.trips["door-open"].past(air_c - self.usual_c)
        self._warmest_c = max(self._warmest_c, air_c) if risen else -math.inf
        if risen and air_c > self._warmest_c - RECOVERS_K:
            usual = speech.temperature(self.usual_c)
            found["door-open"] = Cause(
                speech.say("Its air has warmed from {usual} to {air}.", usual=usual, air=read)
            )
        settled = seen.t - self._begun_s >= SETTLES_S
        if settled and self.trips["freezer-warm"].past(air_c) and "door-open" not in found:
            found["freezer-warm"] = Cause(
                speech.say("Its air has been warm for long, now {air}. Is its power on?", air=read)
            )
        return found

    def _of_the_core(self, seen: Seen) -> dict[str, Cause]:
        if self._core is None:
            return {}
        speech, core_c = seen.speech, self._core[1]
        if core_c <= HARDENED_C:
            hard = speech.say("Hard: the core is at {core}.", core=speech.temperature(core_c))
            return {"hardened": Cause(hard)}
        coarse = self.trips["coarsening"].past(self.coarse_s / 60.0)
        if not coarse or not COARSENS_C[0] < core_c < COARSENS_C[1]:
            return {}
        low, high = (speech.temperature(c, 0) for c in COARSENS_C)
        why = speech.say(
            "The core has been between {high} and {low} for {hours} h: its crystals grow.",
            high=high,
            low=low,
            hours=f"{self.coarse_s / 3600.0:.0f}",
        )
        return {"coarsening": Cause(why)}
