"""Probes in a bath that is to stand still: when they do, and what to say while they do not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from rigmon.probes.converter import linearised
from rigmon.probes.fingerprint import Sight, Straight, straight
from rigmon.probes.steadiness import WINDOWS_S, Steadiness, settled
from rigmon.records import WIRE_CLASSES, Converter, ProbeSetup, Reading, Unit, tolerance_k
from rigmon.units import temperature

CHIP_K = 2.0
"""What a converter may add to the wire's tolerance, its cold junction included [K] (data sheets of
common chips)."""

OTHER_K = 2.0
"""Tolerance of a probe that is no thermocouple [K] (own choice)."""


_LATELY = 60
"""Readings over which the board's own temperature and what it reports are averaged."""


_SILENT_S = 60.0
"""A probe that has not been heard of while another was for so long is not waited for [s]."""


class Stand(StrEnum):
    """How a probe stands in its bath."""

    STILL = "still"
    FEW = "few"
    MOVES = "moves"
    RESTLESS = "restless"
    AWAY = "away"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Watched:
    """One probe, as it stands now.

    Args:
        stand: how.
        text: a sentence on it.
        steady: what its newest readings show; None while they are too few.
        cj_c: mean temperature of its board [°C], where that is sent.
        reported_c: mean of what the board sent, nothing undone [°C]; None where it sends mV.
    """

    stand: Stand
    text: str
    steady: Steadiness | None = None
    cj_c: float | None = None
    reported_c: float | None = None


def far_k(probe: ProbeSetup, true_c: float) -> float:
    """A probe that reads farther off than this is not where it should be [K]: class 2 and chip.

    >>> from rigmon.records import Place
    >>> far_k(ProbeSetup("bath", Place.BATH, type="T"), 0.0)
    3.0
    """
    return CHIP_K + wire_k(probe, true_c, 2)


def wire_k(probe: ProbeSetup, true_c: float, wire_class: int) -> float:
    """Tolerance of a probe's wire [K], or what is taken for that of another kind of probe."""
    if probe.type not in WIRE_CLASSES:
        return OTHER_K
    return tolerance_k(probe.type, wire_class, max(true_c, -40.0))


class Settling:
    """Watches the readings of probes that sit in one bath, until all stand still.

    Args:
        probes: the probes, by name.
        true_c: the bath's temperature [°C]; None where it is not known.
        anyway: take a probe that reads too far off as well.
    """

    def __init__(
        self, probes: Mapping[str, ProbeSetup], true_c: float | None, *, anyway: bool = False
    ) -> None:
        self._probes = dict(probes)
        self._true_c = true_c
        self._anyway = anyway
        self._times: dict[str, list[float]] = {name: [] for name in probes}
        self._values: dict[str, list[float]] = {name: [] for name in probes}
        self._boards: dict[str, list[float]] = {name: [] for name in probes}
        self._reported: dict[str, list[float]] = {name: [] for name in probes}
        self._problem: dict[str, str] = {}

    def feed(self, reading: Reading) -> None:
        """Take in a reading as it came; one of another probe is passed over."""
        probe = self._probes.get(reading.probe)
        if probe is None or reading.by == "hand":
            return
        found = linearised(reading, probe)
        times, values = self._times[probe.name], self._values[probe.name]
        if found.c is None:
            if reading.fault is not None:
                self._problem[probe.name] = (
                    f"{probe.name} says {reading.fault.value}: look at its plug"
                )
            elif found.problem:
                self._problem[probe.name] = found.problem.rstrip(".")
            return
        self._problem.pop(probe.name, None)
        if times and reading.t <= times[-1]:
            return
        times.append(reading.t)
        values.append(found.c)
        if reading.unit is Unit.CELSIUS and reading.value is not None:
            self._reported[probe.name].append(reading.value)
        if reading.cj_c is not None:
            self._boards[probe.name].append(reading.cj_c)
        since = reading.t - 1.02 * WINDOWS_S[-1]
        while times[0] < since:
            del times[0], values[0]

    def watched(self, name: str) -> Watched:
        """How a probe stands now."""
        times, values = self._times[name], self._values[name]
        if name in self._problem:
            return Watched(Stand.BROKEN, self._problem[name])
        if not times:
            waited_s = max((t[-1] - t[0] for t in self._times.values() if t), default=0.0)
            if waited_s > _SILENT_S:
                return Watched(Stand.BROKEN, f"{name} has sent nothing")
            return Watched(Stand.FEW, f"{name} has sent nothing yet")
        cj_c = _mean(self._boards[name][-_LATELY:])
        reported_c = _mean(self._reported[name][-_LATELY:])
        steady = settled(times, values)
        now = temperature(values[-1], digits=2)
        if steady is None:
            left_s = WINDOWS_S[0] - (times[-1] - times[0])
            more = f"{left_s:.0f} s more are needed" if left_s > 0.0 else "too few readings"
            return Watched(Stand.FEW, f"{name} {now}, {more}", None, cj_c, reported_c)
        return Watched(*self._judged(name, now, steady), steady, cj_c, reported_c)

    def _judged(self, name: str, now: str, steady: Steadiness) -> tuple[Stand, str]:
        probe = self._probes[name]
        over_min = steady.over_s / 60.0
        if self._true_c is not None and not self._anyway:
            off_k = steady.mean_c - self._true_c
            if abs(off_k) > far_k(probe, self._true_c):
                return Stand.AWAY, (
                    f"{name} {now}, {abs(off_k):.1f} K from {temperature(self._true_c)}: look "
                    "whether it is in the bath, and at its type"
                )
        if steady.still:
            return Stand.STILL, (
                f"{name} stands still at {temperature(steady.mean_c, digits=2)} "
                f"({steady.readings} readings in {over_min:.0f} min)"
            )
        way = "rises" if steady.drift_k > 0.0 else "falls"
        rate = abs(steady.drift_k) / over_min
        if steady.moves:
            return Stand.MOVES, f"{name} {now}, {way} by {rate:.2f} K a minute"
        return Stand.RESTLESS, (
            f"{name} {now}, scatters by {steady.scatter_k:.2f} K: a longer look is needed"
        )


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None


