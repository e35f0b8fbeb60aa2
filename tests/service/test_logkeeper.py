"""A log that cannot be written never stops the watching, and misses nothing once it can."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from rigmon.errors import LogError
from rigmon.records import Mark, MarkWord, Reading
from rigmon.service.logkeeper import LogKeeper, open_log
from rigmon.service.prepare import Rig, header_of
from rigmon.store import RunHeader, RunLog, RunState

NOON = datetime.datetime(2026, 7, 4, 12, tzinfo=datetime.UTC).timestamp()


def room(log: RunLog, pages: int) -> None:
    """Let the file grow to so many pages and no further."""
    log._db.execute(f"PRAGMA max_page_count = {pages}")


def long_header(rig: Rig) -> RunHeader:
    """The header of a run that needs pages of its own."""
    return replace(header_of(rig, NOON), document="#" * 200_000)


def fill_the_disk(log: RunLog) -> None:
    """Leave no room for another page."""
    room(log, int(log._db.execute("PRAGMA page_count").fetchone()[0]))


def test_a_run_begun_on_a_full_disk_is_whole_once_there_is_room(
    keeper: LogKeeper, log: RunLog, rig: Rig
) -> None:
    """Nothing raises; the fault is there to be told, and gone when all is written."""
    fill_the_disk(log)
    run_id = keeper.begin(long_header(rig))
    assert "the disk is full" in keeper.fault
    keeper.add(run_id, Mark(0.0, MarkWord.POUR), 0.0)
    keeper.say(run_id, 0.0, "mark", "{}")
    assert not keeper.commit(now=True)
    room(log, 1_000_000)
    assert keeper.commit(now=True)
    assert keeper.fault == ""
    keeper.end(run_id, 1.0)
    (row,) = log.runs()
    assert (row.state, row.marks) == (RunState.ENDED, 1)
    assert list(log.said(run_id)) == ["{}"]


def test_the_first_sentence_stands_until_the_log_goes_on(
    keeper: LogKeeper, log: RunLog, rig: Rig
) -> None:
    """An alarm whose text changes with every attempt would be a new one each time."""
    run_id = keeper.begin(header_of(rig, NOON))
    fill_the_disk(log)
    for t in range(200):
        keeper.add(run_id, Mark(float(t), MarkWord.NOTE, detail={"note": "x" * 500}), 0.0)
    keeper.commit(now=True)
    first = keeper.fault
    keeper.add(run_id, Mark(1.0, MarkWord.POUR), 0.0)
    keeper.commit(now=True)
    assert keeper.fault == first != ""
    room(log, 1_000_000)


def test_closing_a_log_that_is_still_full_says_what_is_lost(rig: Rig, tmp_path: Path) -> None:
    """The last word is how many entries did not get in; a second close has nothing to add."""
    log = RunLog(tmp_path / "full.sqlite")
    keeper = LogKeeper(log)
    fill_the_disk(log)
    run_id = keeper.begin(long_header(rig))
    keeper.add(run_id, Reading(0.0, "bath", -15.0), 0.0)
    path = log.path
    assert keeper.close() == (
        f"The run log {path} cannot be written: the disk is full; make room. 2 entries are lost."
    )
    assert keeper.close() == ""


def test_without_a_log_everything_passes(rig: Rig) -> None:
    """`--no-log` is the same daemon with nothing behind it."""
    keeper = LogKeeper(None)
    run_id = keeper.begin(header_of(rig, NOON))
    assert run_id == "slip-20260704T120000Z"
    keeper.add(run_id, Mark(0.0, MarkWord.POUR), 0.0)
    keeper.say(run_id, 0.0, "mark", "{}")
    assert keeper.commit(now=True)
    keeper.end(run_id, 1.0)
    assert keeper.close() == ""


def test_a_log_that_cannot_even_be_read_keeps_no_run_but_a_standing_fault(
    keeper: LogKeeper, log: RunLog, rig: Rig
) -> None:
    """The rig is watched on; the alarm does not go away as long as that run is nowhere."""
    log._db.close()
    run_id = keeper.begin(header_of(rig, NOON))
    assert "cannot be read" in keeper.fault
    keeper.add(run_id, Mark(0.0, MarkWord.POUR), 0.0)
    keeper.say(run_id, 0.0, "mark", "{}")
    keeper.commit(now=True)
    keeper.end(run_id, 1.0)
    assert "cannot be read" in keeper.fault


def test_a_log_that_cannot_be_opened_says_what_to_do(tmp_path: Path) -> None:
    """The advice belongs to the command: not every one has --no-log."""
    (tmp_path / "file").write_text("")
    with pytest.raises(LogError, match=r"cannot be opened: .*\. Give another place with --log\."):
        open_log(tmp_path / "file" / "runs.sqlite", advice="Give another place with --log.")


def test_a_run_that_has_ended_is_measured_by_the_time_the_log_is_closed(
    keeper: LogKeeper, log: RunLog, rig: Rig
) -> None:
    """So that looking back at many runs need not measure them first."""
    run_id = keeper.begin(header_of(rig, NOON))
    for t in range(5):
        keeper.add(run_id, Reading(float(t), "bath", -15.0), float(t))
    keeper.end(run_id, 5.0)
    keeper.close()

    with RunLog(log.path) as again:
        assert set(again.measured()) == {run_id}
