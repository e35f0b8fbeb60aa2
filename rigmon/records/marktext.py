"""Marks as people write them: `recharge ice_g=900 salt_g=200 note="second bag"`."""

from __future__ import annotations

import difflib
import math
import shlex
from collections.abc import Mapping

from rigmon.records.incoming import By, DetailValue, Mark, MarkWord

AMOUNTS = (
    "ice_g",
    "salt_g",
    "drained_g",
    "water_g",
    "ice_c",
    "wet_pct",
    "mix_g",
    "tubs",
    "tub_ml",
    "ice_scoops",
    "bath_c",
    "mix_c",
    "wall_c",
    "core_c",
    "room_c",
    "freezer_c",
    "mixer_w",
    "for_min",
)
"""Details that are numbers; the unit is the end of the name."""

CHOICES: Mapping[str, tuple[str, ...]] = {
    "ice_kind": ("cubes", "crushed"),
    "salt_kind": ("fine", "kosher", "rock"),
    "where": ("rig", "bowl"),
    "stage": ("base",),
}
"""Details that are one of a few words."""

TEXTS = ("note", "code", "recipe")
"""Details that are free text."""

_MAY_BE_NEGATIVE = ("_c",)
_BARE_WORD = {MarkWord.ACK: "code", MarkWord.SHELVE: "code", MarkWord.NOTE: "note"}


def _nearest(word: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.0)
    return near[0]


def _value(key: str, text: str) -> DetailValue:
    if key in AMOUNTS:
        try:
            number = float(text)
        except ValueError:
            raise ValueError(f"{key}: found {text!r}, a number is needed") from None
        if not math.isfinite(number):
            raise ValueError(f"{key}: found {text!r}, a finite number is needed")
        if number < 0 and not key.endswith(_MAY_BE_NEGATIVE):
            raise ValueError(f"{key}: found {text!r}, it cannot be negative")
        return number
    if key in CHOICES:
        if text not in CHOICES[key]:
            raise ValueError(f"{key}: found {text!r}, allowed are {', '.join(CHOICES[key])}")
        return text
    if key in TEXTS:
        return text
    known = (*AMOUNTS, *CHOICES, *TEXTS)
    raise ValueError(f"unknown detail {key!r}; the nearest known one is {_nearest(key, known)!r}")


def parse_word(text: str) -> MarkWord:
    """The mark word that a text names.

    Raises:
        ValueError: no such word; the message names the nearest one.

    >>> parse_word("pour").value
    'pour'
    """
    try:
        return MarkWord(text.strip())
    except ValueError:
        known = tuple(word.value for word in MarkWord)
        raise ValueError(
            f"unknown mark {text.strip()!r}; the nearest known one is "
            f"{_nearest(text.strip(), known)!r}"
        ) from None


def parse_detail(text: str, word: MarkWord) -> dict[str, DetailValue]:
    """The details behind a mark word, as `name=value` separated by spaces.

    Raises:
        ValueError: a name that is not known, or a value that cannot be.

    >>> parse_detail('ice_g=900 salt_g=200 note="second bag"', MarkWord.RECHARGE)
    {'ice_g': 900.0, 'salt_g': 200.0, 'note': 'second bag'}
    """
    try:
        pieces = shlex.split(text)
    except ValueError:
        raise ValueError(f"{text!r} has a quotation mark without its partner") from None
    detail: dict[str, DetailValue] = {}
    bare: list[str] = []
    for piece in pieces:
        key, equals, value = piece.partition("=")
        if not equals:
            bare.append(piece)
        elif key in detail:
            raise ValueError(f"{key} is given twice")
        else:
            detail[key] = _value(key, value)
    if bare:
        key = _BARE_WORD.get(word, "")
        if not key:
            raise ValueError(f"found {bare[0]!r}; details are written name=value, as in ice_g=900")
        detail[key] = " ".join(bare)
    return detail


def parse_mark(text: str, t: float, by: By = By.MAKER) -> Mark:
    """A whole mark, word and details.

    Raises:
        ValueError: as `parse_word` and `parse_detail`.

    >>> parse_mark("ack plateau-reached", 700.0).detail
    {'code': 'plateau-reached'}
    """
    word_text, _, rest = text.strip().partition(" ")
    word = parse_word(word_text)
    return Mark(t, word, by, parse_detail(rest, word))


def format_detail(detail: Mapping[str, DetailValue]) -> str:
    """Details as text that `parse_detail` reads back to the same values.

    >>> format_detail({"ice_g": 900.0, "note": "second bag"})
    "ice_g=900 note='second bag'"
    """

    def written(value: DetailValue) -> str:
        if isinstance(value, str):
            return shlex.quote(value)
        return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)

    return " ".join(f"{key}={written(value)}" for key, value in detail.items())
