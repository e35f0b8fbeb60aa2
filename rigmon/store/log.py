"""The run log: one SQLite file that keeps what every run was fed and what was said of it."""

from __future__ import annotations

import math
import os
import sqlite3
from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from types import TracebackType
from typing import Self

from rigmon.errors import LogError, LogStopped
from rigmon.records import Item
from rigmon.store.archive import Archive
from rigmon.store.entries import RunHeader
from rigmon.store.process import process_name
from rigmon.store.schema import Synchronous, open_log, reason
from rigmon.store.shelves import SHELVES, Cells, pack, plain

_NEW_RUN = (
    "INSERT INTO run (process, id, rig, started_unix, recipe, document, virtual, version)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING"
)
_NEW_LINE = "INSERT INTO said (run, seq, at, kind, line) VALUES (?, ?, ?, ?, ?)"
_LAST_LINE = "SELECT coalesce(max(seq), 0) FROM said WHERE run = ?"
_END = "UPDATE run SET ended_at = ? WHERE id = ?"
_CARRY_ON = "UPDATE run SET process = ? WHERE id = ?"
_LEARN = "INSERT INTO learned (rig, run, model_version, text) VALUES (?, ?, ?, ?)"


def default_log_path(environ: Mapping[str, str] = os.environ) -> Path:
    """Where the log lies unless the maker says otherwise.

    >>> default_log_path({"XDG_DATA_HOME": "/home/ada/data"}).as_posix()
    '/home/ada/data/rigmon/runs.sqlite'
    """
    if named := environ.get("RIGMON_LOG"):
        return Path(named)
    data = Path(environ.get("XDG_DATA_HOME", ""))
    home = data if data.is_absolute() else Path.home() / ".local" / "share"
    return home / "rigmon" / "runs.sqlite"


