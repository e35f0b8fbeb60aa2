"""`rigmon calibrate list` and `undo`: what is known of each probe, how it moved, and back again."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rigmon.errors import UsageError
from rigmon.probes.calibration import Point, line_of, moved_k
from rigmon.records import Converter, Place, ProbeSetup, place_of
from rigmon.service.calibrated import (
    NAMES,
    OLD_S,
    SIGMAS,
    KeptPoint,
    Standing,
    correction_of,
    correction_words,
    day,
    points_of,
    signed,
)
from rigmon.service.mixessay import mixes_say
from rigmon.service.prepare import Rig
from rigmon.store.archive import Archive
from rigmon.store.calibrations import take_back
from rigmon.store.entries import Calibrated
from rigmon.store.log import RunLog
from rigmon.units import temperature


@dataclass(frozen=True, slots=True)
class Meant:
    """Whose calibrations are asked for.

    Args:
        rig_id: the rig.
        probes: its probes as configured; without a configuration as they were calibrated last.
    """

    rig_id: str
    probes: tuple[ProbeSetup, ...]


def meant(log: Archive, rig: Rig | None, rig_id: str | None) -> list[Meant]:
    """The rigs that are asked for, with all their probes of which there is a calibration.

    Args:
        log: the log.
        rig: the rig as configured, where a configuration was given.
        rig_id: the rig, where it was named.

    Raises:
        UsageError: the log holds no calibration of it, or of any.
        LogError: the log cannot be read.
    """
    there = log.calibrated_rigs()
    ids = [rig.setup.id] if rig is not None else [one for one in there if rig_id in (None, one)]
    if not ids or not set(ids) <= set(there):
        of = f" of {rig_id or (rig.setup.id if rig is not None else '')}" if rig or rig_id else ""
        raise UsageError(f"The log {log.path} holds no calibration{of} yet: `rigmon calibrate ice`")
    return [Meant(one, _probes(log, one, rig)) for one in ids]


def _probes(log: Archive, rig_id: str, rig: Rig | None) -> tuple[ProbeSetup, ...]:
    newest = {row.probe: row for row in log.calibrations(rig_id)}
    configured = {} if rig is None else {probe.name: probe for probe in rig.setup.probes}
    return tuple(configured.get(name) or _as_kept(row) for name, row in newest.items())


def _as_kept(row: Calibrated) -> ProbeSetup:
    try:
        found = json.loads(row.text)
        kind, converter = str(found["type"]), Converter(found["converter"])
    except (ValueError, TypeError, KeyError):
        kind, converter = "other", Converter.LINEARISED
    return ProbeSetup(row.probe, place_of(row.probe) or Place.ROOM, kind, converter)


def _typed(row: Calibrated) -> bool:
    """Whether a person read the values off a display."""
    return '"over_s": 0.0' in row.text


def listed(log: Archive, rigs: Sequence[Meant], now_unix: float) -> Iterator[str]:
    """What is known of each probe, and what to look at; line by line.

    Raises:
        LogError: the log cannot be read.
    """
    for rig in rigs:
        for probe in rig.probes:
            yield from _of_probe(log, rig.rig_id, probe, now_unix)


def _of_probe(log: Archive, rig_id: str, probe: ProbeSetup, now_unix: float) -> Iterator[str]:
    known = correction_of(log, rig_id, probe)
    if known is None:
        yield f"{rig_id} {probe.name}: no calibration counts"
    elif _typed(known.points[-1].row):
        off_k = known.probe.offset_k
        yield f"{rig_id} {probe.name}, read by hand: add {signed(off_k)} K to what it shows"
    else:
        yield (
            f"{rig_id} {probe.name}: corrected by {correction_words(known.probe)}, "
            f"± {2.0 * known.line.in_use_sd_k:.2f} K in a batch"
        )
    points = points_of(log, rig_id, probe)
    for one in reversed(points):
        yield f"  {_row(one)}"
    yield from (f"~ {sentence}" for sentence in _drifts(points))
    if known is not None and now_unix - known.at_unix > OLD_S:
        yield f"~ {probe.name} was calibrated more than a year ago: `rigmon calibrate ice`."
    if probe.sits_in is Place.MIX:
        say = mixes_say(log, rig_id, float("-inf") if known is None else known.at_unix)
        if say is not None:
            sign, more = (
                ("~", ": calibrate it, or look at the recipes.") if say.certain else (" ", ".")
            )
            yield f"{sign} {say.text(probe.name)}{more}"


def _row(one: KeptPoint) -> str:
    name = NAMES.get(one.row.kind, one.row.kind)
    if one.point is None:
        return f"{day(one.row.at_unix)}  {name}: {one.standing.value}"
    point = one.point
    read, true = (temperature(c, digits=2) for c in (point.read_c, point.true_c))
    return (
        f"{day(one.row.at_unix)}  {name}: read {read} at {true}, {signed(point.off_k)} K "
        f"(± {2.0 * point.sd_k:.2f} K, k = 2), {one.standing.value}"
    )


def _drifts(points: Sequence[KeptPoint]) -> Iterator[str]:
    """Where a probe has moved from one calibration of a kind to the next."""
    last: dict[str, tuple[KeptPoint, Point]] = {}
    for one in points:
        if one.point is None or one.standing not in (Standing.COUNTS, Standing.OLDER):
            continue
        before = last.get(one.row.kind)
        last[one.row.kind] = one, one.point
        if before is None:
            continue
        off_k, sd_k = moved_k(line_of([before[1]]), one.point)
        if abs(off_k) > SIGMAS * sd_k:
            yield (
                f"{one.row.probe} moved by {signed(off_k)} K from {day(before[0].row.at_unix)} to "
                f"{day(one.row.at_unix)}, and both are unsure by ± {SIGMAS * sd_k:.2f} K: look at "
                "its plug, its wire and the place of its board."
            )


def undo(log: RunLog, rig: Meant, probe: str | None, now_unix: float) -> str:
    """Take back a rig's newest calibration, or the newest of one probe; returns what was undone.

    Raises:
        UsageError: there is none that counts.
        LogError: the log cannot be read or written.
    """
    rows = [
        row
        for row in log.calibrations(rig.rig_id)
        if row.undone_unix is None and probe in (None, row.probe)
    ]
    if not rows:
        of = rig.rig_id if probe is None else f"{probe} of {rig.rig_id}"
        raise UsageError(f"There is no calibration of {of} to take back")
    newest = max(row.at_unix for row in rows)
    back = [row for row in rows if row.at_unix == newest]
    take_back(log, back, now_unix)
    what = " and ".join(f"{row.probe} ({NAMES.get(row.kind, row.kind)})" for row in back)
    return (
        f"{rig.rig_id}: taken back, of {day(newest)}: {what}. What stood before holds from the "
        "next run on."
    )
