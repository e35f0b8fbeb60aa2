"""What tells the content of one run from that of another: a hash over all that it was fed.

Neither the run's name nor its start goes into it, so that the same readings are recognised when
they come back out of another log or another file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence

from rigmon.records import Item
from rigmon.store.archive import Archive
from rigmon.store.shelves import SHELVES, Cells, pack

_ROWS_AT_ONCE = 5_000


class _Hash:
    """Rows of each kind of item, in order of their turns, however they are dealt out."""

    def __init__(self) -> None:
        self._kinds = {kind: hashlib.sha256() for kind in SHELVES}

    def add(self, kind: type[Item], rows: Sequence[Cells]) -> None:
        if rows:
            # Escaped to ASCII, and floats as Python writes them: the same on every machine.
            text = json.dumps(rows, separators=(",", ":"))[1:-1]
            self._kinds[kind].update(text.encode("ascii") + b",")

    def value(self) -> str:
        whole = b"".join(one.digest() for one in self._kinds.values())
        return hashlib.sha256(whole).hexdigest()


def fingerprint_of(items: Iterable[Item]) -> str:
    """The fingerprint of items in the order in which a monitor is fed.

    >>> from rigmon.records import Mark, MarkWord
    >>> fingerprint_of([Mark(0.0, MarkWord.POUR)]) == fingerprint_of([Mark(1.0, MarkWord.POUR)])
    False
    """
    found = _Hash()
    waiting: dict[type[Item], list[Cells]] = {kind: [] for kind in SHELVES}
    for turn, item in enumerate(items, start=1):
        rows = waiting[type(item)]
        rows.append((turn, *pack(item)))
        if len(rows) == _ROWS_AT_ONCE:
            found.add(type(item), rows)
            rows.clear()
    for kind, rows in waiting.items():
        found.add(kind, rows)
    return found.value()


def fingerprint(log: Archive, run_id: str, first: int | None = None) -> str:
    """The fingerprint of a logged run.

    Args:
        log: the log.
        run_id: the run.
        first: only so many of its items; None for all.

    Raises:
        LogError: no such run.
    """
    found = _Hash()
    for kind, rows in log.packed(run_id, first):
        found.add(kind, rows)
    return found.value()
