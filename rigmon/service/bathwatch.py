"""Probes watched in a bath until they stand still: on the rig's board, or in a run file."""

from __future__ import annotations

import math
import queue
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

from rigmon.errors import UsageError
from rigmon.probes.calibration import Seen, seen_in
from rigmon.probes.settling import Settling, Stand, Watched
from rigmon.records import Mark, MqttLink, Reading, SerialLink, SourceNews
from rigmon.service.clock import Clock
from rigmon.service.prepare import Rig
from rigmon.sources import check_link, list_ports_text, open_sources
from rigmon.store.runfile import read_run

TELL_EVERY_S = 15.0
LOOK_EVERY_S = 1.0
_FILE_LOOK_EVERY_S = 5.0

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Taken:
    """What was seen of the probes.

    Args:
        seen: of each that stood still, what it read.
        watched: of each that was watched, how it stood at the end.
        at_unix: when [s].
    """

    seen: Mapping[str, Seen]
    watched: Mapping[str, Watched]
    at_unix: float


def watch_bath(
    rig: Rig, settling: Settling, names: Sequence[str], wait_s: float, tell: Tell
) -> Taken:
    """Listen to the rig's board until its probes stand still.

    A probe that stands still far from the bath's temperature, or sends nothing, is not waited for.

    Args:
        rig: the rig.
        settling: takes the readings.
        names: the probes that are meant.
        wait_s: how long at most [s].
        tell: takes a sentence every 15 s.

    Raises:
        UsageError: the rig has no source, or is a virtual one.
        DeviceError: the port or broker cannot be reached.
    """
    if rig.virtual:
        raise UsageError(f"{rig.setup.id} is a virtual rig: it has no probes to calibrate")
    if not isinstance(rig.link, SerialLink | MqttLink):
        raise UsageError(
            f"{rig.setup.id} has no source: configure port or broker, or give --from RUN.csv.\n"
            f"{list_ports_text()}"
        )
    check_link(rig.link)
    coming: queue.SimpleQueue[Reading | Mark | SourceNews] = queue.SimpleQueue()
    clock = Clock()
    with ExitStack() as opened:
        for source in open_sources({rig.setup.id: rig.link}, marks=False):
            opened.callback(source.stop)
            source.start(lambda _rig, item: coming.put(item), clock.now)
        begun = told = time.monotonic()
        while time.monotonic() - begun < wait_s:
            _take_in(coming, settling, tell)
            now = {name: settling.watched(name) for name in names}
            if _done(now):
                break
            if time.monotonic() - told >= TELL_EVERY_S:
                told = time.monotonic()
                tell("; ".join(one.text for one in now.values()) + ".")
    return _taken(settling, names, clock.now())


def _take_in(
    coming: queue.SimpleQueue[Reading | Mark | SourceNews], settling: Settling, tell: Tell
) -> None:
    """Take in what comes within a second."""
    until = time.monotonic() + LOOK_EVERY_S
    with suppress(queue.Empty):
        while (left_s := until - time.monotonic()) > 0.0:
            item = coming.get(timeout=left_s)
            if isinstance(item, Reading):
                settling.feed(item)
            elif isinstance(item, SourceNews):
                tell(item.text)


def _done(now: Mapping[str, Watched]) -> bool:
    """Whether waiting would change nothing."""
    stands = {one.stand for one in now.values()}
    on_its_way = any(
        one.stand is Stand.AWAY and not (one.steady is not None and one.steady.still)
        for one in now.values()
    )
    settled = stands <= {Stand.STILL, Stand.AWAY, Stand.BROKEN}
    return settled and not on_its_way and stands != {Stand.BROKEN}


def _taken(settling: Settling, names: Sequence[str], at_unix: float) -> Taken:
    watched = {name: settling.watched(name) for name in names}
    seen = {
        name: seen_in(one.steady)
        for name, one in watched.items()
        if one.stand is Stand.STILL and one.steady is not None
    }
    return Taken(seen, watched, at_unix)


def read_bath(path: Path, rig: Rig, settling: Settling, names: Sequence[str]) -> Taken:
    """Take the readings from a run file, up to where its probes stand still in the bath.

    Args:
        path: the file.
        rig: the rig, its probes as the file's readings are.
        settling: takes the readings.
        names: the probes that are meant.

    Raises:
        RunFileError: the file cannot be read.
    """
    file = read_run(path, rig.setup)
    start = time.time() if file.started_unix is None else file.started_unix
    looked = at = -math.inf
    for item in file.items:
        if isinstance(item, Reading):
            settling.feed(item)
        at = max(at, item.t)
        if at - looked >= _FILE_LOOK_EVERY_S:
            looked = at
            taken = _taken(settling, names, start + at)
            if taken.seen and _done(taken.watched):
                return taken
    return _taken(settling, names, start + max(at, 0.0))
