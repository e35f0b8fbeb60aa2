"""Logs and run headers that the tests of the store share."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from rigmon.records import Condition, Mark, MarkWord, Reading
from rigmon.store import RunHeader, RunLog

MakeHeader = Callable[..., RunHeader]
Put = Callable[..., str]
T0 = 1_783_173_600.0


@pytest.fixture
def header() -> MakeHeader:
    """Headers of runs of one invented rig."""

    def make(
        name: str = "porch-20260704T140000Z", started_unix: float = 1_783_173_600.0
    ) -> RunHeader:
        return RunHeader(
            id=name,
            rig="porch",
            started_unix=started_unix,
            recipe="plain",
            document='id = "porch"\n',
            virtual=False,
            version="0.0.0",
        )

    return make


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """A new log."""
    with RunLog(tmp_path / "runs.sqlite") as opened:
        yield opened


@pytest.fixture
def first_format(tmp_path: Path) -> Path:
    """A log as the first format was written, by the statements of that time."""
    path = tmp_path / "first.sqlite"
    statements = Path(__file__).with_name("format1.sql").read_text("utf-8")
    with closing(sqlite3.connect(path)) as db:
        db.executescript(statements)
        db.execute("PRAGMA journal_mode = WAL")
    return path


@pytest.fixture
def put(header: MakeHeader) -> Put:
    """Puts short runs into a log; runs with the same `cold` are alike."""

    def into(
        log: RunLog, name: str, cold: float = -15.0, *, started: float = T0, end: bool = True
    ) -> str:
        log.begin(header(name, started))
        log.add(name, Reading(0.0, "bath", cold), -math.inf)
        log.add(name, Mark(1.0, MarkWord.POUR, detail={"mix_g": 900.0, "note": "Plum"}), 0.0)
        log.add(name, Reading(2.0, "mix", 4.0), 1.0)
        log.add(name, Condition(2.0, "log-stopped", True, "full"), 2.0)
        log.say(name, 1.0, "mark", '{"type":"mark","at":1.0}')
        log.commit()
        if end:
            log.learn("porch", name, "1", f'{{"of":{cold}}}')
            log.end(name, 3.0)
        return name

    return into
