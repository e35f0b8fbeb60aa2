"""The page's colours can be told apart by everyone, light and dark, calm and alarmed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import product
from pathlib import Path

import pytest

STYLE = Path(__file__).parents[3] / "rigmon" / "outlets" / "page" / "static" / "style.css"
TEXT, GRAPHIC = 4.5, 3.0
"""Least contrast of text, and of what else must be seen (WCAG 2.2, criteria 1.4.3 and 1.4.11)."""
ALARMS = ("high", "medium", "low")


def colours(scheme: str) -> dict[str, str]:
    """The custom properties of a scheme; what the dark one does not say is as in the light one."""
    style = STYLE.read_text("utf-8")
    blocks = {"light": r":root \{(.*?)\}", "dark": r':root\[data-theme="dark"\] \{(.*?)\}'}
    found: dict[str, str] = {}
    for name in ("light", "dark")[: 1 + (scheme == "dark")]:
        (block,) = re.findall(rf"^{blocks[name]}", style, re.MULTILINE | re.DOTALL)
        found |= dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))
    return found


def luminance(colour: str) -> float:
    """Relative luminance of a colour (WCAG 2.2, definition)."""
    parts = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    red, green, blue = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21 (WCAG 2.2, definition).

    >>> round(contrast("#000000", "#ffffff"), 2), round(contrast("#777777", "#ffffff"), 2)
    (21.0, 4.48)
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.fixture(params=["light", "dark"])
def scheme(request: pytest.FixtureRequest) -> Mapping[str, str]:
    """The colours of one scheme."""
    return colours(request.param)


def test_words_are_read_on_every_ground(scheme: Mapping[str, str]) -> None:
    """On the page, on its plates and on the colours of all alarms, grey figures included."""
    pairs = [*product(("on", "on-soft", "old"), ("ground",))]
    pairs += [*product(("ink", "ink-soft", "bath", "mix", "warn"), ("paper",))]
    pairs += [(f"on-alarm-{priority}", f"alarm-{priority}") for priority in ALARMS]
    pairs += [("paper", "rim")]
    low = {pair: contrast(scheme[pair[0]], scheme[pair[1]]) for pair in pairs}
    assert {pair: found for pair, found in low.items() if found < TEXT} == {}


def test_edges_and_lines_are_seen(scheme: Mapping[str, str]) -> None:
    """Of buttons on the page, of plates, of lines and marks on the plates."""
    pairs = [("edge", "ground"), ("line", "paper"), ("rim", "ground"), ("rim", "paper")]
    low = {pair: contrast(scheme[pair[0]], scheme[pair[1]]) for pair in pairs}
    assert {pair: found for pair, found in low.items() if found < GRAPHIC} == {}


def test_no_alarm_has_the_look_of_another_or_of_none(scheme: Mapping[str, str]) -> None:
    """The grounds differ by more than a shade, and each alarm has a sign and a word as well."""
    grounds = [scheme["ground"], *(scheme[f"alarm-{priority}"] for priority in ALARMS)]
    for i, one in enumerate(grounds):
        for other in grounds[i + 1 :]:
            steps = [abs(int(one[k : k + 2], 16) - int(other[k : k + 2], 16)) for k in (1, 3, 5)]
            assert max(steps) >= 64, (one, other)
    signs = (STYLE.parent / "dom.js").read_text("utf-8")
    shapes = re.findall(r'^ +(high|medium|low): "(M[^"]+)"', signs, re.MULTILINE)
    assert len({shape for _, shape in shapes}) == len(ALARMS)
