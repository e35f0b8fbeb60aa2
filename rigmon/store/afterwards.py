"""What is put beside a run once it is over, its items untouched: measures, and how it tasted."""

from __future__ import annotations

from collections.abc import Mapping

from rigmon.store.entries import Measured, Tasting
from rigmon.store.log import RunLog
from rigmon.store.shelves import plain


def keep_measures(log: RunLog, measured: Mapping[str, Measured]) -> None:
    """Keep measures, each in place of what was kept of its run; a run that is gone is passed over.

    Args:
        log: the log.
        measured: by run.

    Raises:
        LogError: it could not be written.
    """
    with log.writing() as db:
        db.executemany(
            "INSERT OR REPLACE INTO measured (run, made_by, of, text)"
            " SELECT no, ?, ?, ? FROM run WHERE id = ?",
            [(one.made_by, one.of, one.text, run_id) for run_id, one in measured.items()],
        )


def taste(log: RunLog, tasting: Tasting) -> None:
    """Keep what a maker says of a batch, beside what was said before.

    Raises:
        LogError: no such run, or it could not be written.
    """
    log.run(tasting.run_id)
    with log.writing() as db:
        db.execute(
            "INSERT OR REPLACE INTO tasting (run, at_unix, texture, note)"
            " SELECT no, ?, ?, ? FROM run WHERE id = ?",
            (tasting.at_unix, tasting.texture, plain(tasting.note), tasting.run_id),
        )
