"""A thermocouple as it is: slow, warmed along its stem, a little off, noisy near a mixer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from numpy.random import Generator

from rigmon.records import Fault


class Medium(StrEnum):
    """What a probe's tip sits in, by how fast it follows."""

    STIRRED = "stirred"
    BRINE = "brine"
    SLUSH = "slush"
    AIR = "air"


_SLOWER = {Medium.STIRRED: 1.0, Medium.BRINE: 2.0, Medium.SLUSH: 3.0, Medium.AIR: 15.0}
"""Lag in each medium over that in stirred mix (own estimate)."""

_WANDERS = {Medium.STIRRED: 1.0, Medium.BRINE: 0.35, Medium.SLUSH: 0.15, Medium.AIR: 0.3}
"""Wander in each medium over that in stirred mix (own estimate)."""

_SPIKE_K = (2.0, 20.0)


@dataclass(frozen=True, slots=True)
class ProbeParameters:
    """One probe. Ranges are those of `draw_probe`; all of common practice, without a source.

    Args:
        lag_s: time in which it covers 63 % of a step in stirred mix [s], 2 to 4.
        stem: share of the room in what the tip feels, 0.005 to 0.015.
        touch: share of the wall in it, 0 for half of all mix probes, else 0.07 times |N(0, 1)|.
        offset_k: constant error [K], normal, sd 0.5 for type T and 1.0 for type K.
        step_k: resolution of the converter [K], 0.0625 or 0.25.
        quiet_k: noise with the mixer off [K], 0.03 to 0.1.
        loud_k: noise with the mixer on [K], 0.15 to 0.5.
        spikes: share of samples that the running motor spoils, 1/300 to 1/100.
        wander_k: slow error from lumps and eddies [K], 0.05 to 0.3.
        wander_s: its correlation time [s], 20 to 60.
        lost: share of samples that get lost, 0 to 0.02.
        lost_s: mean length of such a gap [s], 1 to 15.
    """

    lag_s: float = 3.0
    stem: float = 0.01
    touch: float = 0.0
    offset_k: float = 0.0
    step_k: float = 0.0625
    quiet_k: float = 0.06
    loud_k: float = 0.25
    spikes: float = 1.0 / 200.0
    wander_k: float = 0.12
    wander_s: float = 40.0
    lost: float = 0.0
    lost_s: float = 4.0


def draw_probe(rng: Generator, kind: str = "T", *, may_touch: bool = True) -> ProbeParameters:
    """A probe drawn from the ranges that `ProbeParameters` names."""
    touches = rng.uniform() < 0.5
    touch = 0.07 * abs(float(rng.normal()))
    return ProbeParameters(
        lag_s=float(rng.uniform(2.0, 4.0)),
        stem=float(rng.uniform(0.005, 0.015)),
        touch=touch if touches and may_touch else 0.0,
        offset_k=float(rng.normal(0.0, 0.5 if kind == "T" else 1.0)),
        step_k=0.25 if rng.uniform() < 0.5 else 0.0625,
        quiet_k=float(rng.uniform(0.03, 0.1)),
        loud_k=float(rng.uniform(0.15, 0.5)),
        spikes=1.0 / float(rng.uniform(100.0, 300.0)),
        wander_k=float(rng.uniform(0.05, 0.3)),
        wander_s=float(rng.uniform(20.0, 60.0)),
        lost=float(rng.uniform(0.0, 0.02)) if rng.uniform() < 0.5 else 0.0,
        lost_s=float(rng.uniform(1.0, 15.0)),
    )


class UpsetKind(StrEnum):
    """What goes wrong with a probe for a while."""

    OPEN = "open"
    SHORT_GND = "short-gnd"
    SHORT_VCC = "short-vcc"
    LIFTED = "lifted"
    SILENT = "silent"
    STUCK = "stuck"
    LOUD = "loud"


