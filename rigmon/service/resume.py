"""A run that a crash, a reboot or Ctrl-C broke off, taken up where it stood."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from rigmon.records import Condition, Mark, Said
from rigmon.run.monitor import Monitor
from rigmon.service.clock import AFTER_TICK_S
from rigmon.service.prepare import Rig, document_of, logged_rig
from rigmon.store.archive import Archive, steps
from rigmon.store.entries import RunHeader, RunState
from rigmon.store.steps import ClockRow

LONGEST_BREAK_S = 2 * 3600.0
"""A run whose last item is older than this is not gone on with [s] (own choice: by then the ice of
a bath that nobody looked after is spent)."""


@dataclass(frozen=True, slots=True)
class OpenRun:
    """A run that can be gone on with.

    Args:
        header: what the log says of it.
        start: wall clock at its run time 0 [s].
        rig: the rig as it was when the run started.
        monitor: a monitor that stands where the run's own stood.
        faults: codes of the conditions of the program that lasted when it was broken off.
        marks: what the maker had marked.
    """

    header: RunHeader
    start: float
    rig: Rig
    monitor: Monitor
    faults: tuple[str, ...]
    marks: tuple[Mark, ...] = ()

    def same_as(self, rig: Rig) -> bool:
        """Whether a rig is configured as it was when the run started, with the same recipe."""
        # What has been learned of the rig is no change of it.
        then, now = self.rig, replace(rig, units=self.rig.units, prior=self.rig.prior)
        day = datetime.datetime.fromtimestamp(0.0, datetime.UTC)
        return document_of(then, then.setup, day) == document_of(now, now.setup, day)


def broken_off(log: Archive, rig: Rig, now: float) -> RunHeader | None:
    """The newest run of a rig, if it was broken off less than two hours before `now` [s].

    A run of the virtual rig is never gone on with: that kitchen is gone. A computer whose clock
    stands still while it is off may come back up to two hours before the run's last item.
    """
    row = next((row for row in log.runs() if row.header.rig == rig.setup.id), None)
    if row is None or row.state is not RunState.BROKEN_OFF or rig.virtual or row.header.virtual:
        return None
    last = row.header.started_unix + row.duration_s
    return row.header if abs(now - last) <= LONGEST_BREAK_S else None


def take_up(
    log: Archive,
    header: RunHeader,
    now: float,
    pulse: Callable[[], bool],
    hear: Callable[[list[Said]], None] = lambda _: None,
) -> OpenRun | None:
    """Bring a fresh monitor to where a broken-off run stood; what it says meanwhile is old.

    Args:
        log: the log that holds the run.
        header: the run.
        now: the wall clock [s].
        pulse: called again and again meanwhile; False gives it up.
        hear: takes what was said then, for those who show the whole run.

    Returns:
        The run; None if it was given up.

    Raises:
        ConfigError: its rig cannot be read any more.
        LogError: the run cannot be read.
    """
    rig = logged_rig(header)
    monitor = Monitor(rig.setup, rig.recipe, rig.prior, rig.seed, rig.speech)
    lasting: dict[str, bool] = {}
    marks: list[Mark] = []
    for step in steps(log, header.id):
        if not pulse():
            return None
        if isinstance(step, ClockRow):
            hear(monitor.advance(step.t))
            continue
        hear(monitor.feed(step))
        if isinstance(step, Condition):
            lasting[step.code] = step.active
        if isinstance(step, Mark):
            marks.append(step)
    # What was said after the last item must not be said a second time.
    said_at = max((json.loads(line)["at"] for line in log.said(header.id)), default=-math.inf)
    if said_at >= monitor.clock:
        hear(monitor.advance(said_at + AFTER_TICK_S))
    reached = max(monitor.clock, 0.0)
    return OpenRun(
        header,
        min(header.started_unix, now - reached),
        rig,
        monitor,
        tuple(code for code, lasts in lasting.items() if lasts),
        tuple(marks),
    )
