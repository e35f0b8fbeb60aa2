"""What form a board's lines have, guessed from the lines alone."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from rigmon.records import ChecksumRule, LineForm, place_of
from rigmon.sources.columns import number
from rigmon.sources.decoded import BadLine
from rigmon.sources.frames import decode_word
from rigmon.sources.wire import checksum

MOSTLY = 0.7
"""A form holds if so large a share of the lines has it; the first line is often half of one."""

_CHECKSUM = re.compile(rb"\*([0-9A-Fa-f]{2})\Z")
_WORD = re.compile(r"(?:0[xX])?[0-9A-Fa-f]{8}")
_NAMES = re.compile(r"#?\s*([A-Za-z][\w-]*(?:\s*[,;\t]\s*|\s+))+[A-Za-z][\w-]*")
_SEPARATORS = (";", "\t", ",")
_CLOCK_SHARE = 0.15
_COLD_C = -3.0
_FILL = ("bath", "mix", "core", "freezer", "room", "wall")


@dataclass(frozen=True, slots=True)
class Guess:
    """What a board's lines look like.

    Args:
        form: their form; None where it is none that is understood.
        columns: for `columns` and `frames` a name for each field; `-` where there is no telling.
        named: whether the board itself named the columns, in a line of words.
        checksum: `required` where all lines carry a right one, else `optional`.
        wrong_checksums: lines whose checksum is wrong.
        legible: share of bytes that are text; below 0.9 the speed is wrong.
        lines: how many lines it is guessed from.
    """

    form: LineForm | None
    columns: tuple[str, ...] = ()
    named: bool = False
    checksum: ChecksumRule = ChecksumRule.OPTIONAL
    wrong_checksums: int = 0
    legible: float = 1.0
    lines: int = 0


def guess(lines: Sequence[tuple[float, bytes]], said: Sequence[bytes] = ()) -> Guess:
    """The form of lines that came one after the other.

    Args:
        lines: when each came [s] and the line.
        said: comments of the board, one of which may name the columns.

    >>> came = [(float(k), b"%d,-14.25,3.50" % (1000 * k)) for k in range(9)]
    >>> found = guess(came)
    >>> found.form.value, found.columns
    ('columns', ('ms', 'bath', 'mix'))
    """
    raw = b"".join(line for _, line in lines)
    legible = sum(32 <= byte < 127 for byte in raw) / len(raw) if raw else 1.0
    bodies: list[tuple[float, str]] = []
    right = wrong = 0
    for t, line in lines[1:] if len(lines) > 2 else lines:
        found = _CHECKSUM.search(line)
        body = line
        if found:
            body = line[: found.start()]
            ok = checksum(body) == int(found[1], 16)
            right, wrong = right + ok, wrong + (not ok)
        bodies.append((t, body.decode(errors="replace")))
    rule = ChecksumRule.OPTIONAL
    if bodies and right >= MOSTLY * len(bodies):
        rule = ChecksumRule.REQUIRED

    def with_form(
        form: LineForm | None, columns: tuple[str, ...] = (), named: bool = False
    ) -> Guess:
        return Guess(form, columns, named, rule, wrong, legible, len(bodies))

    if not bodies or legible < 0.9:
        return with_form(None)
    enough = MOSTLY * len(bodies)
    if sum(_is_pack(text) for _, text in bodies) >= enough:
        return with_form(LineForm.SENML)
    parted = [(t, _fields(text)) for t, text in bodies]
    for form, fits in ((LineForm.FRAMES, _is_frame), (LineForm.COLUMNS, _is_number)):
        rows = [(t, fields) for t, fields in parted if fields and all(map(fits, fields))]
        if len(rows) < enough:
            continue
        width = Counter(len(fields) for _, fields in rows).most_common(1)[0][0]
        alike = [(t, fields) for t, fields in rows if len(fields) == width]
        if form is LineForm.FRAMES and not any(_is_word(f) for _, fs in alike for f in fs):
            continue
        texts = [text for _, text in bodies] + [one.decode(errors="replace") for one in said]
        own = _own_names(texts, width)
        return with_form(form, own or _named(form, alike, width), bool(own))
    return with_form(None)


def _is_pack(text: str) -> bool:
    try:
        pack = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(pack, list) and bool(pack) and all(isinstance(one, dict) for one in pack)


def _fields(text: str) -> list[str]:
    separator = next((mark for mark in _SEPARATORS if mark in text), None)
    if separator in {";", "\t"}:
        text = text.replace(",", ".")
    return [field.strip() for field in text.split(separator)]


def _is_number(field: str) -> bool:
    try:
        number(field)
    except BadLine:
        return False
    return True


def _is_word(field: str) -> bool:
    """Whether it is a word of a converter chip, and no decimal number of eight digits."""
    if not _WORD.fullmatch(field):
        return False
    try:
        decode_word(int(field.removeprefix("0x").removeprefix("0X"), 16))
    except BadLine:
        return False
    return True


def _is_frame(field: str) -> bool:
    return bool(_WORD.fullmatch(field)) or (field.isdigit() and len(field) < 8)


def _own_names(texts: Sequence[str], width: int) -> tuple[str, ...]:
    for text in texts:
        if _NAMES.fullmatch(text.strip()):
            names = tuple(_fields(text.strip().lstrip("#").strip()))
            if len(names) == width and len(set(names)) == width:
                return names
    return ()


def _named(form: LineForm, rows: Sequence[tuple[float, list[str]]], width: int) -> tuple[str, ...]:
    """Names by what the fields do: a clock rises with time, the coldest below −3 °C is the bath."""
    names = ["-"] * width
    values: dict[int, float] = {}
    for place in range(width):
        fields = [(t, fields[place]) for t, fields in rows]
        if form is LineForm.FRAMES and any(_WORD.fullmatch(field) for _, field in fields):
            read = [c for _, field in fields if (c := _word_c(field)) is not None]
        else:
            numbers = [(t, value) for t, field in fields if (value := number(field)) is not None]
            clock = _clock(numbers)
            if clock:
                names[place] = clock
                continue
            read = [value for _, value in numbers]
        values[place] = median(read) if read else 20.0
    order = [place for place in range(width) if names[place] == "-"]
    coldest = min(order, key=lambda place: values[place], default=None)
    if coldest is not None and values[coldest] < _COLD_C:
        order.remove(coldest)
        order.insert(0, coldest)
    for place, name in zip(order, _FILL, strict=False):
        names[place] = name
    return tuple(names)


def _word_c(field: str) -> float | None:
    try:
        return decode_word(int(field, 16))[0]
    except (BadLine, ValueError):
        return None


def _clock(numbers: Sequence[tuple[float, float]]) -> str:
    """`ms` or `s` where a field rises with time as such a clock does; "" else."""
    if len(numbers) < 3:
        return ""
    rises = all(b[1] >= a[1] for a, b in pairwise(numbers))
    passed_s = numbers[-1][0] - numbers[0][0]
    if not rises or passed_s <= 0.0:
        return ""
    rate = (numbers[-1][1] - numbers[0][1]) / passed_s
    for name, per_s in (("ms", 1000.0), ("s", 1.0)):
        if abs(rate / per_s - 1.0) < _CLOCK_SHARE:
            return name
    return ""


def places_named(names: Sequence[str]) -> bool:
    """Whether every probe among the names says by itself where it sits."""
    probes = [name for name in names if name not in {"ms", "s", "-"}]
    return bool(probes) and all(place_of(name) is not None for name in probes)
