"""Words for the maker in another language: those in the program are English.

A language is a catalogue of gettext's text form in `rigmon/languages`, which any editor for such
files opens. What it lacks is said in English.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Literal

Language = Literal["en", "de"]

DECIMAL_POINT: Mapping[Language, str] = {"en": ".", "de": ","}


def marked(text: str) -> str:
    """A text that is put into the maker's language where it is said, not where it stands."""
    return text


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
