"""What a rig's readings say of its probes, one by one: rate, noise, board, place, converter."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median

from rigmon.probes.converter import converted
from rigmon.probes.fingerprint import Sight
from rigmon.probes.firstlook import (
    BOARD_FROM_C,
    BOARD_TO_C,
    CLOCK_SHARE,
    FAST_HZ,
    LOUD_K,
    QUIET_K,
    SLOW_HZ,
    Noise,
    chip_steps,
    clock_rate,
    noise_of,
    swapped,
)
from rigmon.probes.screen import CIRCUIT, LIMITS_C
from rigmon.probes.settling import chip_text
from rigmon.records import (
    WIRE_CLASSES,
    Converter,
    Place,
    ProbeSetup,
    Reading,
    RigSetup,
    Unit,
    place_of,
)
from rigmon.service.checking.finding import Finding, look, ok, wrong
from rigmon.sources.senml import ABSOLUTE_FROM_S
from rigmon.units import temperature

Came = Sequence[tuple[float, Reading]]
"""Readings, each with the time at which it came [s, Unix]."""

_CLOCK_OFF_S = 5.0


@dataclass(frozen=True, slots=True)
class Probe:
    """One probe, with what came from it.

    Args:
        setup: as configured, or as its name says; None where neither tells where it sits.
        name: its name on the wire.
        readings: what came.
    """

    setup: ProbeSetup | None
    name: str
    readings: Came

    @property
    def values_c(self) -> list[float]:
        """Its temperatures [°C], as they would be worked with."""
        setup = self.setup or ProbeSetup(self.name, Place.ROOM, type="other")
        found = [converted(reading, setup).c for _, reading in self.readings]
        return [c for c in found if c is not None]

    @property
    def boards_c(self) -> list[float]:
        """The board's temperatures that came with them [°C]."""
        return [reading.cj_c for _, reading in self.readings if reading.cj_c is not None]


def probes_in(setup: RigSetup, came: Came) -> list[Probe]:
    """The rig's probes in their order, then those that are not configured."""
    known = {probe.name: probe for probe in setup.probes if probe.sits_in is not Place.MIXER}
    names = [*known, *dict.fromkeys(r.probe for _, r in came if place_of(r.probe) != Place.MIXER)]
    mixers = {p.name for p in setup.probes if p.sits_in is Place.MIXER}
    found = []
    for name in dict.fromkeys(names):
        if name in mixers:
            continue
        place = place_of(name)
        probe = known.get(name)
        if probe is None and place is not None:
            probe = ProbeSetup(name, place, type="other")
        found.append(Probe(probe, name, [one for one in came if one[1].probe == name]))
    return found


def of_probes(setup: RigSetup, came: Came, for_s: float) -> Iterator[Finding]:
    """All that can be said of the probes at rest.

    Args:
        setup: the rig as configured.
        came: its readings.
        for_s: how long was listened [s].
    """
    probes = probes_in(setup, came)
    if not probes:
        yield wrong("probes", "No reading came: neither bath nor mix can be watched.")
    for probe in probes:
        yield from _of_probe(probe, for_s)
    if came:
        yield from _of_boards(probes)
        yield from _of_places(probes)
        yield from _of_clock(came)


def _of_probe(probe: Probe, for_s: float) -> Iterator[Finding]:
    name = probe.name
    if not probe.readings:
        yield wrong("probe", f"{name} is configured and sends nothing: look at its name and plug.")
        return
    if probe.setup is None:
        yield look(
            "probe",
            f"{name} sends, but nothing says where it sits: add [[rigs.<id>.probe]] with name = "
            f'"{name}" and sits_in, or give it a name such as bath_2.',
        )
        return
    faults = [reading.fault for _, reading in probe.readings if reading.fault is not None]
    if faults:
        yield wrong("probe", f"{name} {CIRCUIT[faults[-1]]}.")
        return
    values = probe.values_c
    noise = noise_of(values)
    if noise is None:
        problem = converted(probe.readings[-1][1], probe.setup).problem
        few = f"{name} sent {len(values)} readings in {for_s:.0f} s, too few to judge."
        yield (wrong if problem else look)("probe", problem or few)
        return
    low_c, high_c = LIMITS_C[probe.setup.sits_in]
    now = temperature(noise.median_c)
    if not low_c <= noise.median_c <= high_c:
        yield wrong(
            "probe",
            f"{name} reads {now}, which the {probe.setup.sits_in} cannot have: look at its type.",
        )
        return
    yield _of_noise(name, noise, len(probe.readings) / for_s)


