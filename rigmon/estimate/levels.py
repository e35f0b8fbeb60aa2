"""What the probes say just now, place by place, and what they have said."""

from __future__ import annotations

from rigmon.estimate.blocks import BLOCK_S, Blocks
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
        self._newest: dict[Place, tuple[float, float]] = {}
        self.blocks = {place: Blocks() for place in Place}
        self.sd_k = dict.fromkeys(Place, _PROBE_SD)
        """Standard uncertainty of the surest probe of each place [K]."""
        for place in set(self._places.values()):
            known = (probe.uncertainty_k for probe in probes if probe.sits_in is place)
            self.sd_k[place] = min(known)

    def place(self, probe: str, place: Place) -> None:
        """Say where a probe sits that the configuration does not name."""
        self._places[probe] = place

    def take(self, reading: Reading) -> Place | None:
        """Take in an accepted reading; returns its place, None where it says no temperature."""
        place = self._places.get(reading.probe)
        if place is None or reading.value is None or place is Place.MIXER:
            return None
        weight = (_SURE_K / max(reading.sd_k or 0.0, _SURE_K)) ** 2
        self.blocks[place].add(reading.t, reading.value, weight)
        if place not in self._newest or reading.t >= self._newest[place][0]:
            self._newest[place] = (reading.t, reading.value)
        return place

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
