"""What a maker does to runs that lie in the log: tags on and off, deleted, brought back, gone."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from rigmon.errors import UsageError
from rigmon.store.entries import RunRow, RunState, Tasting
from rigmon.store.log import RunLog
from rigmon.store.schema import tables_of_a_run

KEPT_S = 30 * 86_400.0
"""A deleted run can be brought back for this long [s] (own choice: a month of second thoughts)."""
_TAG = re.compile(r"[^\W_][\w.+-]{0,39}")


def tag(log: RunLog, run_ids: Collection[str], words: Collection[str]) -> None:
    """Put tags on runs; one that is there already stays.

    Raises:
        UsageError: a word that cannot be a tag.
        LogError: no such run, or it could not be written.
    """
    for word in words:
        if not _TAG.fullmatch(word):
            raise UsageError(
                f"{word[:50]!r} cannot be a tag; allowed are up to 40 letters, digits, . + - and _"
            )
    _each(log, run_ids, words, "INSERT INTO tag (run, word) VALUES (?, ?) ON CONFLICT DO NOTHING")


def untag(log: RunLog, run_ids: Collection[str], words: Collection[str]) -> tuple[str, ...]:
    """Take tags off runs; gives those of the words that none of them had.

    Raises:
        LogError: no such run, or it could not be written.
    """
    had = {word for run_id in run_ids for word in log.run(run_id).tags}
    _each(log, run_ids, words, "DELETE FROM tag WHERE run = ? AND word = ?")
    return tuple(word for word in words if word not in had)


def delete(log: RunLog, run_ids: Collection[str], at_unix: float) -> None:
    """Put runs out of sight, and what they taught out of mind; all of them or none.

    Args:
        log: the log.
        run_ids: the runs.
        at_unix: the wall clock [s].

    Raises:
        UsageError: one of them is being watched.
        LogError: no such run, or it could not be written.
    """
    for run_id in run_ids:
        if log.run(run_id).state is RunState.RUNNING:
            raise UsageError(f"{run_id} is being watched; end it first: rigmon mark end")
    with log.writing() as db:
        for run_id in run_ids:
            db.execute("UPDATE run SET deleted_unix = ? WHERE id = ?", (at_unix, run_id))


def undelete(log: RunLog, run_ids: Collection[str]) -> None:
    """Bring deleted runs back, with what they taught.

    Raises:
        LogError: it could not be written.
    """
    with log.writing() as db:
        for run_id in run_ids:
            db.execute("UPDATE run SET deleted_unix = NULL WHERE id = ?", (run_id,))


def purge(log: RunLog, deleted_before_unix: float) -> tuple[str, ...]:
    """Take deleted runs out of the log for good, with all that belongs to them.

    Args:
        log: the log.
        deleted_before_unix: only those that were deleted before this moment [s].

    Returns:
        Their ids.

    Raises:
        LogError: it could not be written; the runs not yet taken out are untouched.
    """
    gone = []
    for row in reversed(log.runs(deleted=True)):
        name = row.header.id
        if row.deleted_unix is None or row.deleted_unix >= deleted_before_unix:
            continue
        with log.writing() as db:
            (no,) = db.execute("SELECT no FROM run WHERE id = ?", (name,)).fetchone()
            for table in tables_of_a_run(db):
                # The names of the tables come from the log's own schema.
                db.execute(f'DELETE FROM "{table}" WHERE run = ?', (no,))  # noqa: S608 - see above
            db.execute("DELETE FROM learned WHERE run = ?", (name,))
            db.execute("DELETE FROM run WHERE no = ?", (no,))
        gone.append(name)
    return tuple(gone)


@dataclass(frozen=True, slots=True)
class Hit:
    """A place where words were found in a run.

    Args:
        what: `id`, `recipe`, `tag`, `note`, or `tasting` for a note of the batch.
        text: what stands there.
        at: run time of a note [s], else None.
    """

    what: str
    text: str
    at: float | None = None


def hits(log: RunLog, row: RunRow, words: str, tastings: Iterable[Tasting] = ()) -> tuple[Hit, ...]:
    """Where words stand in a run: id, name of the recipe, tags, notes of its marks and its batch.

    Upper and lower case are one.

    Args:
        log: the log.
        row: the run.
        words: the words.
        tastings: what was said of batches, of other runs too.

    Raises:
        LogError: the log cannot be read.
    """
    head = row.header
    places = [Hit("id", head.id), Hit("recipe", head.recipe), *(Hit("tag", t) for t in row.tags)]
    if row.marks:
        for mark in log.marks(head.id):
            note = mark.detail.get("note")
            places += [Hit("note", note, mark.t)] if isinstance(note, str) else []
    places += [Hit("tasting", one.note) for one in tastings if one.run_id == head.id]
    sought = words.casefold()
    return tuple(place for place in places if sought in place.text.casefold())


def _each(log: RunLog, run_ids: Collection[str], words: Collection[str], statement: str) -> None:
    for run_id in run_ids:
        log.run(run_id)
    with log.writing() as db:
        for run_id in run_ids:
            (no,) = db.execute("SELECT no FROM run WHERE id = ?", (run_id,)).fetchone()
            db.executemany(statement, [(no, word) for word in words])
