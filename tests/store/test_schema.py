"""Logs are opened, refused with a sentence, and brought to the newest format."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from rigmon.errors import LogError
from rigmon.records import Mark, MarkWord, Reading
from rigmon.store import RunHeader, RunLog
from rigmon.store.schema import APPLICATION_ID, MIGRATIONS, migrate
from rigmon.store.upkeep import delete, tag

MakeHeader = Callable[..., RunHeader]


def pragma(db: sqlite3.Connection, name: str) -> object:
    """A setting of an SQLite file."""
    return db.execute(f"PRAGMA {name}").fetchone()[0]


def test_a_new_log_has_the_settings_that_keep_it_safe(log: RunLog) -> None:
    """Write-ahead journal, full sync, a bounded journal, and a file that says whose it is."""
    names = ("journal_mode", "synchronous", "application_id", "user_version", "foreign_keys")
    assert [pragma(log._db, name) for name in names] == [
        "wal",
        2,
        APPLICATION_ID,
        len(MIGRATIONS),
        1,
    ]
    assert 0 < int(str(pragma(log._db, "journal_size_limit"))) < 100_000_000


def test_every_table_is_strict(log: RunLog) -> None:
    """SQLite itself refuses a value of the wrong type."""
    tables = log._db.execute("SELECT name, strict FROM pragma_table_list WHERE type = 'table'")
    own = [strict for name, strict in tables if not str(name).startswith("sqlite_")]
    assert len(own) == 10
    assert all(own)


def test_syncing_less_is_a_setting(tmp_path: Path) -> None:
    """NORMAL may be chosen where the card is slow."""
    with RunLog(tmp_path / "runs.sqlite", "NORMAL") as log:
        assert pragma(log._db, "synchronous") == 1


def test_an_empty_file_becomes_a_log(tmp_path: Path) -> None:
    """A file of no bytes is format 0."""
    path = tmp_path / "runs.sqlite"
    path.touch()
    with RunLog(path) as log:
        assert log.runs() == ()


def test_an_older_log_is_brought_up_and_keeps_its_runs(log: RunLog, header: MakeHeader) -> None:
    """A step to a newer format finds what is there, and runs once."""
    log.begin(header("a"))
    newer = (*MIGRATIONS, ("ALTER TABLE run ADD COLUMN place TEXT NOT NULL DEFAULT 'here'",))
    for _ in range(2):
        migrate(log._db, newer)
    assert log._db.execute("SELECT id, place FROM run").fetchall() == [("a", "here")]
    assert pragma(log._db, "user_version") == len(newer)


def test_a_log_of_the_first_format_is_brought_up_with_all_that_is_in_it(
    first_format: Path,
) -> None:
    """Its runs, items, lines and what it had learned are there, and new things can be kept."""
    with RunLog(first_format) as log:
        broken, ended = log.runs()
        assert (ended.state, ended.ended_at, ended.readings, ended.marks) == ("ended", 60.0, 2, 1)
        assert (broken.state, broken.ended_at, broken.duration_s) == ("broken off", None, 7.0)
        assert (ended.tags, ended.deleted_unix) == ((), None)
        bath, pour, mix = [item for _, item in log.items(ended.header.id)]
        assert bath == Reading(1.0, "bath", -15.5)
        assert pour == Mark(2.0, MarkWord.POUR, detail={"mix_g": 900.0})
        assert isinstance(mix, Reading)
        assert str(mix.value) == "nan"
        assert list(log.said(ended.header.id)) == ['{"type":"mark","at":2.0}']
        assert [taught.text for taught in log.learned("porch", "1")] == ["{}"]
        tag(log, [ended.header.id], ["plum"])
        delete(log, [broken.header.id], 1.0)
    with RunLog(first_format, create=False) as log:
        assert [row.tags for row in log.runs()] == [("plum",)]
        assert pragma(log._db, "user_version") == len(MIGRATIONS)


def test_a_step_that_fails_leaves_the_log_as_it_was(log: RunLog, header: MakeHeader) -> None:
    """A log is in one format or the next, never between."""
    log.begin(header("a"))
    broken = (*MIGRATIONS, ("CREATE TABLE more (x TEXT) STRICT", "no such statement"))
    with pytest.raises(sqlite3.OperationalError):
        migrate(log._db, broken)
    assert pragma(log._db, "user_version") == len(MIGRATIONS)
    assert log._db.execute("SELECT name FROM sqlite_schema WHERE name = 'more'").fetchall() == []
    log.begin(header("b"))


def test_a_newer_log_is_refused_untouched(tmp_path: Path) -> None:
    """A program that does not know a format does not write into it."""
    path = tmp_path / "runs.sqlite"
    RunLog(path).close()
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    with pytest.raises(LogError, match=r"written by a newer rigmon \(log format 99"):
        RunLog(path)
    assert path.read_bytes() == before


def test_what_is_no_log_is_refused_untouched(tmp_path: Path) -> None:
    """Neither another program's database nor a file of another kind is written into."""
    text = tmp_path / "text"
    text.write_text("time_s,bath_c\n" * 100)
    other = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(other)) as db:
        db.execute("CREATE TABLE theirs (x)")
    for path, words in ((text, "not a run log"), (other, "SQLite file of another program")):
        before = path.read_bytes()
        with pytest.raises(LogError, match=words):
            RunLog(path)
        assert path.read_bytes() == before
    with pytest.raises(LogError, match="directory"):
        RunLog(tmp_path)


def test_a_log_that_must_be_there_is_not_made(tmp_path: Path) -> None:
    """Asking for runs where there are none leaves no file behind."""
    with pytest.raises(LogError, match=r"no run log at .* yet"):
        RunLog(tmp_path / "runs.sqlite", create=False)
    assert list(tmp_path.iterdir()) == []


def test_a_locked_log_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log that another program holds is named as held."""
    monkeypatch.setattr("rigmon.store.schema._BUSY_S", 0.01)
    path = tmp_path / "runs.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(LogError, match="another program holds it locked"):
            RunLog(path)


def test_a_directory_that_is_made_is_for_its_owner_alone(tmp_path: Path) -> None:
    """Nobody else on the machine reads when somebody is in the kitchen."""
    path = tmp_path / "data" / "rigmon" / "runs.sqlite"
    RunLog(path).close()
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


@pytest.fixture
def readable() -> Iterator[Path]:
    """A log that may be read and not written, and its owner turned into somebody else."""
    me = os.geteuid()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "runs.sqlite"
        RunLog(path).close()
        path.chmod(0o444)
        path.parent.chmod(0o555)
        if me == 0:
            os.seteuid(65_534)
        try:
            yield path
        finally:
            os.seteuid(me)
            path.parent.chmod(0o700)


def test_a_missing_right_is_named(readable: Path) -> None:
    """A log that may not be written, and a place where none may be made, each say so."""
    for path in (readable, readable.with_name("new.sqlite")):
        with pytest.raises(LogError, match="may not be"):
            RunLog(path)
    with pytest.raises(LogError, match="Permission denied"):
        RunLog(readable.parent / "new" / "runs.sqlite")
