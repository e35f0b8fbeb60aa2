"""The loop: what comes in is taken in turn, what goes wrong ends nothing, what ends is closed."""

from __future__ import annotations

import socket
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.errors import DeviceError
from rigmon.records import (
    Alarm,
    AlarmSetting,
    Mark,
    MarkHeard,
    MarkWord,
    Problem,
    Reading,
    Said,
    SourceNews,
    State,
)
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.doors import candidates, send_mark
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import Rig, header_of
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from tests.service.conftest import Ears, Handy

WAIT_S = 10.0


class Waiting:
    """An outlet that waits until what is wanted has been said."""

    def __init__(self) -> None:
        self._heard: list[tuple[str, Said]] = []
        self._news = threading.Condition()

    def tell(self, rig_id: str, said: Said) -> None:
        """Remember, and wake who waits."""
        with self._news:
            self._heard.append((rig_id, said))
            self._news.notify_all()

    def close(self) -> None:
        """Nothing to do."""

    def until(self, wanted: Callable[[str, Said], bool]) -> Said:
        """The first thing said that is wanted."""
        with self._news:
            found = self._news.wait_for(
                lambda: [said for rig, said in self._heard if wanted(rig, said)], WAIT_S
            )
            assert found, f"nothing like it among {self._heard[-20:]}"
            return found[0]

    def problem(self, what: str) -> Problem:
        """The first problem of a kind."""
        said = self.until(lambda _, said: isinstance(said, Problem) and said.what == what)
        assert isinstance(said, Problem)
        return said


@pytest.fixture
def face() -> Waiting:
    """An outlet."""
    return Waiting()


@contextmanager
def running(daemon: Daemon, source: Handy, *, stop: bool = True) -> Iterator[None]:
    """The daemon in a thread, from when its sources run; stopped at the end, or ended by itself."""
    failed: list[BaseException] = []

    def run() -> None:
        try:
            daemon.run()
        except BaseException as why:  # noqa: BLE001 - the test is told of whatever it was
            failed.append(why)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        assert source.started.wait(WAIT_S)
        yield
    finally:
        if stop:
            daemon.stop()
        thread.join(WAIT_S)
    assert not thread.is_alive()
    if failed:
        raise failed[0]


def is_mark(word: MarkWord) -> Callable[[str, Said], bool]:
    """Whether it is a mark that was heard."""
    return lambda _, said: isinstance(said, MarkHeard) and said.word is word


def test_everything_is_closed_at_the_end(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper, log: RunLog, private_doors: Path
) -> None:
    """Sources are stopped, outlets and log closed, the door is gone."""
    daemon = Daemon([rig], [source], [ears], keeper)
    with running(daemon, source):
        pass
    assert source.stopped == 1
    assert ears.closed
    assert keeper.log is None
    assert list(private_doors.iterdir()) == []
    with pytest.raises(sqlite3.ProgrammingError):
        log._db.execute("SELECT 1")


@pytest.mark.parametrize("interrupted", [True, False])
def test_asked_to_end_before_it_began_it_ends_at_once(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper, interrupted: bool
) -> None:
    """A signal that came while everything was being set up is not lost."""
    daemon = Daemon([rig], [source], [ears], keeper)
    daemon.run([interrupted])
    assert daemon.interrupted == interrupted
    assert ears.closed
    assert source.stopped == 1


def test_without_a_place_for_its_door_it_closes_what_it_has(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper
) -> None:
    """No source is started, and the terminal is given back before the sentence is told."""
    for directory in candidates():
        directory.write_text("in the way")
    with pytest.raises(DeviceError, match="There is no place for the socket"):
        Daemon([rig], [source], [ears], keeper).run()
    assert source.put is None
    assert ears.closed
    assert keeper.log is None


def test_a_mark_is_in_the_log_before_it_is_answered(
    rig: Rig, source: Handy, face: Waiting, keeper: LogKeeper, log: RunLog
) -> None:
    """Another connection finds it at once, whether it came by the door or by a source."""
    with running(Daemon([rig], [source], [face], keeper), source):
        assert send_mark("pour mix_g=1000")["ok"]
        with closing(sqlite3.connect(log.path)) as other:
            assert other.execute("SELECT word FROM mark").fetchall() == [("pour",)]
            assert source.now is not None
            source.give("slip", Mark(source.now(), MarkWord.RECHARGE))
            face.until(is_mark(MarkWord.RECHARGE))
            assert send_mark("note after")["ok"]
            words = other.execute("SELECT word FROM mark ORDER BY seq").fetchall()
            assert words == [("pour",), ("recharge",), ("note",)]


