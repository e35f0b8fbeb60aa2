"""A log is copied while it is written, and put back only where nobody has it open."""

from __future__ import annotations

import os
import resource
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pytest

from rigmon.errors import LogError, UsageError
from rigmon.records import Reading
from rigmon.store import RunLog
from rigmon.store.backup import backup, restore, snapshot
from rigmon.store.merge import merge

if TYPE_CHECKING:
    from tests.store.conftest import Put


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file of this process may grow past a size [bytes]."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def names(path: Path) -> list[str]:
    """Ids of the runs in a log."""
    with RunLog(path, create=False) as log:
        return [row.header.id for row in log.runs()]


def test_a_backup_taken_under_a_writer_is_whole(log: RunLog, put: Put, tmp_path: Path) -> None:
    """Each copy holds the first so many readings of the run that is being written, and no less."""
    put(log, "a", end=False)
    stop = threading.Event()

    def write() -> None:
        with RunLog(log.path, "NORMAL") as own:
            t = 3.0
            while not stop.is_set():
                t += 1.0
                own.add("a", Reading(t, "bath", -15.0), t)
                own.commit()

    writer = threading.Thread(target=write)
    writer.start()
    seen = []
    try:
        with RunLog(log.path, create=False) as other:
            for n in range(4):
                before = log.turns("a")
                assert backup(other, tmp_path / f"{n}.sqlite") == 1
                with RunLog(tmp_path / f"{n}.sqlite", create=False) as copy:
                    items = [item for _, item in copy.items("a")]
                assert before <= len(items) <= log.turns("a")
                assert [item.t for item in items[4:]] == [4.0 + k for k in range(len(items) - 4)]
                seen.append(len(items))
    finally:
        stop.set()
        writer.join()
    assert seen[-1] > seen[0]
    assert not list(tmp_path.glob(".*"))


def test_a_backup_holds_everything_and_is_a_log(log: RunLog, put: Put, tmp_path: Path) -> None:
    """Deleted runs, tags and what was learned come along."""
    put(log, "a")
    put(log, "b", -16.0)
    with log.writing() as db:
        db.execute("UPDATE run SET deleted_unix = 1.0 WHERE id = 'b'")
        db.execute("INSERT INTO tag VALUES (1, 'plum')")
    assert backup(log, tmp_path / "copy.sqlite") == 2
    with RunLog(tmp_path / "copy.sqlite", create=False) as copy:
        assert (copy.runs(), copy.runs(deleted=True)) == (log.runs(), log.runs(deleted=True))
        assert copy.learned("porch") == log.learned("porch")
        assert list(copy.items("a")) == list(log.items("a"))


def test_a_backup_overwrites_nothing_and_leaves_no_half(
    log: RunLog, put: Put, tmp_path: Path
) -> None:
    """What is there stays; on a full disk or in no folder there is a sentence and no file."""
    put(log, "a")
    target = tmp_path / "copy.sqlite"
    target.write_text("mine")
    with pytest.raises(UsageError, match=r"copy.sqlite is there already and is not overwritten"):
        backup(log, target)
    assert target.read_text() == "mine"
    with largest_file(20_000), pytest.raises(LogError, match=r"full.sqlite cannot be written: \w"):
        backup(log, tmp_path / "full.sqlite")
    with pytest.raises(LogError, match=r"copy.sqlite cannot be written: \w"):
        backup(log, tmp_path / "nowhere" / "copy.sqlite")
    assert {path.name.partition("-")[0] for path in tmp_path.iterdir()} == {
        "copy.sqlite",
        "runs.sqlite",
    }
    log._db.execute("SELECT 1")