@dataclass(frozen=True, slots=True)
class Upset:
    """Something that goes wrong.

    Args:
        kind: what. `loud` is a motor that throws the reading about: ten times the spikes and
            twice the noise.
        probe: the probe's name.
        from_s: when it begins [s].
        to_s: when it ends [s].
    """

    kind: UpsetKind
    probe: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a probe meets at one moment.

    Args:
        medium: what its tip sits in.
        medium_c: temperature there [°C].
        wall_c: temperature of the wall beside it [°C].
        room_c: temperature of the room [°C].
        motor: the mixer is running.
    """

    medium: Medium
    medium_c: float
    wall_c: float
    room_c: float
    motor: bool


class VirtualProbe:
    """One thermocouple and what goes wrong with it.

    Args:
        parameters: what it is like.
        upsets: its own upsets.
        rng: source of its noise.
    """

    def __init__(
        self, parameters: ProbeParameters, upsets: Sequence[Upset], rng: Generator
    ) -> None:
        self.parameters = parameters
        self._upsets = tuple(upsets)
        self._rng = rng
        self._tip_c: float | None = None
        self._wander = float(rng.normal())
        self._t = 0.0
        self._lost = False
        self._stuck_c: float | None = None

    def read(self, t: float, around: Surroundings) -> float | Fault | None:
        """What its converter makes of it at `t` [s]: °C, a fault, or nothing at all."""
        probe = self.parameters
        kinds = {upset.kind for upset in self._upsets if upset.from_s <= t < upset.to_s}
        medium, medium_c = around.medium, around.medium_c
        if UpsetKind.LIFTED in kinds:
            medium, medium_c = Medium.AIR, around.room_c
        dt, self._t = t - self._t, t
        self._follow(dt, medium, medium_c, around)
        self._wander_on(dt)
        noise_k = probe.loud_k if around.motor else probe.quiet_k
        spikes = probe.spikes if around.motor else 0.0
        if UpsetKind.LOUD in kinds and around.motor:
            noise_k, spikes = 2.0 * noise_k, 10.0 * spikes
        # Every sample takes the same draws, so that one upset leaves the rest of a run alone.
        noise, spiked, size, sign, gap = self._rng.normal(), *self._rng.uniform(size=4)
        reading_c = (self._tip_c or 0.0) + probe.offset_k + noise_k * float(noise)
        reading_c += probe.wander_k * _WANDERS[medium] * self._wander
        if spiked < spikes:
            jump_k = _SPIKE_K[0] * (_SPIKE_K[1] / _SPIKE_K[0]) ** float(size)
            reading_c += jump_k if sign < 0.5 else -jump_k
        value = probe.step_k * round(reading_c / probe.step_k)
        if self._lose(dt, float(gap)) or UpsetKind.SILENT in kinds:
            return None
        for kind in (UpsetKind.OPEN, UpsetKind.SHORT_GND, UpsetKind.SHORT_VCC):
            if kind in kinds:
                return Fault(kind.value)
        self._stuck_c = (
            value if UpsetKind.STUCK not in kinds or self._stuck_c is None else self._stuck_c
        )
        return self._stuck_c

    def _follow(self, dt: float, medium: Medium, medium_c: float, around: Surroundings) -> None:
        probe = self.parameters
        touch = probe.touch if medium is not Medium.AIR else 0.0
        felt_c = (1.0 - touch) * medium_c + touch * around.wall_c
        felt_c += probe.stem * (around.room_c - felt_c)
        if self._tip_c is None:
            self._tip_c = felt_c
        self._tip_c += (felt_c - self._tip_c) * -math.expm1(-dt / (probe.lag_s * _SLOWER[medium]))

    def _wander_on(self, dt: float) -> None:
        kept = math.exp(-dt / self.parameters.wander_s)
        self._wander = kept * self._wander + math.sqrt(1.0 - kept**2) * float(self._rng.normal())

    def _lose(self, dt: float, chance: float) -> bool:
        """A gap begins and ends at random, so that `lost` of all samples fall into one."""
        probe = self.parameters
        if probe.lost <= 0.0:
            return False
        ends = -math.expm1(-max(dt, 1.0) / probe.lost_s)
        begins = ends * probe.lost / (1.0 - probe.lost)
        self._lost = chance >= ends if self._lost else chance < begins
        return self._lost
