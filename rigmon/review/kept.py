"""Measures of many runs: those that the log keeps, and the others measured and kept."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from rigmon import __version__
from rigmon.errors import LogError, RigmonError
from rigmon.estimate.cloud import MODEL_VERSION
from rigmon.review.measures import MEASURES_VERSION, Measures, Tasted, as_json, from_json
from rigmon.review.measuring import measure
from rigmon.store.afterwards import keep_measures
from rigmon.store.archive import Archive
from rigmon.store.entries import Measured, RunRow, RunState
from rigmon.store.log import RunLog

MADE_BY = f"{MEASURES_VERSION}/{MODEL_VERSION}/{__version__}"
"""What measures are kept under: those of another measure, model or version are got again."""
_WORTH_A_HELPER = 8
"""So many runs to measure are shared among the machine's cores; fewer take no longer alone."""


@dataclass(frozen=True, slots=True)
class Unmeasured:
    """A run that could not be measured.

    Args:
        run: its id.
        why: in a sentence.
    """

    run: str
    why: str


def measures(
    log: Archive,
    rows: Sequence[RunRow],
    tell: Callable[[int, int], None] | None = None,
) -> list[Measures | Unmeasured]:
    """The measures of runs, in their order, with what was said of how they tasted.

    Those that were measured now are kept in the log, if it can be written.

    Args:
        log: the log.
        rows: the runs.
        tell: is told how many of those that must be measured are done, and of how many.

    Raises:
        LogError: the log cannot be read.
    """
    kept = log.measured()
    found: dict[str, Measures | Unmeasured] = {}
    missing: list[RunRow] = []
    for row in rows:
        known = _known(kept.get(row.header.id), row)
        if known is None:
            missing.append(row)
        else:
            found[row.header.id] = known
    for done, one in enumerate(_measured(log, [row.header.id for row in missing]), start=1):
        found[one.run] = one
        if tell is not None:
            tell(done, len(missing))
    if isinstance(log, RunLog):
        _keep(log, missing, found)
    tasted = tastings(log)
    return [_with(found[row.header.id], tasted.get(row.header.id)) for row in rows]


def tastings(log: Archive) -> dict[str, Tasted]:
    """What was said last of each run's batch; a score and a note stand until another is given.

    Raises:
        LogError: the log cannot be read.
    """
    found: dict[str, Tasted] = {}
    for one in log.tastings():
        before = found.get(one.run_id)
        texture = one.texture if one.texture is not None or before is None else before.texture
        note = one.note or (before.note if before is not None else "")
        found[one.run_id] = Tasted(texture, note, one.at_unix)
    return found


def _with(one: Measures | Unmeasured, tasted: Tasted | None) -> Measures | Unmeasured:
    return one if isinstance(one, Unmeasured) else replace(one, tasted=tasted)


def _known(kept: Measured | None, row: RunRow) -> Measures | None:
    if kept is None or kept.made_by != MADE_BY or kept.of != _extent(row):
        return None
    try:
        # A run taken over from another machine may have another id here.
        return replace(from_json(kept.text), run=row.header.id)
    except ValueError:
        return None


def _extent(row: RunRow) -> str:
    return f"{row.readings} readings, {row.marks} marks, {row.duration_s} s"


def _measured(log: Archive, run_ids: Sequence[str]) -> Iterator[Measures | Unmeasured]:
    helpers = min(os.cpu_count() or 1, len(run_ids) // _WORTH_A_HELPER)
    if helpers < 2:
        yield from (_one(log, run_id) for run_id in run_ids)
        return
    # A process that is forked off beside other threads may wait for their locks for ever.
    with ProcessPoolExecutor(helpers, get_context("spawn")) as pool:
        yield from pool.map(partial(_by_a_helper, log.path), run_ids, chunksize=4)


def _by_a_helper(path: Path, run_id: str) -> Measures | Unmeasured:
    try:
        with RunLog(path, create=False) as log:
            return _one(log, run_id)
    except RigmonError as error:
        return Unmeasured(run_id, f"{error}.")


def _one(log: Archive, run_id: str) -> Measures | Unmeasured:
    try:
        return measure(log, run_id)
    except RigmonError as error:
        return Unmeasured(run_id, f"{error}.")


def _keep(log: RunLog, rows: Sequence[RunRow], found: dict[str, Measures | Unmeasured]) -> None:
    new: dict[str, Measured] = {}
    for row in rows:
        one = found[row.header.id]
        if row.state is not RunState.RUNNING and isinstance(one, Measures):
            new[row.header.id] = Measured(MADE_BY, _extent(row), as_json(one))
    if not new:
        return
    try:
        keep_measures(log, new)
    except LogError:
        # A log that may only be read is measured anew each time.
        return
