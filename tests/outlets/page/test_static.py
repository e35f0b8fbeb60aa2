"""The page's own files: few bytes, nothing from elsewhere, nothing inline."""

from __future__ import annotations

import gzip
import re
import socket
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.outlets.page.static_files import lean, page_files
from rigmon.outlets.page.words import WORDS

if TYPE_CHECKING:
    from tests.outlets.page.conftest import Serve

STATIC = Path(__file__).parents[3] / "rigmon" / "outlets" / "page" / "static"
SCRIPTS = sorted(STATIC.glob("*.js"))
MOST_BYTES = 60_000


class Index(HTMLParser):
    """Collects the tags of the page, and what stands between script tags."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inline = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember it."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Remember what would run, or be a style."""
        if self.tags and self.tags[-1][0] in ("script", "style"):
            self.inline += data.strip()


@pytest.fixture(scope="module")
def index() -> Index:
    """The page as it is read."""
    found = Index()
    found.feed((STATIC / "index.html").read_text("utf-8"))
    return found


def wire_bytes(port: int, path: str) -> bytes:
    """Everything that comes over the wire for one request of a browser, head and body."""
    request = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nAccept-Encoding: gzip, deflate\r\n"
    with socket.create_connection(("127.0.0.1", port), timeout=5) as wire:
        wire.sendall(f"{request}Connection: close\r\n\r\n".encode())
        return b"".join(iter(lambda: wire.recv(65_536), b""))


def test_all_of_the_page_is_small(serve: Serve) -> None:
    """At most 60 kB over the wire, heads and all; run data aside."""
    page = serve()
    answers = [wire_bytes(page.port, f"/static/{name}") for name in page_files()]
    answers += [wire_bytes(page.port, "/"), wire_bytes(page.port, "/api/v1/hello")]

    assert all(answer.startswith(b"HTTP/1.1 200 ") for answer in answers)
    assert sum(map(len, answers)) <= MOST_BYTES


def test_files_are_packed_and_told_apart(serve: Serve) -> None:
    """A browser that has the newest is told so; one that cannot unpack gets it plain."""
    page = serve()
    packed = {"accept-encoding": "gzip"}
    status, headers, body = page.ask("/static/main.js", headers=packed)
    plain = page.ask("/static/main.js")
    again = page.ask("/static/main.js", headers={**packed, "if-none-match": headers["etag"]})

    assert (status, headers["content-encoding"]) == (200, "gzip")
    assert gzip.decompress(body) == plain[2]
    assert "content-encoding" not in plain[1]
    assert headers["content-type"] == "text/javascript; charset=utf-8"
    assert again[::2] == (304, b"")
    assert again[1]["etag"] == headers["etag"]
    assert page.ask("/static/main.js", "HEAD")[2] == b""


def test_nothing_comes_from_elsewhere(index: Index) -> None:
    """The page works with no internet: every address in it is its own, and relative to its key."""
    for tag, given in index.tags:
        for name in ("src", "href", "action", "srcset"):
            address = given.get(name) or ""
            assert re.fullmatch(r"(static/[\w.-]+|data:,|#[\w-]+|)", address), (tag, address)
    for file in STATIC.iterdir():
        text = file.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|//[\w-]+\.\w+|@import", text), file.name
        assert not re.search(r"""from ["'](?!\./)""", text), file.name


def test_nothing_is_inline(index: Index) -> None:
    """The policy would refuse it: no script, style or handler stands in the page."""
    assert index.inline == ""
    for tag, given in index.tags:
        assert not [name for name in given if name.startswith("on") or name == "style"], tag
    for file in SCRIPTS:
        text = lean(file.read_text("utf-8"))
        for risky in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
            assert risky not in text, (file.name, risky)
        assert not re.search(r"""setAttribute\(\s*["'](style|on)""", text), file.name


def asked_for() -> Iterator[str]:
    """The texts that the scripts ask for."""
    for file in SCRIPTS:
        for _, text in re.findall(r"""(?<![\w.])t\(\s*(["'`])(.*?)\1""", file.read_text("utf-8")):
            if "${" not in text:
                yield text


def test_every_text_of_the_scripts_is_known() -> None:
    """What is not among the words would stay English."""
    assert set(asked_for()) - set(WORDS) == set()
    assert len(set(WORDS)) == len(WORDS)


def test_every_word_is_said() -> None:
    """A word that no script has is sent for nothing."""
    scripts = "\n".join(file.read_text("utf-8") for file in SCRIPTS)
    assert [word for word in WORDS if word not in scripts] == []


def test_comments_are_left_at_home_and_nothing_else() -> None:
    """No line is lost that stands in the middle of a text, and all that runs is sent."""
    for file in SCRIPTS:
        text = file.read_text("utf-8")
        kept = set(lean(text).splitlines())
        inside = False
        for line in text.splitlines():
            gone = line not in kept
            assert not (gone and inside), (file.name, line)
            assert not gone or re.match(r"\s*(//|/\*|\*)", line), (file.name, line)
            if not gone:
                inside ^= line.count("`") % 2 == 1
