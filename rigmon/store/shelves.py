"""How readings, marks and conditions lie in the log, and come out of it bit for bit."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from rigmon.records import By, Condition, Fault, Item, Mark, MarkWord, Reading, Unit

Cells = tuple[Any, ...]
"""Values of one row as SQLite takes and gives them."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """The table of one kind of item.

    Args:
        insert: statement for one row: number of the run, turn, clock, and the item's own cells.
        page: statement for the rows of a run between two turns: turn, clock, own cells.
        last: statement for the last turn of a run and the time that the run had reached.
        count: statement for the number of rows of a run.
        unpack: an item from its own cells.
    """

    insert: str
    page: str
    last: str
    count: str
    unpack: Callable[[Cells], Item]


def pack(item: Item) -> Cells:
    """An item's own cells.

    Raises:
        TypeError: it is not an item.

    >>> pack(Mark(12.0, MarkWord.POUR, detail={"mix_g": 900.0}))
    (12.0, 'pour', 'maker', '{"mix_g": 900.0}')
    """
    match item:
        case Reading():
            return (
                _number(item.t),
                plain(item.probe),
                _number(item.value),
                item.unit.value,
                _number(item.cj_c),
                item.fault.value if item.fault else None,
                _number(item.board_s),
                plain(item.by),
                _number(item.sd_k),
            )
        case Mark():
            return (_number(item.t), item.word.value, item.by.value, json.dumps(dict(item.detail)))
        case Condition():
            return _number(item.t), plain(item.code), int(item.active), plain(item.text)
    raise TypeError(f"{type(item).__name__} cannot be logged")


def plain(text: str) -> str:
    r"""Text as UTF-8 can hold it.

    >>> plain("a\ud800b")
    'a?b'
    """
    return text.encode("utf-8", "replace").decode("utf-8")


def _number(value: float | None) -> float | str | None:
    if value is None:
        return None
    # SQLite would turn a NaN into NULL, which here means that there is no value.
    return float(value) if value == value else "nan"  # noqa: PLR0124 - only NaN differs from itself


def _float(cell: float | str | None) -> float | None:
    return None if cell is None else float(cell)


def _reading(cells: Cells) -> Reading:
    t, probe, value, unit, cj_c, fault, board_s, by, sd_k = cells
    return Reading(
        t,
        probe,
        _float(value),
        Unit(unit),
        _float(cj_c),
        Fault(fault) if fault else None,
        _float(board_s),
        by,
        _float(sd_k),
    )


def _mark(cells: Cells) -> Mark:
    t, word, by, detail = cells
    return Mark(t, MarkWord(word), By(by), json.loads(detail))


def _condition(cells: Cells) -> Condition:
    t, code, active, text = cells
    return Condition(t, code, bool(active), text)


def _shelf(table: str, own: str, unpack: Callable[[Cells], Item]) -> Shelf:
    columns = f"seq, clock, {own}"
    marks = ", ".join("?" for _ in columns.split(","))
    # Table and columns come from this file alone; what comes from outside is bound.
    insert = f"INSERT INTO {table} (run, {columns}) VALUES (?, {marks})"  # noqa: S608 - see above
    page = f"SELECT {columns} FROM {table} WHERE run = ? AND seq > ? AND seq <= ?"  # noqa: S608 - see above
    last = f"SELECT seq, max(t, clock) FROM {table} WHERE run = ? ORDER BY seq DESC LIMIT 1"  # noqa: S608 - see above
    count = f"SELECT count(*) FROM {table} WHERE run = ?"  # noqa: S608 - see above
    return Shelf(insert, page, last, count, unpack)


SHELVES = {
    Reading: _shelf("reading", "t, probe, value, unit, cj_c, fault, board_s, by, sd_k", _reading),
    Mark: _shelf("mark", "t, word, by, detail", _mark),
    Condition: _shelf("condition", "t, code, active, text", _condition),
}
"""Where each kind of item lies."""
