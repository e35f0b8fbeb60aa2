"""Runs as they lie in the log: listed, found again, and read back as they were fed."""

from __future__ import annotations

import difflib
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rigmon.errors import LogError, UsageError
from rigmon.records import Condition, Item, Mark
from rigmon.store.entries import (
    Calibrated,
    Learned,
    Measured,
    RunHeader,
    RunRow,
    RunState,
    Tasting,
)
from rigmon.store.process import is_alive
from rigmon.store.schema import reason
from rigmon.store.shelves import SHELVES, Cells
from rigmon.store.steps import Step, clocked

_RUNS = (
    "SELECT no, ended_at, process, deleted_unix, id, rig, started_unix, recipe, document, virtual,"
    " version FROM run"
)
_SAID = "SELECT seq, at, kind, line FROM said WHERE run = ? AND seq > ? ORDER BY seq LIMIT ?"
_TAGS = "SELECT word FROM tag WHERE run = ? ORDER BY word"
_WHICH = "WHERE (deleted_unix IS NOT NULL) = ?"
_NEWEST_FIRST = "ORDER BY started_unix DESC, no DESC"
_IDS = "SELECT id FROM run WHERE (deleted_unix IS NOT NULL) = ? ORDER BY started_unix DESC, no DESC"
_PAGE = 5_000
"""Rows read at once; no read lasts longer, so that the journal never grows behind a reader."""


