"""Calibrations go into the log as points, and are taken back there; none is ever lost."""

from __future__ import annotations

from collections.abc import Sequence

from rigmon.store.entries import Calibrated
from rigmon.store.log import RunLog


def keep(log: RunLog, points: Sequence[tuple[str, str, float, str, str]]) -> None:
    """Write points down, all of them or none.

    Args:
        log: the log.
        points: of each the rig, the probe, when [s, Unix], how its temperature was known, and the
            figures as JSON.

    Raises:
        LogError: they could not be written.
    """
    with log.writing() as db:
        db.executemany(
            "INSERT INTO calibration (rig, probe, at_unix, kind, text) VALUES (?, ?, ?, ?, ?)",
            points,
        )


def take_back(log: RunLog, points: Sequence[Calibrated], at_unix: float) -> None:
    """Let points count no more; they stay in the log.

    Raises:
        LogError: it could not be written.
    """
    with log.writing() as db:
        db.executemany(
            "UPDATE calibration SET undone_unix = ? WHERE no = ?",
            [(at_unix, point.no) for point in points],
        )
