"""Runs go into the log and come out as they were."""

from __future__ import annotations

import math
import sqlite3
import struct
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.errors import LogError, UsageError
from rigmon.records import By, Condition, Fault, Item, Mark, MarkWord, Reading, Unit
from rigmon.store import (
    ClockRow,
    Learned,
    RunHeader,
    RunLog,
    RunState,
    default_log_path,
    steps,
)

MakeHeader = Callable[..., RunHeader]

numbers = st.floats(allow_nan=False) | st.sampled_from([-0.0, 5e-324, -2.5e-310, 1.7e308, 3.0])
times = st.floats(allow_nan=False, allow_infinity=False)
maybe = st.none() | numbers
readings = st.builds(
    Reading,
    times,
    st.text(),
    maybe,
    st.sampled_from(Unit),
    maybe,
    st.none() | st.sampled_from(Fault),
    maybe,
    st.sampled_from(["probe", "hand"]),
    maybe,
)
marks = st.builds(
    Mark,
    times,
    st.sampled_from(MarkWord),
    st.sampled_from(By),
    st.dictionaries(st.text(), numbers | st.text()),
)
conditions = st.builds(Condition, times, st.text(), st.booleans(), st.text())
clocks = times | st.just(-math.inf)


def bits(value: object) -> object:
    """A value with its floats as bits, so that -0.0 and 0.0 differ."""
    if isinstance(value, float):
        return struct.pack("<d", value)
    if isinstance(value, dict):
        return {key: bits(part) for key, part in value.items()}
    if isinstance(value, Reading | Mark | Condition):
        return type(value), *(bits(getattr(value, name)) for name in type(value).__slots__)
    return value