def _of_noise(name: str, noise: Noise, rate_hz: float) -> Finding:
    steps = f", steps of {noise.step_k:.2g} K" if noise.step_k else ""
    what = (
        f"{name} reads {temperature(noise.median_c)}, {rate_hz:.1f} a second, scatters by "
        f"{noise.scatter_k:.2f} K{steps}"
    )
    if rate_hz < SLOW_HZ:
        return look("probe", f"{what}: one reading a second is right while the mix is beaten.")
    if rate_hz > FAST_HZ:
        return look("probe", f"{what}: more than the batch needs; one a second is enough.")
    if noise.spiky:
        return wrong(
            "probe",
            f"{what}, and {noise.spikes} of {noise.readings} are spikes though nothing runs: look "
            "at plug, ground and power.",
        )
    if noise.scatter_k > QUIET_K:
        return look(
            "probe",
            f"{what}, much at rest: look at its plug, and set the converter's filter to the mains "
            "(50 or 60 Hz).",
        )
    return ok("probe", f"{what}.")


def of_mixer(before: Came, beside: Came, setup: RigSetup) -> Iterator[Finding]:
    """How the mixer disturbs the probes.

    Args:
        before: readings at rest.
        beside: readings while the mixer runs.
        setup: the rig as configured.
    """
    quiet = {probe.name: noise_of(probe.values_c) for probe in probes_in(setup, before)}
    for probe in probes_in(setup, beside):
        loud, calm = noise_of(probe.values_c), quiet.get(probe.name)
        if probe.setup is None or loud is None:
            continue
        rest = "" if calm is None else f" ({calm.scatter_k:.2f} K at rest)"
        what = (
            f"{probe.name} scatters by {loud.scatter_k:.2f} K beside the running mixer{rest}, "
            f"{loud.spikes} of {loud.readings} readings are spikes"
        )
        todo = (
            "twist and shield its lead, put a ferrite on it, lead it away from the mixer's cord, "
            "ground nothing twice"
        )
        if loud.spiky or loud.scatter_k > LOUD_K or math.isinf(loud.scatter_k):
            yield wrong("mixer", f"{what}: {todo}.")
        elif loud.scatter_k > 0.5 * LOUD_K:
            yield look("mixer", f"{what}: {todo}.")
        else:
            yield ok("mixer", f"{what}.")


def _of_boards(probes: Sequence[Probe]) -> Iterator[Finding]:
    boards = {probe.name: probe.boards_c for probe in probes if probe.boards_c}
    needs = [
        probe.name
        for probe in probes
        if probe.setup is not None
        and probe.setup.converter is not Converter.LINEARISED
        and not probe.boards_c
        and probe.readings
    ]
    if needs:
        yield wrong(
            "board temp",
            f"{' and '.join(needs)} needs the board's own temperature to be worked out: send "
            f"{needs[0]}/cj beside it.",
        )
    if not boards:
        return
    means = {name: fmean(values) for name, values in boards.items()}
    low, high = min(means.values()), max(means.values())
    told = ", ".join(f"{name} {temperature(c)}" for name, c in means.items())
    if not BOARD_FROM_C <= low <= high <= BOARD_TO_C:
        yield wrong(
            "board temp",
            f"The cold junction is at {told}: a board in a kitchen is not. Keep it out of freezer, "
            "draught and steam, and look at the chip.",
        )
    elif high - low > 3.0:
        yield look(
            "board temp",
            f"The cold junctions differ ({told}): is one chip beside the regulator? That error "
            "goes straight into its probe.",
        )
    else:
        yield ok("board temp", f"The cold junction is at {told}.")


