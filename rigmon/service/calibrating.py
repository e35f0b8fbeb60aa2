"""`rigmon calibrate`: probes held to a temperature that is known, or to each other."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from rigmon.errors import UsageError
from rigmon.probes.calibration import Reference, Seen, Share, point_of
from rigmon.probes.settling import Settling, far_k
from rigmon.records import Place, ProbeSetup, place_of
from rigmon.service.bathwatch import Taken, Tell, read_bath, watch_bath
from rigmon.service.calibrated import correction_of
from rigmon.service.concluding import Conclusion
from rigmon.service.export import as_recorded
from rigmon.service.logkeeper import open_log
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.service.references import BETWEEN_SD_K, HAND_SD_K, hand_reference, typed_values
from rigmon.store.log import RunLog
from rigmon.units import temperature

IN_A_BATH = (Place.BATH, Place.MIX, Place.CORE, Place.WALL)
"""Probes that are meant if none is named."""

HAND_FAR_K = 10.0
"""A hand-held thermometer that reads farther off is not in the bath, or typed wrong [K]."""


@dataclass(frozen=True, slots=True)
class Asked:
    """How a calibration was asked for.

    Args:
        config_path: the configuration.
        rig_id: the rig, where there are several.
        log_path: the run log; None for the configured or usual place.
        run_path: a run file to take the readings from; None for the board.
        typed: values off a display, each as `NAME=0.4,0.3,0.4`.
        wait_s: how long to wait for the probes to stand still [s].
        anyway: take a probe that reads too far off as well.
        dry: keep nothing.
    """

    config_path: Path | None
    rig_id: str | None = None
    log_path: Path | None = None
    run_path: Path | None = None
    typed: tuple[str, ...] = ()
    wait_s: float = 900.0
    anyway: bool = False
    dry: bool = False


def rig_asked(asked: Asked, *, link: bool = True) -> tuple[Rig, Path | None]:
    """The rig that is meant, and where its configuration has the log; `link` False leaves its out.

    Raises:
        UsageError: no configuration, or several rigs and none named.
        ConfigError: the configuration cannot be read.
    """
    if asked.config_path is None:
        raise UsageError(
            "calibrate needs the rig's configuration: give --config RIG.toml, or make one with "
            "`rigmon check --write RIG.toml`"
        )
    live = link and asked.run_path is None and not asked.typed
    config = read_config(asked.config_path, links=live)
    if asked.rig_id is None and len(config.rigs) > 1:
        names = ", ".join(rig.setup.id for rig in config.rigs)
        raise UsageError(f"{asked.config_path} has several rigs ({names}): say which with --rig")
    found = next(
        (rig for rig in config.rigs if asked.rig_id in (None, rig.setup.id)),
        None,
    )
    if found is None:
        rigs_of(config, None, asked.rig_id)
        raise UsageError(f"{asked.config_path} has no rig")
    return Rig(found.setup, link=found.link, units=config.units), config.log.path


def hold(asked: Asked, reference: Reference, names: Sequence[str], tell: Tell) -> int:
    """Hold probes to a temperature that is known; returns the exit code.

    Args:
        asked: how it was asked for.
        reference: the temperature.
        names: the probes; none means those that sit in a bath.
        tell: takes what there is to say, line by line.

    Raises:
        UsageError: something was asked that cannot be.
        DeviceError: the board cannot be reached.
        LogError: the log cannot be read or written.
    """
    rig, log_path = rig_asked(asked)
    if asked.typed:
        probes, taken = _by_typing(asked, rig, reference, names)
    else:
        probes = probes_meant(rig, names)
        taken = _take(asked, rig, probes, reference.c, tell)
    points = {name: point_of(seen, reference) for name, seen in taken.seen.items()}
    with closing(open_log(asked.log_path or log_path)) as log:
        conclusion = Conclusion(log, rig, probes, taken, tell)
        return conclusion.of_bath(points, reference, anyway=asked.anyway, dry=asked.dry)


def compare(asked: Asked, trusted: str, other: str, hand_sd_k: float | None, tell: Tell) -> int:
    """Set one probe right by another in the same bath; returns the exit code.

    Args:
        asked: how it was asked for.
        trusted: the probe that is believed, or a hand-held thermometer given with `--typed`.
        other: the probe that is set right.
        hand_sd_k: standard uncertainty of the hand-held thermometer [K]; None for what is known.
        tell: takes what there is to say.

    Raises:
        UsageError: something was asked that cannot be.
        DeviceError: the board cannot be reached.
        LogError: the log cannot be read or written.
    """
    if trusted == other:
        raise UsageError("compare needs two different probes, the one that is believed first")
    by_hand = typed_values(asked.typed)
    live = replace(asked, typed=())
    rig, log_path = rig_asked(live)
    _refuse_configured(by_hand, rig)
    if by_hand and set(by_hand) != {trusted}:
        raise UsageError(
            f"--typed must be for {trusted!r}, the thermometer that is believed and named first"
        )
    names = [other] if by_hand else [trusted, other]
    probes = probes_meant(rig, names)
    taken = _take(live, rig, probes, None, tell)
    with closing(open_log(asked.log_path or log_path)) as log:
        conclusion = Conclusion(log, rig, probes, taken, tell)
        if missing := [name for name in names if name not in taken.seen]:
            return conclusion.nothing({name: f"{taken.watched[name].text}." for name in missing})
        if by_hand:
            reference = _by_hand(log, rig, by_hand[trusted], trusted, hand_sd_k)
        else:
            reference = _by_probe(log, rig, probes[trusted], taken.seen[trusted])
        tell(f"{trusted} has the bath at {temperature(reference.c, digits=2)}.")
        point = point_of(taken.seen[other], reference)
        if abs(point.off_k) > far_k(probes[other], reference.c):
            return conclusion.nothing(
                {other: f"{other} is {abs(point.off_k):.1f} K away from it: not in the same bath."}
            )
        return conclusion.keep({other: point}, dry=asked.dry)


def hand_probe(name: str) -> ProbeSetup:
    """What stands in the log for a hand-held thermometer."""
    return ProbeSetup(name, Place.ROOM, type="other")


def _by_typing(
    asked: Asked, rig: Rig, reference: Reference, names: Sequence[str]
) -> tuple[dict[str, ProbeSetup], Taken]:
    if names:
        raise UsageError("--typed says by itself which thermometer is meant: leave PROBE out")
    by_hand = typed_values(asked.typed)
    _refuse_configured(by_hand, rig)
    for name, seen in by_hand.items():
        if abs(seen.c - reference.c) > HAND_FAR_K and not asked.anyway:
            raise UsageError(
                f"{name} reads {seen.c:g} °C where {reference.c:.1f} °C is expected: is it in the "
                "bath? --anyway takes it all the same"
            )
    return {name: hand_probe(name) for name in by_hand}, Taken(by_hand, {}, time.time())


def probes_meant(rig: Rig, names: Sequence[str]) -> dict[str, ProbeSetup]:
    """The probes that are to be calibrated, as configured.

    Raises:
        UsageError: a name that the rig does not have.
    """
    known = {probe.name: probe for probe in rig.setup.probes if probe.sits_in is not Place.MIXER}
    if not names:
        meant = {name: probe for name, probe in known.items() if probe.sits_in in IN_A_BATH}
        return meant or {
            place.value: ProbeSetup(place.value, place, type="other")
            for place in (Place.BATH, Place.MIX)
        }
    meant = {}
    for name in names:
        place = place_of(name)
        if name in known:
            meant[name] = known[name]
        elif place is not None and place is not Place.MIXER:
            meant[name] = ProbeSetup(name, place, type="other")
        else:
            there = ", ".join(known) or "none; bath and mix are understood"
            raise UsageError(f"{rig.setup.id} has no probe {name!r}; there are: {there}")
    return meant


def _take(
    asked: Asked, rig: Rig, probes: Mapping[str, ProbeSetup], true_c: float | None, tell: Tell
) -> Taken:
    if asked.run_path is None:
        settling = Settling(probes, true_c, anyway=asked.anyway)
        return watch_bath(rig, settling, list(probes), asked.wait_s, tell)
    # A run file's readings are linearised already.
    recorded = as_recorded(replace(rig.setup, probes=tuple(probes.values())))
    settling = Settling({p.name: p for p in recorded.probes}, true_c, anyway=asked.anyway)
    return read_bath(asked.run_path, replace(rig, setup=recorded), settling, list(probes))


def _refuse_configured(by_hand: Mapping[str, Seen], rig: Rig) -> None:
    names = {probe.name for probe in rig.setup.probes}
    for name in by_hand:
        if name in names or place_of(name) is not None:
            raise UsageError(
                f"--typed {name}=...: {name} is a probe of the rig, whose readings come from its "
                "board; give a hand-held thermometer a name of its own, such as hand"
            )


def _by_probe(log: RunLog, rig: Rig, probe: ProbeSetup, seen: Seen) -> Reference:
    """The bath's temperature by a probe of the rig, as it is corrected now."""
    known = correction_of(log, rig.setup.id, probe)
    between = Share("between the tips", BETWEEN_SD_K)
    if known is None:
        own = Share(f"{probe.name}, not calibrated", probe.uncertainty_k)
        c = probe.gain * seen.c + probe.offset_k
    else:
        own = Share(probe.name, known.line.sd_k(seen.c))
        c = known.line.true_c(seen.c)
    of_mean = Share(f"scatter of {probe.name}", seen.shares[0].sd_k)
    return Reference("compare", c, (of_mean, own, between))


def _by_hand(log: RunLog, rig: Rig, seen: Seen, name: str, sd_k: float | None) -> Reference:
    known = correction_of(log, rig.setup.id, hand_probe(name))
    if known is None:
        return hand_reference(seen, HAND_SD_K if sd_k is None else sd_k, lambda c: c)
    own_sd_k = known.line.sd_k(seen.c) if sd_k is None else sd_k
    return hand_reference(seen, own_sd_k, known.line.true_c)