@given(st.lists(st.tuples(clocks, readings | marks | conditions), max_size=12), st.integers(0, 12))
def test_what_is_added_comes_back_in_order_to_the_last_bit(
    fed: list[tuple[float, Item]], cut: int
) -> None:
    """Every kind of item survives, however the commits fall between them."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "runs.sqlite"
        with RunLog(path, "NORMAL") as log:
            log.begin(RunHeader("a", "a", 0.0, "", "", virtual=False, version="0"))
            for place, (clock, item) in enumerate(fed):
                if place == cut:
                    log.commit()
                log.add("a", item, clock)
        with RunLog(path, create=False) as log:
            read = list(log.items("a"))
    assert [(bits(clock), bits(item)) for clock, item in read] == [
        (bits(clock), bits(item)) for clock, item in fed
    ]


def test_a_value_that_is_no_number_stays_one(log: RunLog, header: MakeHeader) -> None:
    """NaN is told apart from a missing value, which SQLite alone would not do."""
    log.begin(header("a"))
    log.add("a", Reading(1.0, "bath", math.nan, cj_c=None), 0.0)
    log.commit()
    ((_, item),) = log.items("a")
    assert isinstance(item, Reading)
    assert item.value is not None
    assert math.isnan(item.value)
    assert item.cj_c is None


def test_long_runs_are_read_in_pages(log: RunLog, header: MakeHeader) -> None:
    """A run longer than one page comes back whole and in order, its marks in their places."""
    log.begin(header("a"))
    fed: list[Item] = [
        Mark(float(t), MarkWord.SCRAPE) if t % 999 == 0 else Reading(float(t), "bath", -15.0)
        for t in range(12_001)
    ]
    for item in fed:
        log.add("a", item, 0.0)
        log.say("a", item.t, "mark", str(item.t))
    log.commit()
    assert [item for _, item in log.items("a")] == fed
    assert list(log.said("a")) == [str(item.t) for item in fed]


def test_reading_a_run_holds_no_transaction_open(log: RunLog, header: MakeHeader) -> None:
    """The journal can be emptied while somebody is halfway through a run."""
    log.begin(header("a"))
    for t in range(20_000):
        log.add("a", Reading(float(t), "bath", -15.0), 0.0)
    log.commit()
    with RunLog(log.path, create=False) as reader:
        halfway = reader.items("a")
        next(halfway)
        log.end("a", 20_000.0)
        assert log.path.with_name("runs.sqlite-wal").stat().st_size == 0
        assert sum(1 for _ in halfway) == 19_999


def test_nothing_is_kept_before_the_commit(log: RunLog, header: MakeHeader) -> None:
    """What waits is counted as pending and is written together."""
    log.begin(header("a"))
    log.add("a", Reading(1.0, "bath", -15.0), 0.0)
    log.say("a", 1.0, "problem", "{}")
    assert (log.pending, list(log.items("a"))) == (2, [])
    log.commit()
    assert (log.pending, len(list(log.items("a")))) == (0, 1)


def test_closing_writes_what_waits(tmp_path: Path, header: MakeHeader) -> None:
    """A daemon that stops in order loses nothing."""
    with RunLog(tmp_path / "runs.sqlite") as log:
        log.begin(header("a"))
        log.add("a", Reading(1.0, "bath", -15.0), 0.0)
    with RunLog(tmp_path / "runs.sqlite", create=False) as log:
        assert len(list(log.items("a"))) == 1


def test_a_run_is_gone_on_with_after_a_restart(tmp_path: Path, header: MakeHeader) -> None:
    """Items added by a second program stand behind those of the first."""
    for t in (1.0, 2.0):
        with RunLog(tmp_path / "runs.sqlite") as log:
            if t == 1.0:
                log.begin(header("a"))
            log.add("a", Reading(t, "bath", -15.0), t)
    with RunLog(tmp_path / "runs.sqlite", create=False) as log:
        assert [item.t for _, item in log.items("a")] == [1.0, 2.0]


def test_runs_are_listed_newest_first_with_what_is_in_them(log: RunLog, header: MakeHeader) -> None:
    """The list says how long each run was, what is in it, and whether it goes on."""
    log.begin(header("a", 1_000.0))
    for item in (
        Reading(1.0, "bath", -15.0),
        Mark(2.0, MarkWord.POUR),
        Condition(3.0, "log-stopped", True, ""),
        Reading(1.5, "mix", 4.0),
    ):
        log.add("a", item, 3.5)
    log.end("a", 60.0)
    log.begin(header("b", 2_000.0))
    log.add("b", Reading(5.0, "bath", -15.0), 0.0)
    log.commit()
    newest, oldest = log.runs()
    assert newest.header == header("b", 2_000.0)
    assert (newest.state, newest.ended_at, newest.duration_s) == (RunState.RUNNING, None, 5.0)
    assert (newest.readings, newest.marks) == (1, 0)
    assert (oldest.state, oldest.ended_at, oldest.duration_s) == (RunState.ENDED, 60.0, 60.0)
    assert (oldest.readings, oldest.marks) == (2, 1)


def test_steps_move_a_monitor_as_the_log_says(log: RunLog, header: MakeHeader) -> None:
    """A late reading is preceded by the clock that it met, and the end is the run's."""
    log.begin(header("a"))
    log.add("a", Reading(1.0, "bath", -15.0), 0.0)
    log.add("a", Reading(3.0, "bath", -15.0), 4.5)
    log.end("a", 9.0)
    assert [(type(step), step.t) for step in steps(log, "a")] == [
        (Reading, 1.0),
        (ClockRow, 4.5),
        (Reading, 3.0),
        (ClockRow, 9.0),
    ]


def test_a_run_is_found_by_what_a_maker_types(log: RunLog, header: MakeHeader) -> None:
    """A whole id, its beginning, any part that only one has, and `last` all name a run."""
    for place, name in enumerate(["porch-20260704", "porch-20260705", "attic-20260704", "porch"]):
        log.begin(header(name, float(place)))
    assert log.find("porch").id == "porch"
    assert log.find("attic").id == "attic-20260704"
    assert log.find("0705").id == "porch-20260705"
    assert log.find("last").id == "porch"
    with pytest.raises(UsageError, match=r"any of 2 runs: attic-20260704, porch-20260704"):
        log.find("0704")
    with pytest.raises(UsageError, match=r"nearest are porch-20260705"):
        log.find("porsh-20260705")


