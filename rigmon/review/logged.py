"""A run as the log holds it: what it started from, what it was fed, what was said of it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rigmon.config import Units, parse_config
from rigmon.estimate.cloud import PRIOR
from rigmon.records import By, Item, Mark, MarkWord, Recipe, RigPrior, RigSetup
from rigmon.store.archive import Archive
from rigmon.store.entries import RunRow

_NEVER_UNDONE = frozenset({MarkWord.ACK, MarkWord.SHELVE, MarkWord.NOTE, MarkWord.UNDO})


@dataclass(frozen=True, slots=True)
class Logged:
    """A run out of the log.

    Args:
        row: what the list of runs says of it.
        setup: the rig as it was then.
        recipe: the mix; None if none was named.
        prior: what was believed of the rig then.
        seed: seed of the run's random numbers.
        units: units that the maker read.
        items: what it was fed, each behind the run's clock just before it [s]; marks that were
            taken back are left out, and so is the taking back.
        refused: words that were guessed from the readings and taken back.
        said: what was said of it, in order, as the JSON lines have it.
    """

    row: RunRow
    setup: RigSetup
    recipe: Recipe | None
    prior: RigPrior
    seed: int
    units: Units
    items: tuple[tuple[float, Item], ...]
    refused: frozenset[MarkWord]
    said: tuple[Mapping[str, Any], ...]

    def lines(self, kind: str) -> Iterator[Mapping[str, Any]]:
        """What was said of one kind, for instance `alarm`."""
        return (line for line in self.said if line["type"] == kind)


def read(log: Archive, run_id: str, *, items: bool = True) -> Logged:
    """A run out of the log.

    Args:
        log: the log.
        run_id: the run.
        items: False leaves out what it was fed and what was said of it.

    Raises:
        LogError: no such run, or the log cannot be read.
        ConfigError: a newer program wrote what the run started from.
    """
    row = log.run(run_id)
    config = parse_config(row.header.document, run_id)
    (rig,) = config.rigs
    known = config.recorded
    said = tuple(json.loads(line) for line in log.said(run_id)) if items else ()
    fed, refused = _kept(tuple(log.items(run_id)) if items else (), said)
    return Logged(
        row=row,
        setup=rig.setup,
        recipe=known.recipe if known is not None else None,
        prior=known.prior if known is not None else PRIOR,
        seed=known.seed if known is not None else 0,
        units=config.units,
        items=fed,
        refused=refused,
        said=said,
    )


def _kept(
    items: Sequence[tuple[float, Item]], said: Sequence[Mapping[str, Any]]
) -> tuple[tuple[tuple[float, Item], ...], frozenset[MarkWord]]:
    """What is left once what was taken back is gone, and the guesses that were taken back."""
    undone, refused = _undone(said)
    left: list[tuple[float, Item]] = []
    for clock, item in items:
        if isinstance(item, Mark) and item.word is MarkWord.UNDO:
            word = next(undone, None)
            places = [i for i, (_, one) in enumerate(left) if _is(one, word)]
            if places:
                del left[places[-1]]
            continue
        left.append((clock, item))
    return tuple(left), refused


def _is(item: Item, word: MarkWord | None) -> bool:
    return isinstance(item, Mark) and item.word is word


def _undone(
    said: Sequence[Mapping[str, Any]],
) -> tuple[Iterator[MarkWord | None], frozenset[MarkWord]]:
    """For each taking back, the maker's own word that it took back; and the guessed ones."""
    heard: list[tuple[MarkWord, By]] = []
    undone: list[MarkWord | None] = []
    refused: set[MarkWord] = set()
    for line in said:
        if line["type"] != "mark":
            continue
        word, by = MarkWord(line["mark"]), By(line["by"])
        if word is MarkWord.UNDO:
            last = heard.pop() if heard else None
            guessed = last is not None and last[1] is By.DETECTED
            if guessed and last is not None:
                refused.add(last[0])
            undone.append(None if guessed or last is None else last[0])
        elif word not in _NEVER_UNDONE or by is By.DETECTED:
            heard.append((word, by))
    return iter(undone), frozenset(refused)
