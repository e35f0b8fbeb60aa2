"""Tables as spreadsheets write them: separators, quotation marks, comments, decimal commas."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

_LONGEST_ROW = 50
"""Lines that one row may take; a note of a maker is shorter, a lost quotation mark is not."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table.

    Args:
        line: number of its first line, from 1.
        cells: its cells, without the blanks around them.
        comma: True where its numbers may be written with a decimal comma.
        fault: what is wrong with it as a row, or "".
    """

    line: int
    cells: tuple[str, ...]
    comma: bool = False
    fault: str = ""


def rows(text: str, separator: str = "", skip: int = 0) -> Iterator[Row]:
    r"""The rows of a table that say something.

    Args:
        text: the table.
        separator: what stands between cells, a blank for any number of them; "" lets the first
            row decide.
        skip: so many lines on top are passed over.

    >>> [row.cells for row in rows("# mine\ntime_s;bath_c\n0;-14,5\n")]
    [('time_s', 'bath_c'), ('0', '-14,5')]
    """
    lines = list(io.StringIO(text, newline=""))
    at = skip
    while at < len(lines):
        first = at
        at += 1
        if lines[first].startswith(("#", '"#')) or not lines[first].strip():
            continue
        separator = separator or _separator(lines[first])
        try:
            cells, at = _cells(lines, first, separator)
        except csv.Error as fault:
            yield Row(first + 1, (), fault=_sentence(str(fault)))
            continue
        if any(cells):
            yield Row(first + 1, cells, comma=separator != ",")


def number(text: str, *, comma: bool = False) -> float:
    """A finite number as people and spreadsheets write it.

    Args:
        text: the cell.
        comma: True where a decimal comma may stand for the point.

    Raises:
        ValueError: it is none; the message says what was found.

    >>> number("−14,5", comma=True)
    -14.5
    """
    plain = text.replace("−", "-")
    if comma and "." not in plain:
        plain = plain.replace(",", ".", 1)
    try:
        value = float(plain)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in plain:
        raise ValueError(f"found {shown(text)}, a number is needed")
    return value


def shown(text: str) -> str:
    """A cell as a message quotes it, cut to a readable length."""
    return repr(text if len(text) <= 40 else f"{text[:40]}…")


def quoted(cell: str) -> str:
    r"""A cell as it must be written so that `rows` gives it back, whatever the separator.

    >>> quoted("note='thick, smooth'")
    '"note=\'thick, smooth\'"'
    """
    if any(letter in cell for letter in ',;\t"\r\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _separator(header: str) -> str:
    bare = re.sub(r'"[^"]*(?:"|$)', "", header)
    return next((letter for letter in ";\t" if letter in bare), ",")


def _cells(lines: list[str], first: int, separator: str) -> tuple[tuple[str, ...], int]:
    line = lines[first].rstrip("\r\n")
    if '"' not in line and separator == " ":
        return tuple(line.split()), first + 1
    if '"' not in line:
        return tuple(cell.strip() for cell in line.split(separator)), first + 1
    last = min(first + _LONGEST_ROW, len(lines))
    end = first + 1
    while True:
        record = "".join(lines[first:end]).rstrip("\r\n")
        try:
            (cells,) = csv.reader(
                [record], delimiter=separator, strict=True, skipinitialspace=separator == " "
            )
        except csv.Error as fault:
            if end == last or not _is_open(str(fault)):
                raise
            end += 1
        else:
            return tuple(cell.strip() for cell in cells), end


def _is_open(fault: str) -> bool:
    return "unexpected end" in fault


def _sentence(fault: str) -> str:
    if _is_open(fault):
        return "a quotation mark is opened in this row and not closed"
    if "expected after" in fault:
        return "a quotation mark stands inside a quoted cell; write it twice"
    return fault