class RunLog(Archive):
    """The run log, open for reading and writing.

    What is added waits in memory until `commit`. Threads may share one `RunLog`; processes may
    share the file, each with a `RunLog` of its own.

    Args:
        path: the file.
        synchronous: how much a power cut may cost.
        create: False refuses to make a new log.
        keep: how many entries wait at most while the log cannot be written; past that the oldest
            lines said go first, then the oldest items, and `dropped` counts them.

    Raises:
        LogError: the file is no run log, is newer than this program, or cannot be opened.
    """

    def __init__(
        self,
        path: str | Path,
        synchronous: Synchronous = "FULL",
        *,
        create: bool = True,
        keep: int = 500_000,
    ) -> None:
        super().__init__(Path(path), open_log(Path(path), synchronous, create=create))
        self.dropped = 0
        self._keep = keep
        self._facts: list[tuple[str, Cells]] = []
        self._items: deque[tuple[str, type[Item], Cells]] = deque()
        self._said: deque[tuple[str, Cells]] = deque()
        self._known: set[str] = set()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Write what waits, then close.

        Raises:
            LogStopped: what waited could not be written and is lost.
        """
        with self._lock:
            try:
                self.commit()
            finally:
                self._db.close()

    def begin(self, header: RunHeader) -> None:
        """Start a run; it is on the disk when this returns.

        Raises:
            LogStopped: not yet on the disk; the run may go on and is written as soon as can be.
            LogError: there is a run of that id already.
        """
        with self._lock:
            if self._knows(header.id):
                raise LogError(f"Run {header.id} is in the log {self.path} already")
            cells = (
                process_name(os.getpid()),
                header.id,
                header.rig,
                float(header.started_unix),
                plain(header.recipe),
                plain(header.document),
                int(header.virtual),
                header.version,
            )
            self._facts.append((_NEW_RUN, cells))
            self._known.add(header.id)
            self.commit()

    def add(self, run_id: str, item: Item, clock: float) -> None:
        """Keep an item for the next commit, behind all that were added before.

        Args:
            run_id: the run.
            item: what the monitor is fed.
            clock: the monitor's clock just before it is fed [s]; minus infinity if it had none.

        Raises:
            ValueError: a time that is no number.
            LogError: no such run.
        """
        if not math.isfinite(item.t) or not clock < math.inf:
            raise ValueError(f"t {item.t}, clock {clock}: a time must be a finite number")
        with self._lock:
            self._need(run_id)
            self._items.append((run_id, type(item), (float(clock), *pack(item))))
            self._make_room()

    def say(self, run_id: str, at: float, kind: str, line: str) -> None:
        """Keep a line that was said for the next commit.

        Args:
            run_id: the run.
            at: run time [s].
            kind: its type, for instance `alarm`.
            line: the JSON line.

        Raises:
            ValueError: a time that is no number.
            LogError: no such run.
        """
        if not math.isfinite(at):
            raise ValueError(f"at {at}: a time must be a finite number")
        with self._lock:
            self._need(run_id)
            self._said.append((run_id, (float(at), plain(kind), plain(line))))
            self._make_room()

    @property
    def pending(self) -> int:
        """Entries that wait for the next commit."""
        with self._lock:
            return len(self._facts) + len(self._items) + len(self._said)

    def commit(self) -> None:
        """Write all that waits, in one transaction: wholly or not at all.

        Raises:
            LogStopped: it could not be written; all of it still waits.
        """
        with self._lock:
            if not self.pending:
                return
            try:
                self._db.execute("BEGIN IMMEDIATE")
                for statement, cells in self._facts:
                    self._db.execute(statement, cells)
                self._write_items()
                self._write_said()
                self._db.execute("COMMIT")
            except (sqlite3.Error, LogError) as fault:
                raise LogStopped(
                    f"The run log {self.path} cannot be written: {reason(fault)}. "
                    f"{self.pending} entries wait in memory and are written once it can be"
                ) from None
            finally:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
            self._facts.clear()
            self._items.clear()
            self._said.clear()

    def carry_on(self, run_id: str) -> None:
        """Let this process be the one that watches a run which was broken off.

        Raises:
            LogStopped: not yet on the disk; it is written as soon as can be.
            LogError: no such run.
        """
        with self._lock:
            self._need(run_id)
            self._facts.append((_CARRY_ON, (process_name(os.getpid()), run_id)))
            self.commit()

    def end(self, run_id: str, at: float) -> None:
        """End a run; it is on the disk when this returns.

        Args:
            run_id: the run.
            at: run time [s].

        Raises:
            LogStopped: not yet on the disk; it is written as soon as can be.
            LogError: no such run.
        """
        with self._lock:
            self._need(run_id)
            self._facts.append((_END, (float(at), run_id)))
            self.commit()
            # Someone who is just reading keeps the journal as it is until the next run ends.
            with suppress(sqlite3.Error):
                self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def learn(self, rig: str, run_id: str, model_version: str, text: str) -> None:
        """Keep what a run taught of its rig; it is on the disk when this returns.

        Raises:
            LogStopped: not yet on the disk; it is written as soon as can be.
        """
        with self._lock:
            self._facts.append((_LEARN, (rig, run_id, model_version, plain(text))))
            self.commit()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """The log in one transaction, for what is written at once or not at all.

        Raises:
            LogError: it could not be written, and is as it was.
        """
        with self._lock:
            try:
                self._db.execute("BEGIN IMMEDIATE")
                yield self._db
                self._db.execute("COMMIT")
            except sqlite3.Error as fault:
                raise LogError(
                    f"The run log {self.path} cannot be written: {reason(fault)}"
                ) from None
            finally:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")

    @contextmanager
    def beside(self, other: Path) -> Iterator[None]:
        """Have another log at hand under the name `other`.

        Raises:
            LogError: it cannot be opened.
        """
        with self._lock:
            try:
                self._db.execute("ATTACH ? AS other", (str(other),))
            except sqlite3.Error as fault:
                raise LogError(f"{other} cannot be opened: {reason(fault)}") from None
            try:
                yield
            finally:
                self._db.execute("DETACH other")

    def vacuum_into(self, path: Path) -> None:
        """Write what has been committed, packed, into a new file; others go on writing meanwhile.

        Raises:
            sqlite3.Error: it could not be written.
        """
        with self._lock:
            self._db.execute("VACUUM INTO ?", (str(path),))

    def _knows(self, run_id: str) -> bool:
        if run_id not in self._known and self._read("SELECT 1 FROM run WHERE id = ?", (run_id,)):
            self._known.add(run_id)
        return run_id in self._known

    def _need(self, run_id: str) -> None:
        if not self._knows(run_id):
            raise self._no_run(run_id)

    def _make_room(self) -> None:
        while len(self._items) + len(self._said) > self._keep:
            if self._said:
                self._said.popleft()
            else:
                self._items.popleft()
            self.dropped += 1

    def _write_items(self) -> None:
        turns = self._turns((run_id for run_id, _, _ in self._items), lambda no: self._last(no)[0])
        rows: dict[type[Item], list[Cells]] = defaultdict(list)
        for turn, (_, kind, cells) in zip(turns, self._items, strict=True):
            rows[kind].append((*turn, *cells))
        for kind, ready in rows.items():
            self._db.executemany(SHELVES[kind].insert, ready)

    def _write_said(self) -> None:
        turns = self._turns(
            (run_id for run_id, _ in self._said),
            lambda no: int(self._read(_LAST_LINE, (no,))[0][0]),
        )
        rows = [(*turn, *cells) for turn, (_, cells) in zip(turns, self._said, strict=True)]
        self._db.executemany(_NEW_LINE, rows)

    def _turns(
        self, run_ids: Iterable[str], last: Callable[[int], int]
    ) -> Iterator[tuple[int, int]]:
        """Number of the run and the next free turn in it, for each entry."""
        runs: dict[str, tuple[int, Iterator[int]]] = {}
        for run_id in run_ids:
            if run_id not in runs:
                no = self._number(run_id)
                runs[run_id] = no, count(last(no) + 1)
            no, turns = runs[run_id]
            yield no, next(turns)