def test_what_is_not_in_the_log_is_said(log: RunLog, header: MakeHeader) -> None:
    """An empty log, an unknown run and a run begun twice each have their sentence."""
    with pytest.raises(UsageError, match="holds no run yet"):
        log.find("last")
    for ask in (log.items, log.said, log.run, lambda run: log.end(run, 1.0)):
        with pytest.raises(LogError, match="no run nowhere in the log"):
            ask("nowhere")
    with pytest.raises(LogError, match="no run nowhere in the log"):
        log.add("nowhere", Reading(1.0, "bath", -15.0), 0.0)
    log.begin(header("a"))
    with pytest.raises(LogError, match="Run a is in the log"):
        log.begin(header("a"))


@pytest.mark.parametrize(("t", "clock"), [(math.nan, 0.0), (math.inf, 0.0), (0.0, math.nan)])
def test_a_time_that_is_no_number_is_refused_at_once(
    log: RunLog, header: MakeHeader, t: float, clock: float
) -> None:
    """One bad item cannot keep the commits after it from succeeding."""
    log.begin(header("a"))
    with pytest.raises(ValueError, match="finite"):
        log.add("a", Reading(t, "bath", -15.0), clock)
    assert log.pending == 0


def test_text_that_no_file_can_hold_does_not_stop_the_log(log: RunLog, header: MakeHeader) -> None:
    """Half a character from a broken sender is kept as a question mark."""
    log.begin(header("a"))
    log.say("a", 1.0, "problem", "half \ud83d of a sign")
    log.add("a", Reading(1.0, "ba\udcffth", -15.0), 0.0)
    log.commit()
    assert list(log.said("a")) == ["half ? of a sign"]


def test_what_runs_teach_is_kept_by_rig_and_model(log: RunLog) -> None:
    """The whole history of a rig comes back in order, one model's or every model's."""
    log.learn("porch", "a", "1", "first")
    log.learn("attic", "b", "1", "other")
    log.learn("porch", "c", "1", "second")
    log.learn("porch", "d", "2", "third")
    assert log.learned("porch", "1") == (Learned("a", "1", "first"), Learned("c", "1", "second"))
    assert [taught.text for taught in log.learned("porch")] == ["first", "second", "third"]
    assert log.learned("cellar") == ()


def test_threads_may_share_a_log(log: RunLog, header: MakeHeader) -> None:
    """What several threads add and commit at once is all there."""
    log.begin(header("a"))

    def work(probe: str) -> None:
        for t in range(50):
            log.add("a", Reading(float(t), probe, -15.0), 0.0)
            log.commit()

    threads = [threading.Thread(target=work, args=(probe,)) for probe in ("bath", "mix")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    items = [item for _, item in log.items("a")]
    for probe in ("bath", "mix"):
        own = [item.t for item in items if isinstance(item, Reading) and item.probe == probe]
        assert own == [float(t) for t in range(50)]


def test_the_log_lies_where_the_maker_or_the_system_says(tmp_path: Path) -> None:
    """RIGMON_LOG comes first, then the user's data directory, then its usual place."""
    named = default_log_path({"RIGMON_LOG": "/a/b.sqlite", "XDG_DATA_HOME": "/data"})
    shared = default_log_path({"RIGMON_LOG": "", "XDG_DATA_HOME": "/data"})
    usual = default_log_path({"XDG_DATA_HOME": "relative"})
    assert named == Path("/a/b.sqlite")
    assert shared == Path("/data/rigmon/runs.sqlite")
    assert usual == Path.home() / ".local/share/rigmon/runs.sqlite"


def test_a_run_gone_on_with_runs_again(log: RunLog, header: MakeHeader) -> None:
    """A run whose program went away is broken off until another program carries it on."""
    run = header()
    log.begin(run)
    with closing(sqlite3.connect(log.path)) as db, db:
        db.execute("UPDATE run SET process = 'gone'")
    assert log.run(run.id).state is RunState.BROKEN_OFF
    log.carry_on(run.id)
    assert log.run(run.id).state is RunState.RUNNING
    with pytest.raises(LogError, match="no run"):
        log.carry_on("porch-never")