class Archive:
    """What has been committed to a log.

    Args:
        path: the file, for messages.
        db: the open log.
    """

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db
        self._lock = threading.RLock()

    def runs(self, *, deleted: bool = False) -> tuple[RunRow, ...]:
        """All runs that are not deleted, or all that are; newest first."""
        rows = self._read(f"{_RUNS} {_WHICH} {_NEWEST_FIRST}", (deleted,))
        return tuple(self._row(cells) for cells in rows)

    def run(self, run_id: str) -> RunRow:
        """One run by its whole id, even a deleted one.

        Raises:
            LogError: no such run.
        """
        rows = self._read(f"{_RUNS} WHERE id = ?", (run_id,))
        if not rows:
            raise self._no_run(run_id)
        return self._row(rows[0])

    def find(self, run: str, *, deleted: bool = False) -> RunHeader:
        """The run that a maker means: an id, the only id it begins or is a part of, or `last`.

        Args:
            run: what the maker typed.
            deleted: True looks among the deleted runs, False among the others.

        Raises:
            UsageError: none or several; the message names the nearest.
        """
        ids = self._ids(deleted=deleted)
        if not ids and deleted:
            raise UsageError(f"No run in the log {self.path} is deleted")
        if not ids and self._ids(deleted=True):
            raise UsageError(
                f"The log {self.path} holds deleted runs alone; rigmon runs --deleted lists them"
            )
        if not ids:
            raise UsageError(f"The log {self.path} holds no run yet")
        meant = ids[:1] if run == "last" else [name for name in ids if name == run]
        meant = meant or [name for name in ids if name.startswith(run)]
        meant = meant or [name for name in ids if run in name]
        if len(meant) > 1:
            some = ", ".join(meant[:5])
            raise UsageError(
                f"{run!r} may be any of {len(meant)} runs: {some}. Give more of the id"
            )
        if not meant and not deleted and run in self._ids(deleted=True):
            raise UsageError(f"The run {run} is deleted; rigmon runs undelete {run} brings it back")
        if not meant:
            near = ", ".join(difflib.get_close_matches(run, ids, n=3, cutoff=0.0))
            raise UsageError(f"There is no run {run!r} in the log; the nearest are {near}")
        return self.run(meant[0]).header

    def items(self, run_id: str) -> Iterator[tuple[float, Item]]:
        """What a run was fed, in order, each behind the monitor's clock just before it [s].

        Raises:
            LogError: no such run.
        """
        no = self._number(run_id)
        return self._pages(no, self._last(no)[0])

    def marks(self, run_id: str) -> Iterator[Mark]:
        """The marks of a run, in the order in which they were heard.

        Raises:
            LogError: no such run.
        """
        no = self._number(run_id)
        shelf = SHELVES[Mark]
        for _, _, *own in sorted(self._read(shelf.page, (no, 0, self._last(no)[0]))):
            mark = shelf.unpack(tuple(own))
            if isinstance(mark, Mark):
                yield mark

    def turns(self, run_id: str) -> int:
        """Number of items that a run was fed.

        Raises:
            LogError: no such run.
        """
        return self._last(self._number(run_id))[0]

    def packed(
        self, run_id: str, first: int | None = None
    ) -> Iterator[tuple[type[Item], list[Cells]]]:
        """The items of a run as they lie there, by kind: turn and own cells, in order.

        Args:
            run_id: the run.
            first: only so many of its items; None for all.

        Raises:
            LogError: no such run.
        """
        no = self._number(run_id)
        last = self._last(no)[0] if first is None else first
        for kind, shelf in SHELVES.items():
            for low in range(0, last, _PAGE):
                rows = self._read(shelf.page, (no, low, min(low + _PAGE, last)))
                yield kind, [(cells[0], *cells[2:]) for cells in rows]

    def said(self, run_id: str) -> Iterator[str]:
        """The lines said of a run, in order.

        Raises:
            LogError: no such run.
        """
        return (line for _, _, line in self._lines(self._number(run_id)))

    def said_when(self, run_id: str) -> Iterator[tuple[float, str, str]]:
        """Run time [s], kind and line of all that was said of a run, in order.

        Raises:
            LogError: no such run.
        """
        return self._lines(self._number(run_id))

    def learned(self, rig: str, model_version: str | None = None) -> tuple[Learned, ...]:
        """All that runs taught of a rig, in the order in which it was learned.

        What a deleted run taught is left out.

        Args:
            rig: id of the rig.
            model_version: the model that it must belong to; None for all.
        """
        rows = self._read(
            "SELECT run, model_version, text FROM learned"
            " WHERE rig = ? AND model_version = coalesce(?, model_version)"
            " AND run NOT IN (SELECT id FROM run WHERE deleted_unix IS NOT NULL) ORDER BY no",
            (rig, model_version),
        )
        return tuple(Learned(*cells) for cells in rows)

    def calibrations(self, rig: str) -> tuple[Calibrated, ...]:
        """All points at which a rig's probes were calibrated or are no more, oldest first."""
        rows = self._read(
            "SELECT no, rig, probe, at_unix, kind, text, undone_unix FROM calibration"
            " WHERE rig = ? ORDER BY at_unix, no",
            (rig,),
        )
        return tuple(Calibrated(*cells) for cells in rows)

    def calibrated_rigs(self) -> tuple[str, ...]:
        """The rigs of which there is any such point."""
        rows = self._read("SELECT DISTINCT rig FROM calibration ORDER BY rig")
        return tuple(str(rig) for (rig,) in rows)

    def measured(self) -> dict[str, Measured]:
        """What is kept of measures, by run."""
        rows = self._read(
            "SELECT run.id, made_by, of, text FROM measured JOIN run ON run.no = measured.run"
        )
        return {str(name): Measured(*cells) for name, *cells in rows}

    def tastings(self) -> tuple[Tasting, ...]:
        """All that was said of batches after their runs, oldest first."""
        rows = self._read(
            "SELECT run.id, at_unix, texture, note FROM tasting JOIN run ON run.no = tasting.run"
            " ORDER BY at_unix, tasting.run"
        )
        return tuple(Tasting(*cells) for cells in rows)

    def _ids(self, *, deleted: bool) -> list[str]:
        return [str(name) for (name,) in self._read(_IDS, (deleted,))]

    def _pages(self, no: int, last: int) -> Iterator[tuple[float, Item]]:
        for low in range(0, last, _PAGE):
            page = [
                (cells, shelf)
                for shelf in SHELVES.values()
                for cells in self._read(shelf.page, (no, low, min(low + _PAGE, last)))
            ]
            page.sort(key=lambda entry: int(entry[0][0]))
            for (_, clock, *own), shelf in page:
                yield clock, shelf.unpack(tuple(own))

    def _lines(self, no: int) -> Iterator[tuple[float, str, str]]:
        after = 0
        while rows := self._read(_SAID, (no, after, _PAGE)):
            after = rows[-1][0]
            yield from ((at, kind, line) for _, at, kind, line in rows)

    def _read(self, statement: str, cells: Cells = ()) -> list[Cells]:
        with self._lock:
            try:
                return self._db.execute(statement, cells).fetchall()
            except sqlite3.Error as fault:
                raise LogError(f"The run log {self.path} cannot be read: {reason(fault)}") from None

    def _number(self, run_id: str) -> int:
        rows = self._read("SELECT no FROM run WHERE id = ?", (run_id,))
        if not rows:
            raise self._no_run(run_id)
        return int(rows[0][0])

    def _no_run(self, run_id: str) -> LogError:
        return LogError(f"There is no run {run_id} in the log {self.path}")

    def _last(self, no: int) -> tuple[int, float]:
        """Turn of the last item of a run, and the time that the run had reached by then [s]."""
        found = [cells for shelf in SHELVES.values() for cells in self._read(shelf.last, (no,))]
        seq, reached = max(found, default=(0, 0.0))
        return int(seq), float(reached)

    def _row(self, cells: Cells) -> RunRow:
        no, ended_at, process, deleted_unix, *head = cells
        last, reached = self._last(no)
        marks, conditions = (
            int(self._read(SHELVES[kind].count, (no,))[0][0]) for kind in (Mark, Condition)
        )
        state = RunState.RUNNING if is_alive(process) else RunState.BROKEN_OFF
        return RunRow(
            header=_header(head),
            state=state if ended_at is None else RunState.ENDED,
            ended_at=ended_at,
            duration_s=reached if ended_at is None else ended_at,
            # Turns are counted from 1 without a gap, and counting all readings would take long.
            readings=last - marks - conditions,
            marks=marks,
            tags=tuple(word for (word,) in self._read(_TAGS, (no,))),
            deleted_unix=deleted_unix,
        )


def _header(cells: Sequence[Any]) -> RunHeader:
    name, rig, started_unix, recipe, document, virtual, version = cells
    return RunHeader(name, rig, started_unix, recipe, document, bool(virtual), version)


def steps(log: Archive, run_id: str) -> Iterator[Step]:
    """The steps that move a fresh monitor just as this run's was moved live.

    Raises:
        LogError: no such run.
    """
    return clocked(log.items(run_id), log.run(run_id).ended_at)
