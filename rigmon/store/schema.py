"""The run log's tables, and how an older log becomes a newer one."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Sequence
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Literal

from rigmon.errors import LogError

Synchronous = Literal["FULL", "NORMAL"]
"""FULL keeps the last second through a power cut; NORMAL keeps it through a crash only."""

APPLICATION_ID = 0x7269676D
"""Marks an SQLite file as a run log: `rigm` in ASCII."""

MIGRATIONS: Sequence[Sequence[str]] = (
    (
        """
        CREATE TABLE run (
            no INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            rig TEXT NOT NULL,
            started_unix REAL NOT NULL,
            recipe TEXT NOT NULL,
            document TEXT NOT NULL,
            virtual INTEGER NOT NULL,
            version TEXT NOT NULL,
            process TEXT NOT NULL,
            ended_at REAL
        ) STRICT
        """,
        # ANY, since a REAL column stores -0.0 as the integer 0 and loses its sign.
        """
        CREATE TABLE reading (
            run INTEGER NOT NULL REFERENCES run (no),
            seq INTEGER NOT NULL,
            clock ANY NOT NULL,
            t ANY NOT NULL,
            probe TEXT NOT NULL,
            value ANY,
            unit TEXT NOT NULL,
            cj_c ANY,
            fault TEXT,
            board_s ANY,
            by TEXT NOT NULL,
            sd_k ANY,
            PRIMARY KEY (run, seq)
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE mark (
            run INTEGER NOT NULL REFERENCES run (no),
            seq INTEGER NOT NULL,
            clock ANY NOT NULL,
            t ANY NOT NULL,
            word TEXT NOT NULL,
            by TEXT NOT NULL,
            detail TEXT NOT NULL,
            PRIMARY KEY (run, seq)
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE condition (
            run INTEGER NOT NULL REFERENCES run (no),
            seq INTEGER NOT NULL,
            clock ANY NOT NULL,
            t ANY NOT NULL,
            code TEXT NOT NULL,
            active INTEGER NOT NULL,
            text TEXT NOT NULL,
            PRIMARY KEY (run, seq)
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE said (
            run INTEGER NOT NULL REFERENCES run (no),
            seq INTEGER NOT NULL,
            at REAL NOT NULL,
            kind TEXT NOT NULL,
            line TEXT NOT NULL,
            PRIMARY KEY (run, seq)
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE learned (
            no INTEGER PRIMARY KEY,
            rig TEXT NOT NULL,
            run TEXT NOT NULL,
            model_version TEXT NOT NULL,
            text TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX learned_rig ON learned (rig, model_version)",
    ),
    (
        "ALTER TABLE run ADD COLUMN deleted_unix REAL",
        """
        CREATE TABLE tag (
            run INTEGER NOT NULL REFERENCES run (no),
            word TEXT NOT NULL,
            PRIMARY KEY (run, word)
        ) STRICT, WITHOUT ROWID
        """,
    ),
    (
        """
        CREATE TABLE calibration (
            no INTEGER PRIMARY KEY,
            rig TEXT NOT NULL,
            probe TEXT NOT NULL,
            at_unix REAL NOT NULL,
            kind TEXT NOT NULL,
            text TEXT NOT NULL,
            undone_unix REAL
        ) STRICT
        """,
        "CREATE INDEX calibration_rig ON calibration (rig, probe)",
    ),
    (
        """
        CREATE TABLE measured (
            run INTEGER PRIMARY KEY REFERENCES run (no),
            made_by TEXT NOT NULL,
            of TEXT NOT NULL,
            text TEXT NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE tasting (
            run INTEGER NOT NULL REFERENCES run (no),
            at_unix REAL NOT NULL,
            texture INTEGER,
            note TEXT NOT NULL,
            PRIMARY KEY (run, at_unix)
        ) STRICT, WITHOUT ROWID
        """,
    ),
)
"""Statements that lead from format n to n + 1. One that has been released never changes."""

_OLDEST_SQLITE = (3, 37, 0)
_BUSY_S = 2.0
_BUSY_PAUSE_S = 0.02
_KEPT_JOURNAL_BYTES = 4 * 1024 * 1024


def open_log(path: Path, synchronous: Synchronous, *, create: bool) -> sqlite3.Connection:
    """An open and up-to-date run log.

    Args:
        path: the file.
        synchronous: how much a power cut may cost.
        create: True makes a log where there is none, and its directory for its owner alone.

    Raises:
        LogError: it is no run log, is newer than this program, or cannot be opened.
    """
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        raise LogError(
            f"Python here has SQLite {sqlite3.sqlite_version}; the run log needs 3.37 or newer"
        )
    until = time.monotonic() + _BUSY_S
    while True:
        try:
            _prepare(path, create=create)
            return _open(path, synchronous)
        except (sqlite3.Error, OSError) as fault:
            # SQLite does not wait for a lock where two programs turn to WAL at the same moment
            if not _is_busy(fault) or time.monotonic() >= until:
                raise LogError(f"The run log {path} cannot be opened: {reason(fault)}") from None
        time.sleep(_BUSY_PAUSE_S)


def migrate(
    connection: sqlite3.Connection, migrations: Sequence[Sequence[str]] = MIGRATIONS
) -> None:
    """Bring a log to the newest format, in one transaction: wholly or not at all.

    Args:
        connection: the log.
        migrations: statements that lead from format n to n + 1.
    """
    if _pragma(connection, "user_version") >= len(migrations):
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in migrations[_pragma(connection, "user_version") :]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(migrations)}")
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def reason(fault: Exception) -> str:
    """What keeps a log from being read or written, as a maker can act on it."""
    name = getattr(fault, "sqlite_errorname", "")
    known = {
        "SQLITE_NOTADB": "it is not a run log; move it away or give another path",
        "SQLITE_FULL": "the disk is full; make room",
        "SQLITE_BUSY": "another program holds it locked; close that program",
        "SQLITE_CANTOPEN": "it is a directory, or its directory may not be entered or written",
        "SQLITE_READONLY": "it may not be written; check its owner and permissions",
    }
    for code, sentence in known.items():
        if name.startswith(code):
            return sentence
    if isinstance(fault, OSError) and fault.strerror:
        return fault.strerror
    return str(fault)


def tables_of_a_run(connection: sqlite3.Connection) -> dict[str, tuple[str, ...]]:
    """The tables that hold something of runs under `run`, and what else a row of each holds.

    A row's own number, where it has one, is left out: in another log it would be another.
    """
    found: dict[str, tuple[str, ...]] = {}
    tables = connection.execute(
        "SELECT DISTINCT one.name FROM sqlite_schema AS one"
        " JOIN pragma_foreign_key_list(one.name) AS key"
        " WHERE one.type = 'table' AND key.\"table\" = 'run' ORDER BY one.name"
    ).fetchall()
    for (table,) in tables:
        columns = connection.execute(
            "SELECT name, pk FROM pragma_table_info(?) ORDER BY cid", (table,)
        ).fetchall()
        alone = sum(1 for _, pk in columns if pk) == 1
        found[table] = tuple(name for name, pk in columns if name != "run" and not (pk and alone))
    return found


def _open(path: Path, synchronous: Synchronous) -> sqlite3.Connection:
    with ExitStack() as undo:
        connection = undo.enter_context(
            closing(
                sqlite3.connect(
                    path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False
                )
            )
        )
        check(connection, path)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(f"PRAGMA synchronous = {synchronous}")
        connection.execute(f"PRAGMA journal_size_limit = {_KEPT_JOURNAL_BYTES}")
        connection.execute("PRAGMA foreign_keys = ON")
        migrate(connection)
        undo.pop_all()
    return connection


def _is_busy(fault: Exception) -> bool:
    return getattr(fault, "sqlite_errorname", "").startswith("SQLITE_BUSY")


def _prepare(path: Path, *, create: bool) -> None:
    if create:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    elif not path.exists():
        raise LogError(f"There is no run log at {path} yet; a first run makes it")


def check(connection: sqlite3.Connection, path: Path) -> None:
    """Make sure that a file is a run log, or empty, and that this program knows its format.

    Args:
        connection: the open file.
        path: the file, for messages.

    Raises:
        LogError: it is not, or it does not.
    """
    version = _pragma(connection, "user_version")
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if _pragma(connection, "application_id") != APPLICATION_ID and (tables or version):
        raise LogError(f"{path} is an SQLite file of another program; give another path")
    if version > len(MIGRATIONS):
        raise LogError(
            f"{path} was written by a newer rigmon (log format {version}, this one knows "
            f"{len(MIGRATIONS)}); install the newer one or give another path"
        )


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    (value,) = connection.execute(f"PRAGMA {name}").fetchone()
    return int(value)
