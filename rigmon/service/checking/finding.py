"""One thing that was looked at: whether it works, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """What a finding means for the batch."""

    OK = "ok"
    LOOK = "look"
    WRONG = "wrong"


_SIGNS = {Level.OK: "+", Level.LOOK: "~", Level.WRONG: "!"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of a check.

    Args:
        level: whether it works.
        subject: what was looked at, in one or two words.
        text: what was found, and what to do if that is anything.
    """

    level: Level
    subject: str
    text: str

    @property
    def line(self) -> str:
        """As it is told: sign, word, subject, text.

        >>> Finding(Level.LOOK, "clock", "runs 2 % fast.").line
        '~ look   clock       runs 2 % fast.'
        """
        return f"{_SIGNS[self.level]} {self.level.value:<5}  {self.subject:<10}  {self.text}"


def ok(subject: str, text: str) -> Finding:
    """It works."""
    return Finding(Level.OK, subject, text)


def look(subject: str, text: str) -> Finding:
    """It works, with something to look at."""
    return Finding(Level.LOOK, subject, text)


def wrong(subject: str, text: str) -> Finding:
    """It does not work."""
    return Finding(Level.WRONG, subject, text)
