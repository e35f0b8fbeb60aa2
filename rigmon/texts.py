"""Words for the maker in another language: those in the program are English.

A language is a catalogue of gettext's text form in `rigmon/languages`, which any editor for such
files opens. What it lacks is said in English.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Literal, Self

Language = Literal["en", "de"]

DECIMAL_POINT: Mapping[Language, str] = {"en": ".", "de": ","}


def marked(text: str) -> str:
    """A text that is put into the maker's language where it is said, not where it stands."""
    return text


class Sentence(str):
    """A text with its figures: English by itself, in the maker's language where it is said.

    So a room that knows no maker can say what it has found, and `Speech.retold` says it again.

    Args:
        text: the text, `marked`, or one that only puts other sentences together.
        figures: what goes into it: words, numbers, sentences, and figures of `rigmon.units` that
            are written in the maker's units.

    >>> Sentence("{who} is {c} °C", who=Sentence("The bath"), c=-15)
    'The bath is -15 °C'
    """

    __slots__ = ("figures", "text")
    text: str
    figures: Mapping[str, object]

    def __new__(cls, text: str, /, **figures: object) -> Self:
        """The sentence, in English already."""
        made = super().__new__(cls, text.format(**figures))
        made.text, made.figures = text, figures
        return made

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, object]]:
        return (self.text,), dict(self.figures)


def read_catalogue(text: str) -> dict[str, str]:
    r"""Texts and their translations, out of a catalogue (GNU gettext manual, section "PO Files").

    >>> read_catalogue('msgid "Pour the mix"\nmsgstr ""\n"Die Masse "\n"eingießen"\n')
    {'Pour the mix': 'Die Masse eingießen'}
    """
    entries: list[dict[str, str]] = []
    word = ""
    for line in text.splitlines():
        if line.startswith("msgid "):
            entries.append({"msgid": "", "msgstr": ""})
        if line.startswith(("msgid ", "msgstr ")):
            word, _, line = line.partition(" ")  # noqa: PLW2901 - what follows the word
        if line.startswith('"'):
            entries[-1][word] += json.loads(line)
    return {entry["msgid"]: entry["msgstr"] for entry in entries if entry["msgid"]}


@cache
def catalogue(language: Language) -> Mapping[str, str]:
    """The translations into a language; none into English."""
    if language == "en":
        return {}
    file = resources.files("rigmon") / "languages" / f"{language}.po"
    return read_catalogue(file.read_text("utf-8"))


def translated(text: str, language: Language) -> str:
    """A text of the program in a language.

    >>> translated("Keep beating", "de")
    'Weiterschlagen'
    """
    return catalogue(language).get(text) or text
