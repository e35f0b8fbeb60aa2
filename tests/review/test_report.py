"""The report: one file that stands alone, whatever its run is called, and is drawn in any form."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from rigmon.review import report
from rigmon.review.figures import Drawing
from rigmon.review.story import Moment, Story
from rigmon.store import RunLog

NASTY = '<script>alert(1)</script> & "mum\'s" \x07<b>'


class Tags(HTMLParser):
    """The tags of a page, and what its attributes point to."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember."""
        self.tags.append(tag)
        points = ("href", "src", "xlink:href", "action", "data")
        self.links += [value or "" for name, value in attrs if name in points]
        assert not any(name.startswith("on") for name, _ in attrs)


def tags(page: str) -> Tags:
    """The tags of a page."""
    found = Tags()
    found.feed(page)
    return found


def test_a_page_stands_alone(log: RunLog, recharged: Story) -> None:
    """No script, nothing fetched, a figure for each panel, and what happened in words."""
    page = report.html_of(log, recharged.measures.run)
    found = tags(page)
    assert not {"script", "link", "iframe", "object", "img", "form"} & set(found.tags)
    assert all(link.startswith("#") for link in found.links)
    assert found.tags.count("svg") == len(Drawing(recharged).panels()) == 4
    assert not re.search(r"@import|url\((?!#)", page)
    assert "recharged: 1400 g ice" in page
    assert "An invented run, of a virtual rig." in page


def test_no_name_is_ever_markup(recharged: Story) -> None:
    """A recipe, a rig and a note may be called anything; the page shows them as they are."""
    measured = replace(recharged.measures, recipe=NASTY, rig=NASTY)
    told = Story(
        measured,
        recharged.logged,
        recharged.track,
        (*recharged.moments, Moment(1.0, "mark", f"noted: {NASTY}")),
    )
    page = report.as_html(told)
    found = tags(page)
    assert "script" not in found.tags
    assert "b" not in found.tags
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;mum&#x27;s&quot;" in page
    assert "\x07" not in page


@pytest.mark.parametrize(("form", "begins"), [(".pdf", b"%PDF"), (".png", b"\x89PNG")])
def test_a_report_is_drawn_on_pages(
    unwatched: Story, tmp_path: Path, form: str, begins: bytes
) -> None:
    """The suffix says which form; a run that nobody watched is drawn as well."""
    path = tmp_path / f"report{form}"
    report.write(unwatched, path)
    assert path.read_bytes().startswith(begins)


def test_the_same_story_gives_the_same_page(unwatched: Story, tmp_path: Path) -> None:
    """Nothing of the day is in it, so that a page can be compared with itself."""
    path = tmp_path / "report.html"
    report.write(unwatched, path)
    assert path.read_text(encoding="utf-8") == report.as_html(unwatched)


def test_a_run_that_says_nothing_has_a_page_too(unwatched: Story) -> None:
    """Without samples there are no figures, and no fault."""
    bare = replace(unwatched.measures, poured_s=None, stages=(), limits=(), course=(), forecasts=())
    track = replace(unwatched.track, samples=[])
    page = report.as_html(Story(bare, unwatched.logged, track, ()))
    assert "svg" not in tags(page).tags
