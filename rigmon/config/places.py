"""Finds the line on which a key of a TOML text stands, so that a fault can be pointed at."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Mapping

KeyPath = tuple[str | int, ...]
"""Keys from the top of the file down, with the index (from 0) of an element in an array."""

_GAP = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|' + r"'''.*?'{3,5}|" + r'"(?:[^"\\\n]|\\.)*"|' + r"'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN_VALUE = re.compile(r"[^,\]}\n#]+")
_LONGEST_SHOWN = 60
_DEEPEST = 40
"""Keys below that depth are placed by what is around them; no key of ours is deeper than 7."""


class _LostError(Exception):
    """The text is no TOML from here on."""


class _Scan:
    """One pass over a text that `tomllib` has already read, noting where keys stand."""

    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self._newlines = [at for at, char in enumerate(self.text) if char == "\n"]
        self._last_element: dict[KeyPath, int] = {}

    def document(self) -> None:
        table: KeyPath = ()
        while self._skip(_GAP) < len(self.text):
            line = self._line()
            if self._found("[["):
                key = self._key()
                array = (*self._resolved(key[:-1]), key[-1])
                self._need("]]")
                self._last_element[array] = self._last_element.get(array, -1) + 1
                table = (*array, self._last_element[array])
                self._note(table, line)
            elif self._found("["):
                table = self._resolved(self._key())
                self._need("]")
                self._note(table, line)
                self.lines[table] = line
            else:
                self._pair(table)

    def _pair(self, table: KeyPath) -> None:
        line = self._line()
        path = (*table, *self._key())
        self._note(path, line)
        self._need("=")
        self._skip(_BLANK)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        if self._found("["):
            index = 0
            while not self._closed("]"):
                self._note((*path, index), self._line())
                self._value((*path, index))
                index += 1
        elif self._found("{"):
            while not self._closed("}"):
                self._pair(path)
        elif self.text[self.at : self.at + 1] in {'"', "'"}:
            self._take(_STRING)
        else:
            self._take(_PLAIN_VALUE)

    def _closed(self, bracket: str) -> bool:
        self._skip(_GAP)
        if self._found(","):
            self._skip(_GAP)
        return self._found(bracket)

    def _key(self) -> tuple[str, ...]:
        parts: list[str] = []
        while not parts or self._found("."):
            self._skip(_BLANK)
            if self.text[self.at : self.at + 1] in {'"', "'"}:
                quoted = self._take(_STRING)
                parts.append(tomllib.loads(f"key = {quoted}")["key"])
            else:
                parts.append(self._take(_BARE_KEY))
            self._skip(_BLANK)
        return tuple(parts)

    def _resolved(self, key: tuple[str, ...]) -> KeyPath:
        path: KeyPath = ()
        for part in key:
            path = (*path, part)
            if path in self._last_element:
                path = (*path, self._last_element[path])
        return path

    def _note(self, path: KeyPath, line: int) -> None:
        for length in range(1, min(len(path), _DEEPEST) + 1):
            self.lines.setdefault(path[:length], line)

    def _line(self) -> int:
        return bisect_left(self._newlines, self.at) + 1

    def _skip(self, what: re.Pattern[str]) -> int:
        match = what.match(self.text, self.at)
        self.at = match.end() if match else self.at
        return self.at

    def _take(self, what: re.Pattern[str]) -> str:
        match = what.match(self.text, self.at)
        if not match:
            raise _LostError
        self.at = match.end()
        return match.group()

    def _found(self, mark: str) -> bool:
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True

    def _need(self, mark: str) -> None:
        if not self._found(mark):
            raise _LostError


def key_lines(text: str) -> dict[KeyPath, int]:
    r"""The line [from 1] of every key in a TOML text; of a faulty text, as far as it is TOML.

    >>> key_lines('a = 1\n[[probe]]\ntype = "T"\n')[("probe", 0, "type")]
    3
    """
    scan = _Scan(text)
    try:
        scan.document()
    except (_LostError, RecursionError, ValueError):
        return scan.lines
    return scan.lines


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int:
    """The line of a key, or of the nearest thing around it that has one; 1 failing that."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


def printable(text: str) -> str:
    r"""A text as one line that no terminal takes for a command, cut where it is very long.

    >>> printable("a\tb")
    'a\\tb'
    """
    safe = text if text.isprintable() else text.encode("unicode_escape").decode("ascii")
    return safe if len(safe) <= _LONGEST_SHOWN else safe[: _LONGEST_SHOWN - 1] + "…"


def dotted(path: KeyPath) -> str:
    """A key path as a maker reads it.

    >>> dotted(("rigs", "north-bench", "probe", 1, "type"))
    'rigs.north-bench.probe[1].type'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            shown = part if _BARE_KEY.fullmatch(part) else f'"{part}"'
            text += ("." if text else "") + printable(shown)
    return text
