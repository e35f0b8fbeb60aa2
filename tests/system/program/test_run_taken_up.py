"""A run that was broken off is gone on with, and what was said live is said again by a replay."""

from __future__ import annotations

import json
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigmon.records import Mark
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Rigmon, Start

ABOUT_THE_SOURCE = {"online", "lost", "board-says", "resumed"}
GOOD = {"bath": "good", "mix": "good"}

MakeKitchen = Callable[["Board"], "Kitchen"]
Words = list[dict[str, Any]]


def words(lines: list[str]) -> Words:
    """JSON lines, without those about the source and what the source is."""
    said = (json.loads(line) for line in lines)
    return [one for one in said if one.get("what") not in ABOUT_THE_SOURCE]


def of_the_run(said: Words) -> Words:
    """From the mark that begins the run to its summary."""
    first = next(i for i, one in enumerate(said) if one["type"] == "mark")
    last = next(i for i, one in enumerate(said) if one["type"] == "summary")
    return said[first : last + 1]


@pytest.fixture
def log_path(tmp_path: Path) -> Path:
    """Where the log lies."""
    return tmp_path / "runs.sqlite"


@pytest.fixture
def watch(board: Board, configure: Configure, start: Start, log_path: Path) -> Callable[[], Rigmon]:
    """Starts watching the kitchen's rig, and waits until marks can be said."""
    at_once = "[alarms.probe-fault]\non_delay_s = 0\noff_delay_s = 0"
    config = configure(kitchen=f'source = "serial"\nport = "{board.port}"\n{at_once}')

    def go() -> Rigmon:
        program = start("watch", "--config", config, "--jsonl", "-", "--log", log_path)
        assert board.heard(b"ping")
        return program

    return go


@pytest.fixture
def tell(start: Start) -> Callable[..., str]:
    """Says a mark from another shell; gives the answer."""

    def mark(*words: str, command: str = "mark") -> str:
        program = start(command, *words)
        assert program.end() == 0
        return program.out.seen[-1]

    return mark


@pytest.fixture
def replayed(start: Start, log_path: Path) -> Callable[[], Words]:
    """Exports the last run and replays it from the two files; gives its words."""

    def replay() -> Words:
        export = start("export", "last", "run.csv", "--log", log_path)
        assert export.end() == 0
        again = start("replay", "run.csv", "--config", "run.toml", "--jsonl", "-")
        assert again.end() == 0
        return words(again.out.seen)

    return replay


def test_a_replay_says_what_was_said_live(
    board: Board,
    make_kitchen: MakeKitchen,
    watch: Callable[[], Rigmon],
    tell: Callable[..., str],
    replayed: Callable[[], Words],
) -> None:
    """Every line of a run watched over a port comes again, states and all, to the last digit."""
    program = watch()
    assert tell("kitchen", command="start").startswith("kitchen: Run kitchen-")
    kitchen = make_kitchen(board)
    tell("ice-in", "ice_g=2600", "salt_g=650")
    tell("pour", "mix_g=1000")
    kitchen.broken = True
    program.said("alarm", code="probe-fault", state="unacknowledged")
    tell("ack", "probe-fault")
    kitchen.broken = False
    board.send(b"garbage\n")
    program.said("state", quality=GOOD)
    tell("undo")
    tell("reading", "bath_c=-16.5")
    tell("end")
    assert program.end(signal.SIGTERM) == 0
    live = of_the_run(words([line for line in program.out.seen if "bad-line" not in line]))
    assert {one["type"] for one in live} >= {"state", "forecast", "alarm", "mark", "summary"}
    assert replayed() == live


def test_a_run_that_was_killed_goes_on(
    board: Board,
    make_kitchen: MakeKitchen,
    watch: Callable[[], Rigmon],
    tell: Callable[..., str],
    replayed: Callable[[], Words],
    log_path: Path,
) -> None:
    """A kill -9 loses nothing that was answered; the next watch goes on, and says nothing twice."""
    killed = watch()
    kitchen = make_kitchen(board)
    tell("pour", "mix_g=1000")
    with closing(sqlite3.connect(log_path)) as other:
        assert other.execute("SELECT word FROM mark").fetchall() == [("pour",)]
    kitchen.broken = True
    killed.said("alarm", code="probe-fault", state="unacknowledged")
    tell("note", "the last word")
    killed.end(signal.SIGKILL)

    program = watch()
    first = program.said("problem", what="resumed")
    assert first["text"].startswith("Going on with the run begun at ")
    assert program.said("alarm", code="probe-fault")["state"] == "unacknowledged"
    kitchen.broken = False
    program.said("alarm", code="probe-fault", state="returned to normal unacknowledged")
    assert program.said("state", quality=GOOD)["round"] == 1
    tell("end")
    assert program.end(signal.SIGTERM) == 0

    with RunLog(log_path, create=False) as log:
        (row,) = log.runs()
        assert row.state is RunState.ENDED
        marks = [i.word.value for _, i in log.items(row.header.id) if isinstance(i, Mark)]
        assert marks == ["pour", "note", "end"]
        logged = words(list(log.said(row.header.id)))
    said = [one for one in replayed() if one["type"] != "state"]
    assert said == logged
    raised = [one for one in said if one.get("state") == "unacknowledged"]
    assert [one["code"] for one in raised].count("probe-fault") == 1


def test_after_ctrl_c_the_run_is_open_and_goes_on(
    board: Board,
    make_kitchen: MakeKitchen,
    watch: Callable[[], Rigmon],
    tell: Callable[..., str],
    log_path: Path,
    tmp_path: Path,
) -> None:
    """Stopped by mistake, it tells how to go on; run time counts on from the run's own start."""
    stopped = watch()
    make_kitchen(board)
    tell("pour")
    reached = stopped.said("state", stage="beat")["at"]
    assert stopped.end(signal.SIGINT) == 130
    assert any("is still open: the next `rigmon watch`" in line for line in stopped.err.seen)
    (tmp_path / "plain.toml").write_text("[composition]\nsucrose = 30\n")

    program = watch()
    text = program.said("problem", what="resumed")["text"]
    assert text.endswith(", with rig and recipe as they were then.")
    assert program.said("state", quality=GOOD)["at"] > reached
    tell("end")
    assert program.end(signal.SIGTERM) == 0
    assert not any("is still open" in line for line in program.err.seen)
    with RunLog(log_path, create=False) as log:
        (row,) = log.runs()
        clocks = [clock for clock, _ in log.items(row.header.id)]
        assert clocks == sorted(clocks)
