"""The probes of one rig: each reading corrected and screened, each probe's worth kept in view."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rigmon.probes.converter import converted
from rigmon.probes.screen import LIMITS_C, Screen
from rigmon.records import (
    Place,
    ProbeSeen,
    ProbeSetup,
    Quality,
    Reading,
    RigSetup,
    Stage,
    Unit,
    place_of,
)
from rigmon.run.speech import Speech
from rigmon.texts import marked

_BOWLS = frozenset({Place.BATH, Place.MIX, Place.WALL, Place.ROOM})
_FREEZER = frozenset({Place.CORE, Place.FREEZER, Place.ROOM})
IN_USE: Mapping[Stage, frozenset[Place]] = {
    Stage.BASE: frozenset({Place.MIX, Place.CORE, Place.ROOM}),
    Stage.READY: _BOWLS,
    Stage.BEAT: _BOWLS,
    Stage.REST: _BOWLS | {Place.FREEZER},
    Stage.PACK: frozenset(),
    Stage.HARDEN: _FREEZER,
    Stage.DONE: frozenset(),
}
"""Where probes are looked at in each stage; a probe pulled out of a packed mix is not missed."""

QUIET_S: Mapping[Stage, float] = {
    Stage.BASE: 300.0,
    Stage.READY: 10.0,
    Stage.BEAT: 5.0,
    Stage.REST: 90.0,
    Stage.PACK: 600.0,
    Stage.HARDEN: 900.0,
    Stage.DONE: 600.0,
}
"""A probe may say nothing for this long before it is missed [s]: boards sample more slowly in the
freezer (own choice: a tenth of what it takes for anything to happen)."""

_PASSED_OVER = marked(
    "Readings of {name!r} are passed over: no probe of that name is configured, and the name does "
    "not say where it sits."
)
_OTHER = {Place.BATH: Place.MIX, Place.MIX: Place.BATH}
HAND_SD_K = 0.5
"""Standard uncertainty of a value read off a hand-held thermometer and typed in [K] (common
practice, no source)."""


@dataclass(slots=True)
class _Probe:
    setup: ProbeSetup
    screen: Screen
    problem: str = ""
    rejected: int = 0
    readings: int = 0
    newest_s: float = float("-inf")
    value_c: float | None = None
    value_s: float | None = None


class ProbeBank:
    """Corrects and screens the readings of one rig.

    Args:
        setup: the rig.
        speech: the maker's language and units.
    """

    def __init__(self, setup: RigSetup, speech: Speech | None = None) -> None:
        self._speech = speech or Speech()
        self._setups = {probe.name: probe for probe in setup.probes}
        self._heard: dict[str, _Probe] = {}
        self.swapped = False
        """Whether the probes of bath and mix are read as each other."""
        self._passed_over: set[str] = set()
        self._late = 0

    def place(self, name: str) -> Place | None:
        """Where a probe sits; None for one that is not known."""
        setup = self._setup(name)
        return None if setup is None else self._sits_in(setup)

    def _sits_in(self, setup: ProbeSetup) -> Place:
        return _OTHER.get(setup.sits_in, setup.sits_in) if self.swapped else setup.sits_in

    def alone(self) -> bool:
        """Whether one probe each has been heard of in bath and mix, so that they can be swapped."""
        heard = [probe.setup.sits_in for probe in self._heard.values()]
        return heard.count(Place.BATH) == heard.count(Place.MIX) == 1

    def _setup(self, name: str) -> ProbeSetup | None:
        if name in self._setups:
            return self._setups[name]
        place = place_of(name)
        return None if place is None else ProbeSetup(name, place, type="other")

    def feed(
        self, reading: Reading, *, beating: bool = False, in_mix: bool = False
    ) -> tuple[Reading | None, str]:
        """Take in a raw reading.

        A late one is judged among its probe's newest and keeps its own time.

        Args:
            reading: as it came in.
            beating: whether the mix is being beaten, so that an honest mix probe moves.
            in_mix: whether a mix probe should sit in the mix in its bowl.

        Returns:
            The accepted reading, corrected, in °C or W; None if it is rejected. And a sentence
            that is new to the maker, or "".
        """
        probe = self._heard.get(reading.probe)
        if probe is None:
            setup = self._setup(reading.probe)
            if setup is None:
                return None, self._unknown(reading.probe)
            if setup.sits_in is Place.MIXER:
                return (reading, "") if reading.unit is Unit.WATT else (None, "")
            probe = _Probe(setup, Screen(setup.sits_in, setup.name))
            self._heard[reading.probe] = probe
        place = self._sits_in(probe.setup)
        probe.readings += 1
        self._late += reading.t < probe.newest_s
        probe.newest_s = max(probe.newest_s, reading.t)
        temperature = converted(reading, probe.setup)
        known = temperature.problem == probe.problem
        news = "" if known else self._speech.retold(temperature.problem)
        probe.problem = temperature.problem
        low_c, high_c = LIMITS_C[place]
        c = temperature.c
        if reading.by == "hand" and c is not None and not low_c <= c <= high_c:
            c = None  # The screen takes a typed value as it is.
        screened = probe.screen.feed(
            probe.newest_s,
            c,
            reading.fault,
            reading.by,
            temperature.problem,
            beating and place is Place.MIX,
            in_mix and place is Place.MIX,
        )
        if screened.c is None:
            probe.rejected += 1
            return None, news
        if probe.value_s is None or reading.t >= probe.value_s:
            probe.value_c, probe.value_s = screened.c, reading.t
        sd_k = HAND_SD_K if reading.by == "hand" and reading.sd_k is None else reading.sd_k
        return replace(reading, value=screened.c, unit=Unit.CELSIUS, cj_c=None, sd_k=sd_k), news

    def _unknown(self, name: str) -> str:
        if name in self._passed_over:
            return ""
        self._passed_over.add(name)
        return self._speech.say(_PASSED_OVER, name=name)

    def qualities(self, t: float, stage: Stage) -> dict[str, Quality]:
        """What each probe that has been heard of and is in use is worth at `t` [s]."""
        found = {}
        for name, probe in self._heard.items():
            if self._sits_in(probe.setup) not in IN_USE[stage]:
                continue
            quality = probe.screen.quality(t)
            if quality is Quality.SILENT and t - probe.newest_s < QUIET_S[stage]:
                quality = Quality.GOOD
            found[name] = quality
        return found

    def reason(self, name: str, t: float) -> str:
        """What is wrong with a probe at `t` [s] and what to look at; "" if nothing is."""
        return self._speech.retold(self._heard[name].screen.reason(t))

    def seen(self, t: float, qualities: Mapping[str, Quality]) -> dict[str, ProbeSeen]:
        """The probes of these names as they were last seen, at `t` [s]."""
        found = {}
        for name, quality in qualities.items():
            probe = self._heard[name]
            why = "" if quality is Quality.GOOD else self.reason(name, t)
            place = self._sits_in(probe.setup)
            found[name] = ProbeSeen(place, probe.value_c, probe.value_s, why)
        return found

    def newest(self, name: str, stage: Stage) -> ProbeSeen | None:
        """A probe's newest accepted value; None if it has none, or is not in use in this stage."""
        probe = self._heard.get(name)
        if probe is None or probe.value_c is None:
            return None
        place = self._sits_in(probe.setup)
        return ProbeSeen(place, probe.value_c, probe.value_s) if place in IN_USE[stage] else None

    def counts(self) -> dict[str, int]:
        """Readings, rejected readings and late readings so far."""
        return {
            "readings": sum(p.readings for p in self._heard.values()),
            "rejected": sum(p.rejected for p in self._heard.values()),
            "late": self._late,
        }
