"""The page's own files: packed once, and told apart by what is in them."""

from __future__ import annotations

import gzip
import hashlib
import re
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.requests import Request
from starlette.responses import Response

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
}
INDEX = "index.html"
_LEVEL = 9


@dataclass(frozen=True, slots=True)
class PageFile:
    """One file of the page.

    Args:
        kind: its media type.
        plain: its bytes.
        packed: the same, gzipped (RFC 1952).
        tag: changes with its bytes.
    """

    kind: str
    plain: bytes
    packed: bytes
    tag: str

    def answer(self, request: Request) -> Response:
        """The file, packed if the browser takes that, or that it has it already."""
        headers = {"etag": self.tag, "cache-control": "no-cache", "vary": "accept-encoding"}
        if self.tag in (tag.strip() for tag in request.headers.get("if-none-match", "").split(",")):
            return Response(status_code=304, headers=headers)
        if "gzip" not in request.headers.get("accept-encoding", ""):
            return Response(self.plain, media_type=self.kind, headers=headers)
        headers["content-encoding"] = "gzip"
        return Response(self.packed, media_type=self.kind, headers=headers)


def page_files() -> dict[str, PageFile]:
    """Every file of the page, by its name; nothing else can be asked for."""
    folder = resources.files("rigmon.outlets.page") / "static"
    return {
        file.name: _read(file)
        for file in sorted(folder.iterdir(), key=lambda one: one.name)
        if file.is_file() and _ending(file.name) in _KINDS
    }


def _ending(name: str) -> str:
    return name[name.rfind(".") :]


def lean(script: str) -> str:
    r"""A script without the comments that have lines of their own: an eighth of what is sent.

    >>> lean("// Why.\nlet a = 1; // kept\n  /** What. */\n  f();\n")
    'let a = 1; // kept\n  f();\n'
    """
    return _COMMENT.sub("", script)


_COMMENT = re.compile(
    r"^[ \t]*(?://[^\n]*|/\*\*?(?:(?!\*/).)*\*/[ \t]*)\n", re.MULTILINE | re.DOTALL
)


def _read(file: Traversable) -> PageFile:
    plain = file.read_bytes()
    if _ending(file.name) == ".js":
        plain = lean(plain.decode()).encode()
    packed = gzip.compress(plain, _LEVEL, mtime=0)
    tag = f'"{hashlib.sha256(plain).hexdigest()[:20]}"'
    return PageFile(_KINDS[_ending(file.name)], plain, packed, tag)
