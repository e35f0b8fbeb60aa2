"""What a log's calibrations make of a rig's probes, from one run to the next.

The points of a probe that count are the newest of each kind, as long as its wire and its converter
are configured as they were then, none is half a year older than the newest, and the rig's probes
have not been changed since. The line through them stands in for the offset and gain of the
configuration; both are corrections of the same linearised reading.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any

from rigmon.errors import LogError
from rigmon.estimate.memory import RigPart
from rigmon.probes.calibration import Line, Point, Share, line_of, moved_k
from rigmon.records import ProbeSetup, place_of
from rigmon.service.memory import Changed, Kept, story
from rigmon.service.prepare import Rig
from rigmon.store.archive import Archive
from rigmon.store.entries import Calibrated

TOGETHER_S = 183 * 86_400.0
"""Points farther apart in time make no line together [s] (own choice)."""

OLD_S = 365 * 86_400.0
"""After a year a probe should be held to a known temperature again [s] (common practice)."""

SIGMAS = 2.0
"""A probe has moved if it did so by so many standard deviations (own choice, GUM's k = 2)."""


class Standing(StrEnum):
    """Whether a point counts, and why not."""

    COUNTS = "counts"
    UNDONE = "taken back"
    OLDER = "older"
    OTHER_SETTING = "made with another type or converter"
    OTHER_PROBE = "made with the probe before"
    UNREADABLE = "written by another version"


@dataclass(frozen=True, slots=True)
class KeptPoint:
    """A point of the log, read.

    Args:
        row: as it lies there.
        point: its figures; None where they cannot be read.
        type: the probe's type then.
        converter: its converter then.
        standing: whether it counts.
    """

    row: Calibrated
    point: Point | None
    type: str = ""
    converter: str = ""
    standing: Standing = Standing.COUNTS


def text_of(point: Point, probe: ProbeSetup, **facts: object) -> str:
    """A point's figures as the log keeps them."""
    found = asdict(point) | {"type": probe.type, "converter": probe.converter.value} | facts
    return json.dumps({key: value for key, value in found.items() if value is not None})


def points_of(
    log: Archive, rig_id: str, probe: ProbeSetup, *, before_unix: float | None = None
) -> tuple[KeptPoint, ...]:
    """All points of a probe, oldest first, each with its standing.

    Args:
        log: the log.
        rig_id: the rig.
        probe: the probe as it is configured now.
        before_unix: only those made before [s].

    Raises:
        LogError: the log cannot be read.
    """
    rows = [
        row
        for row in log.calibrations(rig_id)
        if row.probe == probe.name and (before_unix is None or row.at_unix < before_unix)
    ]
    changed_unix = max(
        (
            one.at_unix
            for one in story(log, Kept(rig_id))
            if isinstance(one, Changed) and one.part is RigPart.PROBE
        ),
        default=float("-inf"),
    )
    read = [_read(row, probe, changed_unix) for row in rows]
    counting = [one for one in read if one.standing is Standing.COUNTS]
    newest = {one.row.kind: one.row.no for one in counting}
    last_unix = max((one.row.at_unix for one in counting), default=0.0)
    return tuple(_aged(one, newest, last_unix) for one in read)


def _read(row: Calibrated, probe: ProbeSetup, changed_unix: float) -> KeptPoint:
    try:
        found: Mapping[str, Any] = json.loads(row.text)
        point = Point(
            row.kind,
            float(found["true_c"]),
            float(found["read_c"]),
            tuple(Share(str(one["what"]), float(one["sd_k"])) for one in found["shares"]),
        )
        kind, converter = str(found["type"]), str(found["converter"])
    except (ValueError, TypeError, KeyError):
        return KeptPoint(row, None, standing=Standing.UNREADABLE)
    standing = Standing.COUNTS
    if row.undone_unix is not None:
        standing = Standing.UNDONE
    elif (kind, converter) != (probe.type, probe.converter.value):
        standing = Standing.OTHER_SETTING
    elif row.at_unix < changed_unix:
        standing = Standing.OTHER_PROBE
    return KeptPoint(row, point, kind, converter, standing)


def _aged(one: KeptPoint, newest: Mapping[str, int], last_unix: float) -> KeptPoint:
    if one.standing is not Standing.COUNTS:
        return one
    stale = one.row.no != newest[one.row.kind] or last_unix - one.row.at_unix > TOGETHER_S
    return replace(one, standing=Standing.OLDER) if stale else one


@dataclass(frozen=True, slots=True)
class Correction:
    """What a probe's calibrations come to.

    Args:
        probe: the probe as it is to be read.
        line: truth from reading.
        points: the points behind it, oldest first.
    """

    probe: ProbeSetup
    line: Line
    points: tuple[KeptPoint, ...]

    @property
    def at_unix(self) -> float:
        """When the newest of them was made [s]."""
        return max(one.row.at_unix for one in self.points)


def correction_of(
    log: Archive, rig_id: str, probe: ProbeSetup, *, before_unix: float | None = None
) -> Correction | None:
    """What is known of a probe; None where no point counts.

    Raises:
        LogError: the log cannot be read.
    """
    kept = tuple(
        one
        for one in points_of(log, rig_id, probe, before_unix=before_unix)
        if one.standing is Standing.COUNTS
    )
    points = [one.point for one in kept if one.point is not None]
    if not points:
        return None
    line = line_of(points)
    known = replace(
        probe,
        gain=round(line.gain, 6),
        offset_k=round(line.offset_k, 4),
        uncertainty_k=round(line.in_use_sd_k, 4),
    )
    return Correction(known, line, kept)


def corrections(log: Archive, rig: Rig) -> tuple[Correction, ...]:
    """What is known of a rig's probes, in their order; nothing of a virtual rig.

    A probe that is not configured, and whose name says where it sits, may be calibrated too.

    Raises:
        LogError: the log cannot be read.
    """
    if rig.virtual:
        return ()
    configured = _configured(rig)
    names = {probe.name for probe in configured}
    others = dict.fromkeys(row.probe for row in log.calibrations(rig.setup.id))
    unnamed = tuple(
        ProbeSetup(name, place, type="other")
        for name in others
        if name not in names and (place := place_of(name)) is not None
    )
    found = (correction_of(log, rig.setup.id, probe) for probe in (*configured, *unnamed))
    return tuple(one for one in found if one is not None)


def with_calibrations(log: Archive, rig: Rig) -> Rig:
    """A rig whose probes are read as its calibrations say.

    Raises:
        LogError: the log cannot be read.
    """
    configured = _configured(rig)
    known = {one.probe.name: one.probe for one in corrections(log, rig)}
    if not known and rig.configured is None:
        return rig
    probes = [known.pop(probe.name, probe) for probe in configured]
    setup = replace(rig.setup, probes=(*probes, *known.values()))
    return replace(rig, setup=setup, configured=configured)


def _configured(rig: Rig) -> tuple[ProbeSetup, ...]:
    return rig.setup.probes if rig.configured is None else rig.configured


def told(log: Archive, rig: Rig, now_unix: float) -> Iterator[str]:
    """A sentence for each probe that is read otherwise than configured, for the start of a watch.

    Raises:
        LogError: the log cannot be read.
    """
    for one in corrections(log, rig):
        probe = one.probe
        yield (
            f"{rig.setup.id}: {probe.name} is corrected by {correction_words(probe)} "
            f"(± {2.0 * probe.uncertainty_k:.1f} K), {points_words(one.points)}."
        )
        if now_unix - one.at_unix > OLD_S:
            yield (
                f"{rig.setup.id}: that calibration of {probe.name} is more than a year old: "
                "hold the probe into ice again, `rigmon calibrate ice`."
            )
        before = next((p for p in _configured(rig) if p.name == probe.name), None)
        if before is not None and (before.offset_k, before.gain) != (0.0, 1.0):
            yield (
                f"{rig.setup.id}: it stands in for offset_k and gain of the configuration, which "
                f"can go. `rigmon calibrate undo {probe.name}` brings them back."
            )


def correction_words(probe: ProbeSetup) -> str:
    """Offset and gain as a maker reads them.

    >>> from rigmon.records import Place
    >>> correction_words(ProbeSetup("mix", Place.MIX, offset_k=-0.38, gain=1.004))
    '−0.38 K and the factor 1.0040'
    """
    offset = f"{signed(probe.offset_k)} K"
    return offset if probe.gain == 1.0 else f"{offset} and the factor {probe.gain:.4f}"


def signed(k: float) -> str:
    """A difference [K] with its sign.

    >>> signed(-0.384), signed(0.2)
    ('−0.38', '+0.20')
    """
    return f"{k:+.2f}".replace("-", "−")


def points_words(points: Sequence[KeptPoint]) -> str:
    """Where a line comes from: kinds and days."""
    return ", ".join(f"{NAMES[one.row.kind]} of {day(one.row.at_unix)}" for one in points)


def day(at_unix: float) -> str:
    """The day of a moment [s, Unix], where the maker is."""
    moment = datetime.datetime.fromtimestamp(at_unix, datetime.UTC).astimezone()
    return f"{moment:%Y-%m-%d}"


NAMES: Mapping[str, str] = {
    "ice": "ice point",
    "boil": "boiling point",
    "slush": "eutectic slush",
    "compare": "comparison",
}


def moved(log: Archive, rig_id: str, probe: ProbeSetup, point: Point, at_unix: float) -> str:
    """A sentence where a probe has moved since its calibrations before; "" where it has not.

    Args:
        log: the log.
        rig_id: the rig.
        probe: the probe.
        point: the new point.
        at_unix: when it was made [s].
    """
    try:
        before = correction_of(log, rig_id, probe, before_unix=at_unix)
    except LogError:
        return ""
    if before is None:
        return ""
    off_k, sd_k = moved_k(before.line, point)
    if abs(off_k) <= SIGMAS * sd_k:
        return ""
    days = (at_unix - before.at_unix) / 86_400.0
    way = "warmer" if off_k > 0.0 else "colder"
    return (
        f"{probe.name} reads {abs(off_k):.2f} K {way} than after its calibration "
        f"{days:.0f} days ago, more than both are unsure (± {SIGMAS * sd_k:.2f} K): wire and plug "
        "age where they are bent, wet or salty; or one of the two baths was not what it seemed."
    )
