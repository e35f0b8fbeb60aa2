"""The notes for the soldering iron: their table, drawings, links and headings are true."""

from __future__ import annotations

import ast
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path

import pytest

import rigmon
from rigmon.probes import straight_line_c
from tests.firmware.conftest import NOTES
from tests.firmware.notes_tables import PAGE, rewritten

PAGES = sorted(NOTES.glob("*.md"))
DRAWINGS = sorted((NOTES / "drawings").glob("*.svg"))
SVG = "{http://www.w3.org/2000/svg}"
GAP = "…"
LEAST_WORDS = 12
"""A heading's letters beside its gaps: fewer would be found anywhere."""


def templates() -> Iterator[str]:
    """Every text of the program, a gap where it fills something in."""
    for path in Path(rigmon.__file__).parent.rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        unspoken = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            if id(node) in unspoken:
                continue
            if isinstance(node, ast.JoinedStr):
                parts = (p.value if isinstance(p, ast.Constant) else GAP for p in node.values)
                yield "".join(str(part) for part in parts)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield re.sub(r"\{\w*(?:![rs])?\}", GAP, node.value)


def headings(text: str) -> list[str]:
    """The headings below the title."""
    return [line.removeprefix("## ") for line in text.splitlines() if line.startswith("## ")]


@pytest.fixture(scope="module")
def said() -> tuple[str, ...]:
    """What the program can say."""
    return tuple(templates())


def unsaid(heading: str, said: tuple[str, ...]) -> bool:
    """Whether no text of the program has a heading's words, gap for gap."""
    words = heading.strip(f"{GAP} ")
    return not any(words in text for text in said)


def test_each_heading_is_what_the_program_says(said: tuple[str, ...]) -> None:
    """Someone who searches the page for the words on the screen must find them."""
    found = headings((NOTES / "troubleshooting.md").read_text(encoding="utf-8"))
    assert len(found) > 20
    assert [heading for heading in found if unsaid(heading, said)] == []
    short = [h for h in found if len(h.replace(GAP, "").strip(" :;")) < LEAST_WORDS]
    assert short == ["not JSON", "… is held by …"]


def test_words_that_the_program_does_not_say_are_noticed(said: tuple[str, ...]) -> None:
    """A word changed in the program must fail its heading."""
    assert unsaid("… has an open circuit: look at its plug and its wire", said) is False
    assert unsaid("… has an open circuit: look at its plug and its fuse", said)
    assert unsaid("… was measured more than … ago", said)


def test_the_table_of_errors_is_what_the_program_reckons() -> None:
    """The page must not have drifted from `rigmon.probes.converter`."""
    page = PAGE.read_text(encoding="utf-8")
    assert rewritten(page) == page, "run python -m tests.firmware.notes_tables"
    assert f"| −21 | −9.2 | {straight_line_c(-21.0, 25.0, 'T') + 21.0:+.1f} |" in page


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_each_link_leads_somewhere(page: Path) -> None:
    """Files beside the page exist, and headings that are linked to are there."""
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)]+)\)", text):
        name, _, anchor = target.partition("#")
        found = (page.parent / name).read_text(encoding="utf-8")
        anchors = {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings(found)}
        assert not anchor or anchor in anchors, target


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda path: path.name)
def test_each_drawing_is_whole_and_drawn_for_light_and_dark(drawing: Path) -> None:
    """Well-formed SVG that needs nothing from elsewhere, says what it shows, has dark colours."""
    text = drawing.read_text(encoding="utf-8")
    root = ET.fromstring(text)  # noqa: S314 - our own file
    assert root.tag == f"{SVG}svg"
    width, height = map(float, root.attrib["viewBox"].split()[2:])
    for name in ("title", "desc"):
        element = root.find(f"{SVG}{name}")
        assert element is not None
        assert element.text
    assert text.count("http") == 1
    assert "<script" not in text
    for element in root.iter(f"{SVG}text"):
        assert 0 <= float(element.attrib["x"]) <= width
        assert 0 <= float(element.attrib["y"]) <= height
    light, dark = text.split("prefers-color-scheme:dark")
    used = set(re.findall(r'class="(\w+)', text)) - {"b", "s"}
    coloured = set(re.findall(r"\.(\w+)(?=[,{])", dark))
    assert used - {"dot"} <= coloured
    assert used <= set(re.findall(r"\.(\w+)(?=[,{])", light))
    assert any(drawing.name in page.read_text(encoding="utf-8") for page in PAGES)