def test_a_file_system_without_second_names_is_written_too(
    log: RunLog, put: Put, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A memory stick is where backups go."""

    def refuse(_self: Path, _target: Path) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    put(log, "a")
    assert backup(log, tmp_path / "copy.sqlite") == 1
    assert names(tmp_path / "copy.sqlite") == ["a"]


def test_a_backup_is_put_back_and_what_was_there_is_kept(put: Put, tmp_path: Path) -> None:
    """Beside the log, whole, under a name that says when; and back again from there."""
    path, copy = tmp_path / "runs.sqlite", tmp_path / "copy.sqlite"
    with RunLog(path) as log:
        put(log, "a")
        backup(log, copy)
        put(log, "b", -16.0)
    beside = restore(path, copy)
    assert beside is not None
    assert beside.name.startswith("runs.sqlite.before-")
    assert (names(path), sorted(names(beside))) == (["a"], ["a", "b"])
    second = restore(path, beside)
    assert second not in (None, beside)
    assert sorted(names(path)) == ["a", "b"]


def test_a_backup_makes_a_log_where_there_is_none(log: RunLog, put: Put, tmp_path: Path) -> None:
    """As on a new machine."""
    put(log, "a")
    backup(log, tmp_path / "copy.sqlite")
    new = tmp_path / "data" / "rigmon" / "runs.sqlite"
    assert restore(new, tmp_path / "copy.sqlite") is None
    assert names(new) == ["a"]


def test_a_log_that_somebody_has_open_is_not_replaced(
    log: RunLog, put: Put, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even if no run goes on just now; and it is as it was."""
    monkeypatch.setattr("rigmon.store.backup._PATIENCE_S", 0.05)
    backup(log, tmp_path / "copy.sqlite")
    put(log, "a")
    with pytest.raises(LogError, match="is in use: end what watches, replays or reads it"):
        restore(log.path, tmp_path / "copy.sqlite")
    put(log, "b", -16.0)
    log.close()
    assert names(log.path) == ["b", "a"]
    assert not list(tmp_path.glob("*.before-*"))


def test_a_damaged_log_is_replaced_and_kept(log: RunLog, put: Put, tmp_path: Path) -> None:
    """That is what the backup was for."""
    put(log, "a")
    backup(log, tmp_path / "copy.sqlite")
    path = tmp_path / "broken" / "runs.sqlite"
    path.parent.mkdir()
    path.write_bytes(b"\0" * 5000)
    beside = restore(path, tmp_path / "copy.sqlite")
    assert beside is not None
    assert beside.read_bytes() == b"\0" * 5000
    assert names(path) == ["a"]


def test_what_is_no_sound_backup_changes_nothing(log: RunLog, put: Put, tmp_path: Path) -> None:
    """A damaged one, another program's, an empty one, none, and the log itself."""
    put(log, "a")
    copy = tmp_path / "copy.sqlite"
    backup(log, copy)
    path = log.path
    log.close()
    before = path.read_bytes()
    damaged, other, empty = (tmp_path / f"{name}.sqlite" for name in ("bad", "other", "empty"))
    raw = bytearray(copy.read_bytes())
    for page in range(2, len(raw) // 4096):
        raw[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    damaged.write_bytes(raw)
    with closing(sqlite3.connect(other)) as db:
        db.execute("CREATE TABLE theirs (x)")
    empty.touch()
    for source, kind, words in (
        (damaged, LogError, r"bad.sqlite"),
        (other, LogError, "SQLite file of another program"),
        (empty, LogError, "holds no runs"),
        (tmp_path / "none", UsageError, "There is no backup"),
        (path, UsageError, "is the log itself"),
    ):
        with pytest.raises(kind, match=words):
            restore(path, source)
    assert path.read_bytes() == before
    assert not list(tmp_path.glob("*.before-*"))
    with pytest.raises(LogError, match="SQLite file of another program"):
        restore(other, copy)


def test_a_log_on_a_medium_that_cannot_be_written_is_read(put: Put) -> None:
    """An archive on a memory stick with its switch on; nothing is left beside it."""
    me = os.geteuid()
    with TemporaryDirectory() as folder:
        there, mine = Path(folder) / "stick", Path(folder) / "mine"
        for path in (there, mine):
            path.mkdir()
        with RunLog(there / "runs.sqlite") as log:
            put(log, "a")
        Path(folder).chmod(0o755)
        mine.chmod(0o777)
        (there / "runs.sqlite").chmod(0o444)
        there.chmod(0o555)
        if me == 0:
            os.seteuid(65_534)
        try:
            snapshot(there / "runs.sqlite", mine / "copy.sqlite")
            assert [path.name for path in there.iterdir()] == ["runs.sqlite"]
            with RunLog(there.with_name("mine") / "new.sqlite") as log:
                assert merge(log, there / "runs.sqlite", 2e9).taken == (("a", "a"),)
        finally:
            os.seteuid(me)
            there.chmod(0o755)


def test_a_disk_that_gets_full_on_the_way_keeps_the_log(put: Put, tmp_path: Path) -> None:
    """The log is rolled back to what it was; the copy beside it may be there or not."""
    path, copy = tmp_path / "runs.sqlite", tmp_path / "copy.sqlite"
    with RunLog(path) as log:
        put(log, "a")
        for n in range(40):
            put(log, f"more-{n}", float(n))
        backup(log, copy)
    with RunLog(tmp_path / "small.sqlite") as small:
        put(small, "only")
    with largest_file(copy.stat().st_size - 4096), pytest.raises(LogError, match="cannot be put"):
        restore(tmp_path / "small.sqlite", copy)
    assert names(tmp_path / "small.sqlite") == ["only"]