def spread_text(steady: Mapping[str, Steadiness], probes: Mapping[str, ProbeSetup]) -> str:
    """A sentence where probes of one bath part by more than their wires may; "" else."""
    if len(steady) < 2:
        return ""
    low = min(steady, key=lambda name: steady[name].mean_c)
    high = max(steady, key=lambda name: steady[name].mean_c)
    apart_k = steady[high].mean_c - steady[low].mean_c
    both_k = sum(wire_k(probes[name], steady[name].mean_c, 2) for name in (low, high))
    if apart_k <= both_k:
        return ""
    return (
        f"{high} reads {apart_k:.1f} K more than {low}, and wire of class 2 allows {both_k:.1f} K: "
        "they do not sit in the same bath, or one has another type than configured."
    )


def level_text(probe: ProbeSetup, watched: Watched, true_c: float) -> str:
    """A sentence where a probe stands still farther off than good wire does; "" else."""
    if watched.steady is None:
        return ""
    off_k = watched.steady.mean_c - true_c
    within_k = wire_k(probe, true_c, 2)
    if abs(off_k) <= within_k:
        return ""
    way = "warmer" if off_k > 0.0 else "colder"
    return (
        f"{probe.name} is {abs(off_k):.1f} K {way} than the bath should be; class 2 wire allows "
        f"{within_k:.1f} K. Look at the bath first, then at its plug and its board."
    )


def chip_text(probe: ProbeSetup, sights: Sequence[Sight]) -> str:
    """A sentence where the converter is set wrong, as what it reported shows; "" else.

    Args:
        probe: the probe.
        sights: what its board reported, nothing undone, and the truth.
    """
    found = straight(sights, probe.type)
    line = probe.converter is Converter.STRAIGHT_LINE
    read = ", ".join(f"{temperature(one.read_c)} at {temperature(one.true_c)}" for one in sights)
    if found is Straight.YES and not line:
        return (
            f"{probe.name} reads {read}: so errs a chip that takes type {probe.type} for a "
            'straight line. No offset mends that: set converter = "straight-line" and let the '
            f"board send {probe.name}/cj."
        )
    if found is Straight.NO and line:
        return (
            f"{probe.name} is sent as {read}: its board linearises already. Take out converter = "
            '"straight-line".'
        )
    return ""
