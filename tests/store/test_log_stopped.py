"""A log that cannot be written says so, keeps what it was given, and goes on when it can."""

from __future__ import annotations

import resource
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from rigmon.errors import LogStopped
from rigmon.records import Mark, MarkWord, Reading
from rigmon.store import RunHeader, RunLog

MakeHeader = Callable[..., RunHeader]
NOTE = "x" * 500


def pages(log: RunLog, most: int | None = None) -> int:
    """Pages of the log, or the most that it may have."""
    ask = "PRAGMA page_count" if most is None else f"PRAGMA max_page_count = {most}"
    return int(log._db.execute(ask).fetchone()[0])


def fill(log: RunLog, run_id: str, number: int) -> None:
    """Add readings, marks and lines that need room."""
    for t in range(number):
        log.add(run_id, Reading(float(t), "bath", -15.0), float(t))
        log.add(run_id, Mark(float(t), MarkWord.NOTE, detail={"note": NOTE}), float(t))
        log.say(run_id, float(t), "mark", NOTE)


def test_a_full_disk_keeps_everything_for_later(log: RunLog, header: MakeHeader) -> None:
    """While SQLite finds no room every commit says so; once it does, nothing is missing."""
    log.begin(header("a"))
    pages(log, pages(log))
    fill(log, "a", 200)
    for _ in range(2):
        with pytest.raises(LogStopped, match=r"the disk is full.* 600 entries wait"):
            log.commit()
        assert log.pending == 600
        assert list(log.items("a")) == []
    fill(log, "a", 1)
    pages(log, 1_000_000)
    log.commit()
    assert log.pending == 0
    assert len(list(log.items("a"))) == 402
    assert len(list(log.said("a"))) == 201


def test_a_run_begun_and_ended_on_a_full_disk_is_written_later(
    log: RunLog, header: MakeHeader
) -> None:
    """Watching goes on from the first minute, and the log catches up with the whole run."""
    pages(log, pages(log))
    with pytest.raises(LogStopped):
        log.begin(RunHeader("a", "a", 0.0, "", "#" * 200_000, virtual=False, version="0"))
    fill(log, "a", 3)
    with pytest.raises(LogStopped):
        log.learn("a", "a", "1", "{}")
    with pytest.raises(LogStopped):
        log.end("a", 3.0)
    assert log.runs() == ()
    pages(log, 1_000_000)
    log.commit()
    (row,) = log.runs()
    assert (row.ended_at, row.readings, row.marks) == (3.0, 3, 3)
    assert len(log.learned("a")) == 1


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file of this process may grow past a size [bytes]."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_write_that_the_system_refuses_keeps_everything(log: RunLog, header: MakeHeader) -> None:
    """What holds for SQLite's own limit holds for a real write that fails."""
    log.begin(header("a"))
    fill(log, "a", 400)
    journal = log.path.with_name("runs.sqlite-wal")
    with largest_file(journal.stat().st_size + 20_000), pytest.raises(LogStopped):
        log.commit()
    log.commit()
    assert len(list(log.items("a"))) == 800
    assert log._db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_a_log_held_by_another_program_is_written_once_it_lets_go(
    log: RunLog, header: MakeHeader
) -> None:
    """A lock is waited for a moment only, and named."""
    log.begin(header("a"))
    log._db.execute("PRAGMA busy_timeout = 10")
    log.add("a", Reading(1.0, "bath", -15.0), 0.0)
    with closing(sqlite3.connect(log.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogStopped, match="another program holds it locked"):
            log.commit()
        other.execute("ROLLBACK")
    log.commit()
    assert len(list(log.items("a"))) == 1


def test_memory_is_bounded_and_what_goes_first_is_what_was_said(
    tmp_path: Path, header: MakeHeader
) -> None:
    """Past the limit the oldest lines go, then the oldest items, and each is counted."""
    with RunLog(tmp_path / "runs.sqlite", keep=10) as log:
        log.begin(header("a"))
        for t in range(8):
            log.add("a", Reading(float(t), "bath", -15.0), 0.0)
            log.say("a", float(t), "mark", str(t))
        assert (log.pending, log.dropped) == (10, 6)
        for t in range(8, 12):
            log.add("a", Reading(float(t), "bath", -15.0), 0.0)
        log.commit()
        assert log.dropped == 10
        assert [item.t for _, item in log.items("a")] == [float(t) for t in range(2, 12)]
        assert list(log.said("a")) == []
        assert log.runs()[0].readings == 10


def test_a_broken_connection_cannot_lose_what_waits(tmp_path: Path, header: MakeHeader) -> None:
    """Closing a log that cannot be written says what is lost, and closes it all the same."""
    log = RunLog(tmp_path / "runs.sqlite")
    log.begin(header("a"))
    pages(log, pages(log))
    fill(log, "a", 200)
    with pytest.raises(LogStopped, match="600 entries"):
        log.close()
    with pytest.raises(sqlite3.ProgrammingError):
        log._db.execute("SELECT 1")
