"""What the probes say just now, place by place, and what they have said."""

from __future__ import annotations

import math

from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.together import Together
from rigmon.records import Place, ProbeSetup, Reading

_PROBE_SD = 0.5
"""Standard uncertainty of a probe that the configuration does not name [K]."""
_SURE_K = 0.2
"""A reading no surer than this counts in full [K]."""
_FRESH_S = 10.0
"""A temperature older than this is not the present one [s] ..."""
_FRESH_GAPS = 3.0
"""... or, where readings are sparse, older than this many of their usual distances."""


class Levels:
    """Temperatures by place.

    Args:
        probes: the probes that the configuration names.
    """

    def __init__(self, probes: tuple[ProbeSetup, ...]) -> None:
        self._places = {probe.name: probe.sits_in for probe in probes}
        self._probe_sd = {probe.name: probe.uncertainty_k for probe in probes}
        self._newest: dict[Place, tuple[float, float]] = {}
        self._together = {place: Together() for place in Place}
        self.blocks = {place: probes.blocks for place, probes in self._together.items()}
        self.sd_k = dict.fromkeys(Place, _PROBE_SD)
        """Standard uncertainty of each place's mean, that of its surest probe at first [K]."""
        for place in set(self._places.values()):
            known = (probe.uncertainty_k for probe in probes if probe.sits_in is place)
            self.sd_k[place] = min(known)

    def place(self, probe: str, place: Place) -> None:
        """Say where a probe sits that the configuration does not name."""
        self._places[probe] = place

    def take(self, reading: Reading) -> Place | None:
        """Take in an accepted reading [°C, of the mixer W]; returns its place, if it has one."""
        place = self._places.get(reading.probe)
        if place is None or reading.value is None:
            return None
        weight = (_SURE_K / max(reading.sd_k or 0.0, _SURE_K)) ** 2
        value = self._together[place].add(reading.probe, reading.t, reading.value, weight)
        self.sd_k[place] = self._sd(place)
        if value is not None and reading.t >= self._newest.get(place, (-math.inf,))[0]:
            self._newest[place] = (reading.t, value)
        return place

    def swap(self, since_s: float) -> None:
        """The probes of bath and mix have sat in each other's place since `since_s` [s]."""
        other = {Place.BATH: Place.MIX, Place.MIX: Place.BATH}
        self._places = {name: other.get(place, place) for name, place in self._places.items()}
        self.blocks[Place.BATH].exchange(self.blocks[Place.MIX], since_s)
        newest, sd_k = self._newest, self.sd_k
        for place in other:
            # What is known of each probe beside its fellows belonged to the other place.
            self._together[place] = Together(self.blocks[place])
        self.sd_k = {place: sd_k[other.get(place, place)] for place in sd_k}
        self._newest = {other.get(place, place): value for place, value in newest.items()}

    def count(self, place: Place) -> int:
        """How many probes a place has that still speak."""
        return len(self._together[place].alive)

    def _sd(self, place: Place) -> float:
        """Standard uncertainty of the mean of a place's probes, each off by itself [K]."""
        known = [self._probe_sd.get(name, _PROBE_SD) for name in self._together[place].alive]
        return math.hypot(*known) / len(known)

    def newest(self, place: Place) -> float | None:
        """The newest temperature of a place, however old [°C]; None if there was none."""
        return self._newest[place][1] if place in self._newest else None

    def level(self, place: Place, t: float) -> float | None:
        """Mean of the last seconds [°C], or the newest where readings are sparse; None if old."""
        newest = self._newest.get(place)
        if newest is None:
            return None
        mean = self.blocks[place].mean_of_last(t, BLOCK_S)
        if mean is not None:
            return mean
        fresh_s = max(_FRESH_S, _FRESH_GAPS * self.blocks[place].usual_gap_s())
        return newest[1] if t - newest[0] <= fresh_s else None
