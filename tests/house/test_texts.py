"""Every text for the maker has its translation, and every translation its text."""

from __future__ import annotations

import ast
import string
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from rigmon.run.alarms import RULES
from rigmon.texts import catalogue, read_catalogue

SAYS = frozenset({"say", "marked"})


def said(source: str) -> Iterator[str]:
    """The texts that a module gives to `say` or `marked`."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        name = node.func.id if isinstance(node.func, ast.Name) else name
        text = node.args[0]
        if name in SAYS and isinstance(text, ast.Constant) and isinstance(text.value, str):
            yield text.value


@pytest.fixture
def texts(modules: Mapping[str, str]) -> frozenset[str]:
    """Every text of the program that can be put into another language."""
    found = {text for source in modules.values() for text in said(source)}
    return frozenset(found | {rule.call for rule in RULES.values()})


def test_german_is_complete(texts: frozenset[str]) -> None:
    """Nothing is left in English, and nothing is translated that nobody says any more."""
    german = {text for text, translation in catalogue("de").items() if translation}

    assert "Keep beating" in texts
    assert texts - german == set()
    assert german - texts == set()


def test_a_translation_has_the_figures_of_its_text() -> None:
    """A figure lost on the way would be a wrong advice; one too many an error."""
    for text, translation in catalogue("de").items():
        fields = [
            sorted(name for _, name, _, _ in string.Formatter().parse(one) if name)
            for one in (text, translation)
        ]
        assert fields[0] == fields[1], text


def test_no_translation_is_a_guess(root: Path) -> None:
    """What an editor marked as uncertain is not shipped; and no text is there twice."""
    text = (root / "rigmon/languages/de.po").read_text("utf-8")

    assert "#, fuzzy" not in text
    assert text.count("\nmsgid ") == len(read_catalogue(text)) + 1


def test_a_call_is_as_short_in_german() -> None:
    """It is read at a glance there too, and ends where the English one ends."""
    for rule in RULES.values():
        call = catalogue("de")[rule.call]
        assert len(call) <= 36
        assert "." not in call
