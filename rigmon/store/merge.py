"""The runs of another machine's log taken into this one, each once.

A run that is here already is told by its content, not by its name. So the same log can be merged
again and again, and one that was broken off goes on from where it stopped.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path

from rigmon.errors import LogError, UsageError
from rigmon.store.archive import Archive
from rigmon.store.backup import snapshot
from rigmon.store.entries import RunRow, RunState
from rigmon.store.fingerprint import fingerprint
from rigmon.store.log import RunLog
from rigmon.store.schema import open_log, tables_of_a_run

_SAME_START_S = 0.001


@dataclass(frozen=True, slots=True)
class Merged:
    """What came of a merge; every run is named by its id there.

    Args:
        taken: runs taken in, each with the id that it has here.
        grown: runs that were here up to where they had been broken off, and have gone on.
        known: runs that are here already.
        deleted: runs that are here already, deleted.
        waiting: runs that are not over yet.
    """

    taken: tuple[tuple[str, str], ...]
    grown: tuple[str, ...]
    known: tuple[str, ...]
    deleted: tuple[str, ...]
    waiting: tuple[str, ...]

    @property
    def renamed(self) -> tuple[tuple[str, str], ...]:
        """Runs whose id stood for another run here."""
        return tuple((there, here) for there, here in self.taken if there != here)


class Holdings:
    """What a log holds, to be asked whether it holds a certain content.

    Args:
        log: the log; deleted runs count.
    """

    def __init__(self, log: Archive) -> None:
        self._log = log
        self._rows = {row.header.id: row for row in (*log.runs(), *log.runs(deleted=True))}
        self._turns: dict[int, list[str]] = {}
        for name in self._rows:
            self._turns.setdefault(log.turns(name), []).append(name)
        self._prints: dict[str, str] = {}

    def row(self, run_id: str) -> RunRow | None:
        """The run of that id, None if there is none."""
        return self._rows.get(run_id)

    def same(
        self, items: int, content: Callable[[], str], *, virtual: bool, started: float | None
    ) -> RunRow | None:
        """The run with that content, None if there is none.

        Args:
            items: how many items it was fed; a run without any is like no other.
            content: gives their fingerprint, if it is wanted.
            virtual: whether it is of a virtual rig.
            started: its start [s], where the same numbers alone do not tell it from another, as
                with a virtual rig; else None.
        """
        for name in self._turns.get(items, []) if items else []:
            row = self._rows[name]
            if row.header.virtual != virtual:
                continue
            if started is not None and not _together(row.header.started_unix, started):
                continue
            if name not in self._prints:
                self._prints[name] = fingerprint(self._log, name)
            if self._prints[name] == content():
                return row
        return None

    def free(self, run_id: str) -> str:
        """That id, or the first with a number behind it that no run has."""
        names = (run_id if n == 1 else f"{run_id}-{n}" for n in count(1))
        return next(name for name in names if name not in self._rows)

    def add(self, row: RunRow, items: int) -> None:
        """Take note of a run that the log holds by now."""
        self._rows[row.header.id] = row
        self._turns.setdefault(items, []).append(row.header.id)


def merge(log: RunLog, other: Path, settled_before_unix: float) -> Merged:
    """Take the runs of another log in, oldest first, each wholly or not at all.

    Deleted runs stay where they are. What the runs taught comes along, and so does what was said
    to have been changed on the rigs. The other log is only read.

    Args:
        log: the log that they come into; whoever watches may go on writing it.
        other: the other log.
        settled_before_unix: a run that was broken off later than this may go on, and waits [s].

    Raises:
        UsageError: the other log is this one, or not there.
        LogError: one of the two cannot be read or written; what was taken in by then stays.
    """
    if other.exists() and other.samefile(log.path):
        raise UsageError(f"{other} is this log itself; name the log of another machine")
    with _copied(log.path, other) as (copy, there):
        return _Merging(log, there, settled_before_unix).all(copy)


@contextmanager
def _copied(path: Path, other: Path) -> Iterator[tuple[Path, Archive]]:
    """A copy of the other log in today's format."""
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".merging-") as folder:
            copy = Path(folder) / "other.sqlite"
            snapshot(other, copy)
            with closing(open_log(copy, "NORMAL", create=False)) as db:
                yield copy, Archive(other, db)
    except OSError as fault:
        raise LogError(f"{other} cannot be merged: {path.parent}: {fault.strerror}") from None


