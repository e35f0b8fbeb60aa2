"""Another machine's log comes in whole, each run once, however often it is merged."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.errors import LogError, UsageError
from rigmon.records import Mark, MarkWord, Reading
from rigmon.store import RunHeader, RunLog
from rigmon.store.fingerprint import fingerprint, fingerprint_of
from rigmon.store.merge import Merged, merge

if TYPE_CHECKING:
    from tests.store.conftest import MakeHeader, Put

T0 = 1_783_173_600.0
LATER = T0 + 86_400.0


@pytest.fixture
def other(tmp_path: Path) -> Iterator[RunLog]:
    """The log of another machine."""
    with RunLog(tmp_path / "other.sqlite") as opened:
        yield opened


def content(log: RunLog) -> list[object]:
    """All that a log holds of its runs, by their ids."""
    return [
        (
            row.header,
            row.ended_at,
            row.tags,
            list(log.items(row.header.id)),
            list(log.said_when(row.header.id)),
        )
        for row in log.runs()
    ]


def break_off(log: RunLog) -> None:
    """Let the programs that watch runs be gone."""
    with log.writing() as db:
        db.execute("UPDATE run SET process = ''")


def test_a_merge_brings_all_and_a_second_one_nothing(log: RunLog, other: RunLog, put: Put) -> None:
    """Runs with all that belongs to them, what they taught, changes and calibrations; once."""
    put(log, "mine", -10.0)
    put(other, "a", -15.0)
    put(other, "b", -16.0, started=LATER)
    other.learn("porch", "", "", '{"changed":{}}')
    with other.writing() as db:
        db.execute("INSERT INTO tag SELECT no, 'plum' FROM run WHERE id = 'a'")
        db.execute("INSERT INTO tasting SELECT no, 5.0, 4, 'good' FROM run WHERE id = 'a'")
        db.execute("INSERT INTO calibration VALUES (7, 'porch', 'bath', 1.0, 'ice', '{}', NULL)")
    mine, theirs = content(log), content(other)
    assert merge(log, other.path, LATER).taken == (("a", "a"), ("b", "b"))
    for _ in range(2):
        assert sorted(map(str, content(log))) == sorted(map(str, [*mine, *theirs]))
        assert [one.run_id for one in log.learned("porch")] == ["mine", "a", "b", ""]
        assert [one.run_id for one in log.tastings()] == ["a"]
        assert len(log.calibrations("porch")) == 1
        again = merge(log, other.path, LATER)
        assert (again.taken, again.known) == ((), ("a", "b"))
    assert content(other) == theirs


def test_an_id_that_stands_for_another_run_gets_a_number_once(
    log: RunLog, other: RunLog, put: Put
) -> None:
    """So does what it taught; the run here keeps its name, and the next merge knows them apart."""
    put(log, "a", -10.0)
    put(log, "a-2", -11.0)
    put(other, "a", -15.0)
    done = merge(log, other.path, LATER)
    assert done.renamed == (("a", "a-3"),)
    assert merge(log, other.path, LATER).taken == ()
    assert list(log.items("a-3")) == list(other.items("a"))
    assert {one.run_id: one.text for one in log.learned("porch")}["a-3"] == '{"of":-15.0}'
    back = merge(other, log.path, LATER)
    assert back.taken == (("a", "a-2"), ("a-2", "a-2-2"))
    assert back.known == ("a-3",)


def test_a_run_under_another_name_is_known(log: RunLog, other: RunLog, put: Put) -> None:
    """It was imported on both machines; what it taught here is not taught a second time."""
    put(log, "here", -15.0)
    put(other, "there", -15.0, started=LATER)
    assert merge(log, other.path, LATER) == Merged((), (), ("there",), (), ())
    assert len(log.learned("porch")) == 1


def test_virtual_runs_are_the_same_only_at_the_same_time(log: RunLog, other: RunLog) -> None:
    """One seed makes the same numbers on every machine and day."""
    for which, started in ((log, T0), (other, LATER)):
        which.begin(RunHeader("demo", "demo", started, "", "", virtual=True, version="0"))
        which.add("demo", Reading(0.0, "bath", -15.0), -math.inf)
        which.end("demo", 1.0)
    assert merge(log, other.path, LATER + 60.0).renamed == (("demo", "demo-2"),)
    assert merge(log, other.path, LATER + 60.0).known == ("demo",)


def test_what_was_deleted_here_or_there_stays_so(log: RunLog, other: RunLog, put: Put) -> None:
    """A merge brings no run back that a maker has thrown out."""
    for name, cold in (("a", -15.0), ("b", -16.0)):
        put(other, name, cold)
    put(log, "a", -15.0)
    with log.writing() as db, other.writing() as theirs:
        db.execute("UPDATE run SET deleted_unix = 1.0")
        theirs.execute("UPDATE run SET deleted_unix = 1.0 WHERE id = 'b'")
    assert merge(log, other.path, LATER) == Merged((), (), (), ("a",), ())
    assert log.runs() == ()


def test_a_run_that_is_not_over_waits(log: RunLog, other: RunLog, put: Put) -> None:
    """One that is watched, and one that was broken off a moment ago."""
    put(other, "a", end=False)
    assert merge(log, other.path, LATER).waiting == ("a",)
    break_off(other)
    assert merge(log, other.path, T0 + 1.0).waiting == ("a",)
    assert log.runs() == ()
    assert merge(log, other.path, LATER).taken == (("a", "a"),)
    assert log.run("a").ended_at is None


def test_a_run_that_went_on_there_goes_on_here(log: RunLog, other: RunLog, put: Put) -> None:
    """It is the same run, longer; nothing of it is there twice."""
    put(other, "a", end=False)
    break_off(other)
    merge(log, other.path, LATER)
    with log.writing() as db:
        db.execute("INSERT INTO tag SELECT no, 'plum' FROM run")
    other.add("a", Reading(9.0, "bath", -17.0), 5.0)
    other.say("a", 9.0, "alarm", "{}")
    other.learn("porch", "a", "1", "{}")
    other.end("a", 10.0)
    assert merge(log, other.path, LATER).grown == ("a",)
    assert list(log.items("a")) == list(other.items("a"))
    assert list(log.said("a")) == list(other.said("a"))
    assert (log.run("a").ended_at, log.run("a").tags) == (10.0, ("plum",))
    assert len(log.learned("porch")) == 1
    assert merge(log, other.path, LATER).known == ("a",)


def test_empty_runs_are_told_by_name_and_start(
    log: RunLog, other: RunLog, header: MakeHeader
) -> None:
    """Without items there is no content to tell them by."""
    for name, started in (("a", T0), ("b", T0)):
        other.begin(header(name, started))
        other.end(name, 0.0)
    log.begin(header("b", LATER))
    log.end("b", 0.0)
    assert merge(log, other.path, LATER).taken == (("a", "a"), ("b", "b-2"))


def test_a_log_of_the_first_format_is_merged_and_left_as_it_is(
    log: RunLog, first_format: Path
) -> None:
    """An old archive is only read."""
    before = first_format.read_bytes()
    done = merge(log, first_format, LATER * 2)
    assert [there[:14] for there, _ in done.taken] == ["porch-20260704", "porch-20260705"]
    assert len(log.learned("porch")) == 1
    assert first_format.read_bytes() == before


def test_what_is_no_other_log_is_refused(log: RunLog, tmp_path: Path) -> None:
    """The log itself, none, and a file of another kind; nothing is left behind."""
    text = tmp_path / "text"
    text.write_text("time_s,bath_c\n" * 100)
    with pytest.raises(UsageError, match="is this log itself"):
        merge(log, log.path, LATER)
    with pytest.raises(UsageError, match="There is no run log"):
        merge(log, tmp_path / "none", LATER)
    with pytest.raises(LogError, match="text cannot be read: it is not a run log"):
        merge(log, text, LATER)
    assert not list(tmp_path.glob(".merging*"))


def test_a_full_disk_keeps_whole_runs_and_the_next_merge_brings_the_rest(
    log: RunLog, other: RunLog, put: Put
) -> None:
    """Nothing is half there."""
    for n in range(30):
        put(other, f"a{n}", float(n), started=T0 + n)
        other.say(f"a{n}", 2.0, "note", "x" * 4000)
    other.commit()
    log._db.execute("PRAGMA max_page_count = 40")
    with pytest.raises(LogError, match="cannot be written: the disk is full; make room"):
        merge(log, other.path, LATER)
    there = len(log.runs())
    assert 0 < there < 30
    assert all(log.turns(row.header.id) == 4 for row in log.runs())
    log._db.execute("PRAGMA max_page_count = 1000000")
    assert len(merge(log, other.path, LATER).taken) == 30 - there
    assert len(log.learned("porch")) == 30


def test_a_log_that_is_written_meanwhile_loses_nothing(
    log: RunLog, other: RunLog, put: Put
) -> None:
    """A watch on this log and one on the other go on through a merge."""
    put(log, "mine", -10.0, end=False)
    put(other, "a", -15.0)
    put(other, "b", -16.0, end=False, started=LATER)
    with RunLog(log.path, create=False) as merging:
        log.add("mine", Reading(5.0, "bath", -9.0), 4.0)
        other.add("b", Reading(5.0, "bath", -9.0), 4.0)
        assert merge(merging, other.path, LATER).taken == (("a", "a"),)
        log.commit()
        other.commit()
    assert (log.turns("mine"), other.turns("b"), log.turns("a")) == (5, 5, 4)


items = st.one_of(
    st.builds(
        Reading,
        st.integers(0, 3).map(float),
        st.sampled_from(["bath", "mix", "é"]),
        st.none() | st.sampled_from([-15.0, -0.0, 0.0, math.inf]),
    ),
    st.builds(
        Mark,
        st.integers(0, 3).map(float),
        st.sampled_from([MarkWord.POUR, MarkWord.NOTE]),
        detail=st.dictionaries(st.sampled_from(["note"]), st.text(max_size=2)),
    ),
)
runs = st.lists(st.lists(items, max_size=4), max_size=4)


@settings(max_examples=6)
@given(runs, runs)
def test_merging_both_ways_makes_both_logs_hold_the_same(
    mine: list[list[Reading | Mark]], theirs: list[list[Reading | Mark]]
) -> None:
    """Whatever the two held, and however their names collide."""
    with TemporaryDirectory() as folder:
        paths = [Path(folder) / name for name in ("mine.sqlite", "theirs.sqlite")]
        logs = [RunLog(path, "NORMAL") for path in paths]
        for log, held in zip(logs, (mine, theirs), strict=True):
            for n, fed in enumerate(held):
                log.begin(RunHeader(f"r{n}", "r", T0, "", "", virtual=False, version="0"))
                for item in fed:
                    log.add(f"r{n}", item, 0.0)
                log.end(f"r{n}", 4.0)
        one, two = logs
        merge(one, two.path, LATER)
        merge(two, one.path, LATER)
        prints = [
            {fingerprint(log, row.header.id) for row in log.runs() if log.turns(row.header.id)}
            for log in logs
        ]
        wanted = {fingerprint_of(fed) for fed in (*mine, *theirs) if fed}
        assert prints == [wanted, wanted]
        for log, path in ((one, two.path), (two, one.path)):
            before = len(log.runs())
            merge(log, path, LATER)
            assert len(log.runs()) == before
        for log in logs:
            log.close()
