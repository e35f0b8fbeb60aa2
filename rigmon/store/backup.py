"""A copy of the log put aside while it is in use, and put back when it is not."""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from itertools import count
from pathlib import Path

from rigmon.errors import LogError, UsageError
from rigmon.store.log import RunLog
from rigmon.store.schema import check, reason

_PATIENCE_S = 2.0


def backup(log: RunLog, target: Path) -> int:
    """Write the whole log, as it is at this moment, into a file of its own.

    Whoever watches goes on writing meanwhile. The file appears whole and checked, or not at all.

    Args:
        log: the log.
        target: the file.

    Returns:
        How many runs are in it.

    Raises:
        UsageError: there is something at that place already.
        LogError: it could not be written, or the copy is not sound.
    """
    _refuse_to_overwrite(target)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        log.vacuum_into(part)
        with _reading(part) as copy:
            _must_be_sound(copy, part)
            (runs,) = copy.execute("SELECT count(*) FROM run").fetchone()
        _sync(part)
        _place(part, target)
    except (sqlite3.Error, OSError) as fault:
        raise LogError(f"The backup {target} cannot be written: {reason(fault)}") from None
    finally:
        with suppress(OSError):
            part.unlink()
    return int(runs)


def restore(path: Path, source: Path) -> Path | None:
    """Put a backup in the place of the log; what was there stays beside it.

    Args:
        path: the log.
        source: the backup.

    Returns:
        Where the log that was there lies now; None if there was none.

    Raises:
        UsageError: the backup is the log itself, or not there.
        LogError: the backup is not sound, the log is in use, or it could not be written.
    """
    if not source.is_file():
        raise UsageError(f"There is no backup {source}: name a file that rigmon runs backup wrote")
    if path.exists() and path.samefile(source):
        raise UsageError(f"{source} is the log itself; name the backup")
    try:
        with _reading(source) as copy:
            check(copy, source)
            _must_be_sound(copy, source)
            if not copy.execute("SELECT 1 FROM sqlite_schema WHERE name = 'run'").fetchone():
                raise LogError(f"{source} holds no runs; name a file that rigmon runs backup wrote")
            return _put_back(path, copy)
    except (sqlite3.Error, OSError) as fault:
        raise LogError(f"{source} cannot be put in the place of {path}: {reason(fault)}") from None


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A log opened so that nothing in it can change."""
    name = f"{path.resolve().as_uri()}?mode=ro"
    with ExitStack() as opened:
        connection = opened.enter_context(_opened(name))
        try:
            connection.execute("SELECT 1 FROM sqlite_schema")
        except sqlite3.OperationalError:
            # A log in its everyday state wants a journal beside it. On a medium that cannot be
            # written there is none, and the file is whole by itself.
            if path.with_name(f"{path.name}-wal").exists():
                raise
            connection = opened.enter_context(_opened(f"{name}&immutable=1"))
        yield connection


def _opened(name: str) -> closing[sqlite3.Connection]:
    return closing(sqlite3.connect(name, uri=True, timeout=_PATIENCE_S, isolation_level=None))


def snapshot(source: Path, target: Path) -> None:
    """Copy any log, even one in use or on a medium that cannot be written, into a new file.

    Raises:
        UsageError: it is not there.
        LogError: it is no run log or a newer one, or it cannot be read.
    """
    if not source.is_file():
        raise UsageError(f"There is no run log {source}; check the path")
    try:
        with _reading(source) as there, closing(sqlite3.connect(target)) as copy:
            check(there, source)
            there.backup(copy)
    except sqlite3.Error as fault:
        raise LogError(f"The run log {source} cannot be read: {reason(fault)}") from None


def _put_back(path: Path, copy: sqlite3.Connection) -> Path | None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = _beside(path) if path.exists() else None
    with closing(sqlite3.connect(path, timeout=_PATIENCE_S, isolation_level=None)) as log:
        if beside is None or _held_alone(log, path):
            if beside is not None:
                shutil.copyfile(path, beside)
                _sync(beside)
            copy.backup(log)
            return beside
    # What lies there is so damaged that SQLite does not take it for its own.
    for ending in ("", "-wal", "-shm"):
        old = path.with_name(path.name + ending)
        if old.exists() and beside is not None:
            old.rename(beside.with_name(beside.name + ending))
    with closing(sqlite3.connect(path, isolation_level=None)) as log:
        copy.backup(log)
    return beside


def _held_alone(log: sqlite3.Connection, path: Path) -> bool:
    """Take hold of the log until it is closed; False where it is no log any more.

    Raises:
        LogError: another program has it open.
    """
    try:
        check(log, path)
        log.execute("PRAGMA locking_mode = EXCLUSIVE")
        # SQLite leaves the everyday journal only for whoever has the file to himself.
        log.execute("PRAGMA journal_mode = DELETE").fetchone()
        log.execute("BEGIN EXCLUSIVE")
        log.execute("COMMIT")
    except sqlite3.Error as fault:
        name = getattr(fault, "sqlite_errorname", "")
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise LogError(
                f"The run log {path} is in use: end what watches, replays or reads it, "
                "then restore again"
            ) from None
        if name.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT")):
            return False
        raise
    return True


def _beside(path: Path) -> Path:
    moment = time.strftime("%Y%m%dT%H%M%SZ", time.gmtime())
    names = (f"{path.name}.before-{moment}{f'-{n}' if n > 1 else ''}" for n in count(1))
    return next(path.with_name(name) for name in names if not path.with_name(name).exists())


def _must_be_sound(connection: sqlite3.Connection, path: Path) -> None:
    (said,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    if said != "ok":
        raise LogError(f"{path} is damaged ({said}); use another copy")


def _refuse_to_overwrite(target: Path) -> None:
    if target.exists():
        raise UsageError(f"{target} is there already and is not overwritten; name another file")


def _place(part: Path, target: Path) -> None:
    """Give a finished file its name, unless something took that name meanwhile."""
    try:
        target.hardlink_to(part)
    except FileExistsError:
        _refuse_to_overwrite(target)
    except OSError:
        # A memory stick's file system may know no second name of a file.
        _refuse_to_overwrite(target)
        part.rename(target)


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
