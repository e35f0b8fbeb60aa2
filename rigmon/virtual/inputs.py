"""The board's inputs: which probe sits in what at each moment of a batch."""

from __future__ import annotations

from collections.abc import Collection

from numpy.random import Generator

from rigmon.records import Fault, MarkWord, Place, Reading, Unit
from rigmon.virtual.probe import Medium, Surroundings, VirtualProbe, draw_probe
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.scenario import Channel, Scenario
from rigmon.virtual.truth import Truth

_MIXER_NOISE = 0.02


class Input:
    """One input of the board with the probe that is plugged into it.

    Args:
        channel: its name and its place.
        scenario: where its upsets stand.
        rng: source of its noise.
        depth: where in the bath it sits, 0 at the top and 1 at the bottom.
    """

    def __init__(self, channel: Channel, scenario: Scenario, rng: Generator, depth: float) -> None:
        self.name = channel.name
        self.place = channel.place
        self._depth = depth
        touches = channel.place is Place.MIX
        drawn = draw_probe(rng, channel.kind, may_touch=touches)
        upsets = [upset for upset in scenario.upsets if upset.probe == channel.name]
        self._probe = VirtualProbe(channel.parameters or drawn, upsets, rng)
        self._rng = rng

    def read(self, rig: VirtualRig, truth: Truth, marks: Collection[MarkWord]) -> Reading | None:
        """What the board has to say of it now; None where it has nothing.

        Args:
            rig: the rig as it stands.
            truth: what is true of it now.
            marks: what the maker has done so far.
        """
        t = truth.t
        if self.place is Place.MIXER:
            noise = 1.0 + _MIXER_NOISE * float(self._rng.normal())
            return Reading(t, self.name, round(truth.mixer_w * noise, 1), Unit.WATT)
        around = _surroundings(rig, truth, marks, self.place, self._depth)
        if around is None:
            return None
        value = self._probe.read(t, around)
        if isinstance(value, Fault):
            return Reading(t, self.name, None, fault=value)
        return None if value is None else Reading(t, self.name, value)


def _surroundings(
    rig: VirtualRig, truth: Truth, marks: Collection[MarkWord], place: Place, depth: float
) -> Surroundings | None:
    """What a probe meets; None while it is not plugged in."""
    packed = MarkWord.PACK in marks
    motor = rig.bowl.speed > 0.0
    room_c = rig.room_c
    if place is Place.ROOM:
        return Surroundings(Medium.AIR, room_c, room_c, room_c, motor)
    if place is Place.FREEZER:
        used = packed or MarkWord.REST_START in marks
        air_c = truth.freezer_c
        return Surroundings(Medium.AIR, air_c, air_c, air_c, motor) if used else None
    if place is Place.CORE:
        if rig.tubs is None or MarkWord.HARDEN_START not in marks:
            return None
        return Surroundings(Medium.SLUSH, truth.core_c, truth.air_c, truth.air_c, motor)
    if packed:
        return None
    if place is Place.BATH:
        bath_c = _bath_c(rig, depth)
        return Surroundings(Medium.BRINE, bath_c, bath_c, room_c, motor)
    if place is Place.WALL:
        return Surroundings(Medium.SLUSH, truth.wall_c, truth.wall_c, room_c, motor)
    if MarkWord.POUR not in marks:
        return Surroundings(Medium.AIR, room_c, room_c, room_c, motor)
    medium = Medium.STIRRED if motor else Medium.SLUSH
    return Surroundings(medium, truth.mix_c, truth.wall_c, truth.air_c, motor)


def _bath_c(rig: VirtualRig, depth: float) -> float:
    """Temperature at a depth, 0 at the top and 1 at the bottom; of the ice while it is dry."""
    bath = rig.bath
    brine_c = (1.0 - depth) * bath.upper.temperature_c() + depth * bath.lower.temperature_c()
    if bath.lower.liquid_g < 5.0:
        brine_c = bath.upper.temperature_c()
    liquid_g = bath.upper.liquid_g + bath.lower.liquid_g
    wet = min(1.0, liquid_g / (rig.parameters.held_share * bath.ice_g + 1e-9))
    return wet * brine_c + (1.0 - wet) * bath.ice_c()
