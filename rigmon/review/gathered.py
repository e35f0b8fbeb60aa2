"""A rig's runs out of the log, as far as they can be held against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rigmon.config import parse_config
from rigmon.errors import UsageError
from rigmon.estimate.memory import RigMemory, RigPart
from rigmon.records import RigSetup
from rigmon.review.kept import Unmeasured, measures
from rigmon.review.memory import Changed, Kept, recall, story
from rigmon.review.suggesting import NEWEST
from rigmon.review.told import Told
from rigmon.review.tried import LeftOut, Tried, tried
from rigmon.store.archive import Archive
from rigmon.store.entries import RunRow, RunState

FULL_PCT = 100.0
_MAKES_ANOTHER = frozenset({RigPart.BOWL, RigPart.MIXER})
"""Parts whose change makes runs before it those of another rig; a probe's does not."""


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """What a log holds of a rig.

    Args:
        rig: id of the rig.
        virtual: whether it is a virtual one.
        runs: its runs that can be held against each other, oldest first.
        left_out: those that cannot, and why.
        memory: what has been learned of it.
        setup: the rig as it was in its newest run.
        told: the units of its newest run.
    """

    rig: str
    virtual: bool
    runs: tuple[Tried, ...]
    left_out: tuple[LeftOut, ...]
    memory: RigMemory
    setup: RigSetup
    told: Told


def rig_of(log: Archive, rig_id: str | None) -> Kept:
    """The rig that is meant: the only one in the log, or the one named.

    Of a real and a virtual rig of one name, the real one.

    Raises:
        UsageError: none, or it is not clear which.
    """
    seen = sorted({(row.header.rig, row.header.virtual) for row in log.runs()})
    if not seen:
        raise UsageError(f"The log {log.path} holds no run yet")
    meant = [one for one in seen if rig_id in (None, one[0])]
    names = ", ".join(dict.fromkeys(name for name, _ in seen))
    if not meant:
        raise UsageError(f"The log {log.path} holds no run of a rig {rig_id!r}; there are: {names}")
    if len({name for name, _ in meant}) > 1:
        raise UsageError(f"The log holds several rigs ({names}): say which")
    return Kept(*meant[0])


def gather(log: Archive, kept: Kept, target_pct: float, also: Sequence[str] = ()) -> Gathered:
    """The newest runs of a rig, each timed to a frozen share or to what it reached.

    Args:
        log: the log.
        kept: whose runs.
        target_pct: the frozen share [%].
        also: ids of runs that are wanted, however old.

    Raises:
        LogError: the log cannot be read.
        ConfigError: a newer program wrote what a run started from.
    """
    rows = [
        row
        for row in log.runs()
        if (row.header.rig, row.header.virtual) == (kept.rig, kept.virtual)
        and row.state is not RunState.RUNNING
    ]
    newest = [row for n, row in enumerate(rows) if n < NEWEST or row.header.id in also]
    found = _tried(log, newest, target_pct, _since_unix(log, kept))
    runs = [one for one in found if isinstance(one, Tried)]
    last = parse_config(rows[0].header.document, rows[0].header.id) if rows else None
    return Gathered(
        rig=kept.rig,
        virtual=kept.virtual,
        runs=tuple(sorted(runs, key=lambda run: run.started_unix)),
        left_out=tuple(one for one in found if isinstance(one, LeftOut)),
        memory=recall(log, kept),
        setup=last.rigs[0].setup if last is not None else RigSetup(id=kept.rig),
        told=Told(last.units) if last is not None else Told(),
    )


def two(log: Archive, a: str, b: str) -> tuple[Tried, Tried, Gathered]:
    """Two runs of one rig, timed to the most that both can be timed to, with the rig's others.

    Args:
        log: the log.
        a: the one, as a maker names it.
        b: the other.

    Raises:
        UsageError: they are of different rigs, or one cannot be held against others.
        LogError: the log cannot be read.
    """
    heads = log.find(a), log.find(b)
    one, other = (Kept(head.rig, head.virtual) for head in heads)
    if one != other:
        raise UsageError(
            f"{heads[0].id} and {heads[1].id} are of different rigs, which differ by more than "
            "what went into them: compare runs of one rig"
        )
    ids = heads[0].id, heads[1].id
    held = gather(log, one, FULL_PCT, ids)
    shares = [_of(held, run_id).frozen_pct for run_id in ids]
    held = gather(log, one, min(shares), ids)
    return _of(held, ids[0]), _of(held, ids[1]), held


def _of(held: Gathered, run_id: str) -> Tried:
    for run in held.runs:
        if run.run == run_id:
            return run
    why = next((one.why for one in held.left_out if one.run == run_id), "it still goes on")
    raise UsageError(f"{run_id} cannot be held against another run: {why}")


def _since_unix(log: Archive, kept: Kept) -> float:
    """Since when the rig has had the bowl and the mixer that it has [s]."""
    changes = (one for one in story(log, kept) if isinstance(one, Changed))
    return max((one.at_unix for one in changes if one.part in _MAKES_ANOTHER), default=-math.inf)


def _tried(
    log: Archive, rows: Sequence[RunRow], target_pct: float, since_unix: float
) -> list[Tried | LeftOut]:
    found: list[Tried | LeftOut] = []
    for row, one in zip(rows, measures(log, rows), strict=True):
        if isinstance(one, Unmeasured):
            found.append(LeftOut(one.run, one.why.rstrip(".")))
        elif row.header.started_unix < since_unix:
            found.append(LeftOut(one.run, "made with another bowl or mixer"))
        else:
            known = parse_config(row.header.document, one.run).recorded
            recipe = known.recipe if known is not None else None
            found.append(tried(one, recipe, target_pct))
    return found