def test_a_mark_that_cannot_be_logged_yet_says_so(
    rig: Rig, source: Handy, face: Waiting, keeper: LogKeeper, log: RunLog
) -> None:
    """It counts for the run all the same; the alarm comes, and goes when there is room."""
    with running(Daemon([rig], [source], [face], keeper), source):
        assert send_mark("pour")["ok"]
        pages = log._db.execute("PRAGMA page_count").fetchone()[0]
        log._db.execute(f"PRAGMA max_page_count = {pages}")
        answer = send_mark(f"note {'x' * 10_000}")
        assert answer["ok"]
        assert answer["text"].endswith("It is not in the log yet: the log cannot be written.")
        face.until(lambda _, s: isinstance(s, Alarm) and s.state.value == "unacknowledged")
        log._db.execute("PRAGMA max_page_count = 1000000")
        assert "not in the log" not in send_mark("note room again")["text"]
        face.until(lambda _, s: isinstance(s, Alarm) and s.state.value.startswith("returned"))


def test_a_busy_daemon_does_not_take_a_mark_that_it_said_it_did_not_take(
    rig: Rig, source: Handy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mark that waited too long is withdrawn, so that saying it again does not double it."""
    monkeypatch.setattr("rigmon.service.daemon._ANSWER_S", 0.1)
    busy, go_on = threading.Event(), threading.Event()
    marks: list[MarkHeard] = []

    class Slow(Waiting):
        def tell(self, rig_id: str, said: Said) -> None:
            super().tell(rig_id, said)
            if isinstance(said, Problem):
                busy.set()
                go_on.wait(WAIT_S)
            elif isinstance(said, MarkHeard):
                marks.append(said)

    daemon = Daemon([rig], [source], [Slow()])
    with running(daemon, source):
        send_mark("note first")
        source.give("slip", SourceNews(0.0, "slip", "online", "There."))
        assert busy.wait(WAIT_S)
        answer = send_mark("note second")
        assert (answer["ok"], answer["text"]) == (
            False,
            "rigmon is busy; the mark was not taken. Say it again.",
        )
        go_on.set()
        while not send_mark("note third")["ok"]:
            pass
    assert [said.detail["note"] for said in marks] == ["first", "third"]


def test_rigs_are_kept_apart(rig: Rig, source: Handy, face: Waiting) -> None:
    """Each has its own run; a mark of the program's own door names which."""
    other = replace(rig, setup=replace(rig.setup, id="other"))
    with running(Daemon([rig, other], [source], [face]), source):
        assert send_mark("pour", "other")["rig"] == "other"
        assert source.now is not None
        for t in range(3):
            source.give("slip", Reading(source.now() + t, "bath", 15.0))
        state = face.until(lambda name, s: name == "slip" and isinstance(s, State))
        assert isinstance(state, State)
        assert state.stage.value == "ready"
        state = face.until(lambda name, s: name == "other" and isinstance(s, State))
        assert isinstance(state, State)
        assert state.stage.value == "beat"


class Gone(Waiting):
    """An outlet whose reader has closed the pipe."""

    def tell(self, rig_id: str, said: Said) -> None:
        """Find nobody there."""
        super().tell(rig_id, said)
        raise BrokenPipeError

    def close(self) -> None:
        """Nor now."""
        raise BrokenPipeError


def test_as_long_as_somebody_listens_it_goes_on(rig: Rig, source: Handy, ears: Ears) -> None:
    """A closed pipe is let go of, and the others hear everything."""
    with running(Daemon([rig], [source], [Gone(), ears]), source):
        assert send_mark("pour")["ok"]
        assert send_mark("note")["ok"]
    assert len(ears.of(MarkHeard)) == 2


def test_when_the_last_reader_has_gone_it_ends(rig: Rig, source: Handy, ears: Ears) -> None:
    """A virtual maker is no reader."""
    daemon = Daemon([rig], [source], [Gone()], makers=[ears])
    with running(daemon, source, stop=False):
        source.give("slip", SourceNews(0.0, "slip", "online", "There."))
    assert daemon.faults == []


def test_an_alarm_is_cued_to_the_boards(rig: Rig, source: Handy, face: Waiting) -> None:
    """The buzzer hears how urgent it is, and when it is over."""
    at_once = {"probe-silent": AlarmSetting(on_delay_s=0.0)}
    rig = replace(rig, setup=replace(rig.setup, alarms=at_once))
    with running(Daemon([rig], [source], [face]), source):
        send_mark("pour")
        assert source.now is not None
        source.give("slip", Reading(source.now() - 100.0, "bath", -15.0))
        face.until(lambda _, s: isinstance(s, Alarm) and s.code == "probe-silent")
        send_mark("ack probe-silent")
    assert source.cues[:2] == [("slip", "medium", "probe-silent"), ("slip", "off", "probe-silent")]


def test_a_batch_that_is_watched_once_ends_with_its_run(
    rig: Rig, source: Handy, face: Waiting, keeper: LogKeeper
) -> None:
    """The demo is over when its run is, whoever ended it."""
    daemon = Daemon([rig], [source], [face], keeper, once=True)
    with running(daemon, source, stop=False):
        send_mark("pour")
        send_mark("end")
    assert daemon.open_runs == ()


def test_a_broken_off_run_that_cannot_be_taken_up_is_told_and_the_rig_watched(
    rig: Rig, source: Handy, face: Waiting, log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log of another version, or a fault in it, is no reason not to watch."""
    monkeypatch.setattr("rigmon.store.archive.is_alive", lambda _name: False)
    clock = Clock()
    header = replace(header_of(rig, clock.now() - 60.0), document="[recorded]\nnew = 1\n")
    log.begin(header)
    with running(Daemon([rig], [source], [face], LogKeeper(log), clock), source):
        problem = face.problem("not-resumed")
        assert problem.text.startswith("A run that was broken off cannot be gone on with: ")
        assert header.id in problem.text
        assert send_mark("pour")["ok"]


def test_a_run_goes_on_and_the_gap_is_gone_through(
    rig: Rig, source: Handy, face: Waiting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What fell into the break is said first; the first reading after it has its right time."""
    monkeypatch.setattr("rigmon.store.archive.is_alive", lambda _name: False)
    clock = Clock()
    started = clock.now() - 3000.0
    path = tmp_path / "old.sqlite"
    with RunLog(path) as old:
        header = header_of(rig, started)
        old.begin(header)
        old.add(header.id, Mark(0.0, MarkWord.POUR), 0.0)
        for t in range(1, 60):
            old.add(header.id, Reading(float(t), "bath", -15.0), float(t))
    daemon = Daemon([rig], [source], [face], LogKeeper(RunLog(path)), clock)
    with running(daemon, source):
        assert face.problem("resumed").at == pytest.approx(59.0)
        source.give("slip", Reading(clock.now(), "bath", -14.0))
        assert send_mark("note here")["run"] == header.id
        face.until(lambda _, s: isinstance(s, State) and s.at > 3000.0)
    assert list(daemon.open_runs) == [pytest.approx(started)]
    with RunLog(path, create=False) as log:
        items = [(clock_s, item) for clock_s, item in log.items(header.id)]
        (row,) = log.runs()
    clock_s, reading = items[-2]
    assert isinstance(reading, Reading)
    assert 3000.0 < reading.t < 3030.0
    assert clock_s < reading.t
    assert row.state is RunState.BROKEN_OFF


def test_systemd_hears_of_it(
    rig: Rig, source: Handy, face: Waiting, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ready once the sources run, alive by the loop's own progress, stopping at the end."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        path = candidates()[0].parent / "notify"
        manager.bind(str(path))
        manager.settimeout(WAIT_S)
        monkeypatch.setenv("NOTIFY_SOCKET", str(path))
        with running(Daemon([rig], [source], [face]), source):
            assert manager.recv(100) == b"READY=1"
            assert source.put is not None
            assert manager.recv(100) == b"WATCHDOG=1"
            assert manager.recv(100) == b"WATCHDOG=1"
        while (heard := manager.recv(100)) == b"WATCHDOG=1":
            pass
        assert heard == b"STOPPING=1"
    path.unlink()


def test_what_a_source_still_had_is_taken_in(
    rig: Rig, source: Handy, face: Waiting, log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reading that was on its way when the signal came is part of the run."""
    path = log.path
    monkeypatch.setattr(source, "stop", lambda: source.give("slip", Reading(9e9, "bath", -15.0)))
    with running(Daemon([rig], [source], [face], LogKeeper(log)), source):
        run_id = send_mark("pour")["run"]
    with RunLog(path, create=False) as again:
        *_, (_, last) = again.items(run_id)
    assert isinstance(last, Reading)
