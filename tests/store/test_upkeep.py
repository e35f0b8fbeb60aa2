"""Runs are tagged, found, deleted and brought back; what a deleted run taught is out of mind."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.errors import LogError, UsageError
from rigmon.store import RunLog
from rigmon.store.entries import Tasting
from rigmon.store.upkeep import Hit, delete, hits, purge, tag, undelete, untag

if TYPE_CHECKING:
    from tests.store.conftest import Put


@pytest.fixture
def full(log: RunLog, put: Put) -> RunLog:
    """A log with two runs of a rig."""
    put(log, "porch-1", -15.0)
    put(log, "porch-2", -16.0, started=1_783_260_000.0)
    return log


def count(log: RunLog, table: str) -> int:
    """Rows of a table."""
    return int(log._db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])  # noqa: S608 - a test's


def test_tags_go_on_once_and_come_off(full: RunLog) -> None:
    """A tag that is there already stays; one that was not there is named."""
    tag(full, ["porch-1", "porch-2"], ["plum", "crushed-ice"])
    tag(full, ["porch-1"], ["plum", "Ärmel"])
    assert full.run("porch-1").tags == ("crushed-ice", "plum", "Ärmel")
    assert untag(full, ["porch-1", "porch-2"], ["crushed-ice", "fig"]) == ("fig",)
    assert [row.tags for row in full.runs()] == [("plum",), ("plum", "Ärmel")]


@pytest.mark.parametrize("word", ["", "two words", "-x", "a,b", "x" * 41, "a\nb"])
def test_what_cannot_be_a_tag_is_refused(full: RunLog, word: str) -> None:
    """Nothing is tagged then, not even with the words that could be."""
    with pytest.raises(UsageError, match="cannot be a tag; allowed are up to 40"):
        tag(full, ["porch-1"], ["plum", word])
    assert full.run("porch-1").tags == ()
    with pytest.raises(LogError, match="no run nowhere"):
        tag(full, ["porch-1", "nowhere"], ["plum"])
    assert full.run("porch-1").tags == ()


def test_words_are_found_wherever_a_maker_put_them(full: RunLog) -> None:
    """In id, recipe, tags, notes of marks with their time, and notes of batches; in any case."""
    tag(full, ["porch-1"], ["plummy"])
    row = full.run("porch-1")
    tasted = (Tasting("porch-1", 0.0, 4, "more plum"), Tasting("porch-2", 0.0, 4, "plum too"))
    assert hits(full, row, "PLUM", tasted) == (
        Hit("tag", "plummy"),
        Hit("note", "Plum", 1.0),
        Hit("tasting", "more plum"),
    )
    assert hits(full, row, "orch-1") == (Hit("id", "porch-1"),)
    assert hits(full, row, "plain") == (Hit("recipe", "plain"),)
    assert hits(full, row, "fig", tasted) == ()


def test_a_deleted_run_is_out_of_sight_and_mind_until_it_is_brought_back(full: RunLog) -> None:
    """The list, finding it and what it taught; and nothing of it is lost."""
    before = list(full.items("porch-1")), full.run("porch-1"), full.learned("porch")
    delete(full, ["porch-1"], 1000.0)
    assert [row.header.id for row in full.runs()] == ["porch-2"]
    assert [row.header.id for row in full.runs(deleted=True)] == ["porch-1"]
    assert full.run("porch-1").deleted_unix == 1000.0
    assert [taught.run_id for taught in full.learned("porch")] == ["porch-2"]
    with pytest.raises(UsageError, match="porch-1 is deleted; rigmon runs undelete porch-1"):
        full.find("porch-1")
    assert full.find("1", deleted=True).id == "porch-1"
    undelete(full, ["porch-1"])
    assert (list(full.items("porch-1")), full.run("porch-1"), full.learned("porch")) == before
    with pytest.raises(UsageError, match=r"No run in the log .* is deleted"):
        full.find("porch-1", deleted=True)


def test_a_log_of_deleted_runs_alone_says_so(full: RunLog) -> None:
    """It is not the same as an empty one."""
    delete(full, ["porch-1", "porch-2"], 1000.0)
    with pytest.raises(UsageError, match="holds deleted runs alone; rigmon runs --deleted"):
        full.find("last")


def test_a_run_that_is_watched_is_not_deleted(full: RunLog, put: Put) -> None:
    """Nor are those that were named with it."""
    put(full, "porch-3", end=False)
    with pytest.raises(UsageError, match="porch-3 is being watched; end it first"):
        delete(full, ["porch-1", "porch-3"], 1000.0)
    assert len(full.runs()) == 3


def test_only_runs_deleted_long_enough_are_purged_and_then_wholly(full: RunLog) -> None:
    """Whatever table holds something of them; the other runs keep all that is theirs."""
    tag(full, ["porch-1", "porch-2"], ["plum"])
    delete(full, ["porch-1"], 1000.0)
    assert purge(full, 1000.0) == ()
    assert full.run("porch-1").tags == ("plum",)
    assert purge(full, 1000.5) == ("porch-1",)
    tables = {"run": 1, "reading": 2, "mark": 1, "condition": 1, "said": 1, "tag": 1, "learned": 1}
    assert {table: count(full, table) for table in tables} == tables
    with pytest.raises(LogError, match="no run porch-1"):
        full.run("porch-1")
    assert full._db.execute("PRAGMA foreign_key_check").fetchall() == []
