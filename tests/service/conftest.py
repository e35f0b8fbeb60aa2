"""A rig, a log, a source and an outlet that the tests of the service share."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TypeVar

import pytest

from rigmon.records import (
    Alarm,
    Mark,
    MarkHeard,
    Problem,
    Reading,
    Said,
    SourceNews,
    State,
    Summary,
    VirtualLink,
)
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.sources import Now, Put, SourceCounts
from rigmon.store import RunLog
from rigmon.virtual.scenario import data_folder

STARTED = 1_783_173_600.0
"""An afternoon in July 2026 [s, Unix]."""


@pytest.fixture(autouse=True)
def private_doors(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """No door of another program is seen; sockets need short paths, so it is not in tmp_path."""
    with tempfile.TemporaryDirectory(prefix="rigmon-test-") as folder:
        monkeypatch.setattr(tempfile, "tempdir", folder)
        monkeypatch.setenv("XDG_RUNTIME_DIR", folder)
        yield Path(folder)


@pytest.fixture
def rig() -> Rig:
    """The Ferry House's rig with its recipe, as if it were on a port."""
    (found,) = rigs_of(read_config(data_folder() / "rigs" / "slip.toml", links=False), None)
    return found


@pytest.fixture
def virtual_rig(rig: Rig) -> Rig:
    """The same, but invented."""
    return Rig(rig.setup, rig.recipe, link=VirtualLink())


@pytest.fixture
def log(tmp_path: Path) -> Iterator[RunLog]:
    """A new log."""
    with RunLog(tmp_path / "runs.sqlite") as opened:
        yield opened


@pytest.fixture
def keeper(log: RunLog) -> LogKeeper:
    """Keeps the log."""
    return LogKeeper(log)


Kind = TypeVar("Kind", Alarm, MarkHeard, Problem, State, Summary)


class Ears:
    """An outlet that remembers what it was told."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, Said]] = []
        self.closed = False

    def tell(self, rig_id: str, said: Said) -> None:
        """Remember."""
        self.heard.append((rig_id, said))

    def close(self) -> None:
        """Remember that as well."""
        self.closed = True

    def of(self, kind: type[Kind]) -> list[Kind]:
        """All of one kind that was told."""
        return [said for _, said in self.heard if isinstance(said, kind)]


@pytest.fixture
def ears() -> Ears:
    """An outlet."""
    return Ears()


class Handy:
    """A source that hands on what it is given, once it is started."""

    def __init__(self) -> None:
        self.put: Put | None = None
        self.now: Now | None = None
        self.started = threading.Event()
        self.stopped = 0
        self.cues: list[tuple[str, str, str]] = []

    def start(self, put: Put, now: Now) -> None:
        """From here on."""
        self.put, self.now = put, now
        self.started.set()

    def give(self, rig_id: str, item: Reading | Mark | SourceNews) -> None:
        """Hand on."""
        assert self.put is not None
        self.put(rig_id, item)

    def stop(self) -> None:
        """Count how often."""
        self.stopped += 1

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Remember."""
        self.cues.append((rig_id, level, code))

    def counts(self) -> SourceCounts:
        """Two readings in two lines, one of them bad."""
        return SourceCounts(lines=2, readings=2, bad_lines=1)


@pytest.fixture
def source() -> Handy:
    """A source."""
    return Handy()