class _Merging:
    def __init__(self, log: RunLog, there: Archive, settled_before_unix: float) -> None:
        self._log = log
        self._there = there
        self._settled = settled_before_unix
        self._here = Holdings(log)

    def all(self, copy: Path) -> Merged:
        taken: list[tuple[str, str]] = []
        grown: list[str] = []
        known: list[str] = []
        deleted: list[str] = []
        waiting: list[str] = []
        with self._log.beside(copy):
            for row in reversed(self._there.runs()):
                name = row.header.id
                going_on = row.state is RunState.RUNNING
                if going_on or (row.ended_at is None and row.last_unix >= self._settled):
                    waiting.append(name)
                elif (twin := self._twin(row)) is not None:
                    (deleted if twin.deleted_unix is not None else known).append(name)
                    if not self._taught(twin.header.id):
                        self._learn(name, twin.header.id)
                elif self._continues(row):
                    self._grow(name)
                    grown.append(name)
                else:
                    taken.append((name, self._take(row)))
            self._learn("", "")
            self._calibrate()
        return Merged(tuple(taken), tuple(grown), tuple(known), tuple(deleted), tuple(waiting))

    def _twin(self, row: RunRow) -> RunRow | None:
        head = row.header
        items = self._there.turns(head.id)
        namesake = self._here.row(head.id)
        if items:
            started = head.started_unix if head.virtual else None
            content = cache(lambda: fingerprint(self._there, head.id))
            return self._here.same(items, content, virtual=head.virtual, started=started)
        if namesake is not None and _together(namesake.header.started_unix, head.started_unix):
            return namesake
        return None

    def _continues(self, row: RunRow) -> bool:
        """Whether the run here of that id is the beginning of the one there."""
        name = row.header.id
        here = self._here.row(name)
        if here is None or here.state is not RunState.BROKEN_OFF or here.deleted_unix is not None:
            return False
        if not _together(here.header.started_unix, row.header.started_unix):
            return False
        items = self._log.turns(name)
        return items <= self._there.turns(name) and fingerprint(self._log, name) == fingerprint(
            self._there, name, items
        )

    def _take(self, row: RunRow) -> str:
        there, here = row.header.id, self._here.free(row.header.id)
        with self._log.writing() as db:
            columns = [
                name
                for (name,) in db.execute("SELECT name FROM pragma_table_info('run') ORDER BY cid")
                if name not in ("no", "id")
            ]
            names = ", ".join(columns)
            # Names of tables and columns come from the log's own schema, here and below.
            db.execute(
                f"INSERT INTO run (id, {names}) SELECT ?, {names} FROM other.run WHERE id = ?",  # noqa: S608 - see above
                (here, there),
            )
            self._rows(db, there, here, "")
        self._here.add(self._log.run(here), self._there.turns(there))
        self._learn(there, here)
        return here

    def _grow(self, name: str) -> None:
        with self._log.writing() as db:
            self._rows(db, name, name, "ON CONFLICT DO NOTHING")
            db.execute(
                "UPDATE run SET ended_at = (SELECT ended_at FROM other.run WHERE id = ?)"
                " WHERE id = ?",
                (name, name),
            )
        self._learn(name, name)

    def _rows(self, db: sqlite3.Connection, there: str, here: str, conflict: str) -> None:
        ((no,),) = db.execute("SELECT no FROM run WHERE id = ?", (here,)).fetchall()
        ((their_no,),) = db.execute("SELECT no FROM other.run WHERE id = ?", (there,)).fetchall()
        for table, columns in tables_of_a_run(db).items():
            names = ", ".join(f'"{name}"' for name in columns)
            db.execute(
                f'INSERT INTO "{table}" (run, {names}) SELECT ?, {names} FROM other."{table}"'  # noqa: S608 - see above
                f" WHERE run = ? {conflict}",
                (no, their_no),
            )

    def _calibrate(self) -> None:
        """Take over at which points probes were calibrated, each once."""
        names = ("rig", "probe", "at_unix", "kind", "text")
        columns = ", ".join(names)
        same = " AND ".join(f"our.{name} = their.{name}" for name in names)
        with self._log.writing() as db:
            db.execute(
                f"INSERT INTO calibration ({columns}, undone_unix)"  # noqa: S608 - names from above
                f" SELECT {columns}, undone_unix FROM other.calibration AS their WHERE NOT EXISTS"
                f" (SELECT 1 FROM main.calibration AS our WHERE {same}) ORDER BY no"
            )

    def _taught(self, run_id: str) -> bool:
        with self._log.writing() as db:
            found = db.execute("SELECT 1 FROM main.learned WHERE run = ?", (run_id,)).fetchone()
        return found is not None

    def _learn(self, there: str, here: str) -> None:
        """Take over what a run taught, or without a run what was changed on rigs; each once."""
        with self._log.writing() as db:
            db.execute(
                "INSERT INTO learned (rig, run, model_version, text)"
                " SELECT rig, ?, model_version, text FROM other.learned AS their WHERE run = ?"
                " AND NOT EXISTS (SELECT 1 FROM main.learned AS our WHERE our.rig = their.rig"
                " AND our.run = ? AND our.model_version = their.model_version"
                " AND our.text = their.text) ORDER BY no",
                (here, there, here),
            )


def _together(one_unix: float, other_unix: float) -> bool:
    return abs(one_unix - other_unix) <= _SAME_START_S