def _of_places(probes: Sequence[Probe]) -> Iterator[Finding]:
    levels: dict[Place, float] = {}
    for probe in probes:
        if probe.setup is not None and probe.values_c:
            levels.setdefault(probe.setup.sits_in, median(probe.values_c))
    if Place.BATH not in levels:
        yield look("places", "No bath probe: brine, ice left and the bath's limit cannot be said.")
    if Place.MIX not in levels:
        yield look("places", "No mix probe: the frozen share and the plateau cannot be said.")
    if Place.BATH not in levels or Place.MIX not in levels:
        return
    bath_c, mix_c = levels[Place.BATH], levels[Place.MIX]
    both = f"bath {temperature(bath_c)}, mix {temperature(mix_c)}"
    found = swapped(bath_c, mix_c)
    if found:
        yield wrong("places", f"{both}: the probes are swapped, or their names on the board are.")
    elif found is None:
        yield look(
            "places",
            f"{both}, too alike to tell one from the other: hold the bath probe in ice, it must "
            "be the one that falls.",
        )
    else:
        yield ok("places", f"{both}: each where it should be.")


def _of_clock(came: Came) -> Iterator[Finding]:
    pairs = [(t, reading.board_s) for t, reading in came if reading.board_s is not None]
    if not pairs:
        yield ok("clock", "The board sends no time; readings are stamped when they come.")
        return
    newest_t, newest_s = pairs[-1]
    rate = clock_rate([(t, s) for t, s in pairs if s is not None])
    runs = (
        ""
        if rate is None
        else f", runs {100.0 * abs(rate - 1.0):.1f} % {'fast' if rate > 1 else 'slow'}"
    )
    if newest_s >= ABSOLUTE_FROM_S:
        off_s = newest_s - newest_t
        if abs(off_s) > 86_400.0:
            yield look(
                "clock",
                "The board's clock was never set; readings are stamped when they come. Have it ask "
                "a time server if it buffers.",
            )
        elif abs(off_s) > _CLOCK_OFF_S:
            yield look(
                "clock", f"The board's clock is {off_s:+.0f} s off: have it ask a time server."
            )
        else:
            yield ok("clock", f"The board's clock is right to {abs(off_s):.1f} s.")
    elif rate is not None and abs(rate - 1.0) > CLOCK_SHARE:
        yield look(
            "clock",
            f"The board counts from its start{runs}: a board without a crystal. Readings that it "
            "keeps for later get wrong times.",
        )
    else:
        yield ok("clock", f"The board counts from its start{runs}.")


def of_converters(
    probes: Sequence[Probe], in_bath_c: float | None, points: Mapping[str, Sequence[Sight]]
) -> Iterator[Finding]:
    """Whether a converter takes its wire for a straight line, and is configured so.

    Args:
        probes: the probes.
        in_bath_c: temperature of the bath that all sit in, if the maker says so [°C].
        points: of each probe what it read at known temperatures, by its calibrations.
    """
    for probe in probes:
        setup, noise = probe.setup, noise_of(probe.values_c)
        if setup is None or setup.type not in WIRE_CLASSES or noise is None:
            continue
        sent = [
            r.value for _, r in probe.readings if r.value is not None and r.unit is Unit.CELSIUS
        ]
        sights = list(points.get(probe.name, ()))
        boards = probe.boards_c
        if in_bath_c is not None and sent:
            cj_c = fmean(boards) if boards else None
            sights.append(Sight(median(sent), in_bath_c, cj_c))
        text = chip_text(setup, sights) if sights else ""
        if text:
            yield wrong("converter", text)
        elif sights:
            yield ok("converter", f"{probe.name} errs as its wire may, type {setup.type}.")
        elif setup.converter is Converter.LINEARISED and chip_steps(
            noise_of(sent) or noise, boards
        ):
            yield look(
                "converter",
                f"{probe.name} and its board come in the steps of a chip that takes type "
                f"{setup.type} for a straight line, which is {_EXAMPLE.get(setup.type, 'wrong')} "
                "in the cold. Put it into ice and water, then `rigmon check --in-ice`.",
            )


_EXAMPLE = {"K": "2 K too warm", "T": "12 K too warm"}
