"""Calibrations lie in the log, in order, and are taken back without being lost."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from rigmon.errors import LogError
from rigmon.store import RunLog
from rigmon.store.calibrations import keep, take_back
from rigmon.store.schema import MIGRATIONS, migrate


def test_points_come_back_by_rig_in_the_order_of_time(log: RunLog) -> None:
    """Whatever the order in which they were kept."""
    keep(log, [("left", "mix", 20.0, "boil", "{}"), ("left", "mix", 10.0, "ice", "{}")])
    keep(log, [("right", "bath", 5.0, "ice", "{}")])
    assert [(row.at_unix, row.kind) for row in log.calibrations("left")] == [
        (10.0, "ice"),
        (20.0, "boil"),
    ]
    assert log.calibrated_rigs() == ("left", "right")
    assert log.calibrations("nobody") == ()


def test_a_point_that_was_taken_back_stays(log: RunLog) -> None:
    """With the time at which that was done."""
    keep(log, [("left", "mix", 10.0, "ice", "{}"), ("left", "bath", 10.0, "ice", "{}")])
    take_back(log, log.calibrations("left")[:1], 99.0)
    assert [row.undone_unix for row in log.calibrations("left")] == [99.0, None]


def test_all_points_are_written_or_none(log: RunLog) -> None:
    """A fault in the second leaves no first."""
    broken = [("left", "mix", 10.0, "ice", "{}"), ("left", "mix", None, "ice", "{}")]
    with pytest.raises(LogError):
        keep(log, broken)  # type: ignore[arg-type]
    assert log.calibrations("left") == ()


def test_an_older_log_gets_the_table(tmp_path: Path) -> None:
    """A log of the first format is opened and can be calibrated into."""
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        migrate(db, MIGRATIONS[:1])
    with RunLog(path) as log:
        keep(log, [("left", "mix", 10.0, "ice", "{}")])
        assert len(log.calibrations("left")) == 1
