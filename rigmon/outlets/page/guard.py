"""Who is let in to the page, and what every answer says to the browser.

Wrapped around the application, so that no route can forget it. Without the key, and for what there
is not, the answer is the same.
"""

from __future__ import annotations

import asyncio
import ipaddress
from collections.abc import Collection, Iterable, Mapping
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rigmon.outlets.page.keys import Keys
from rigmon.outlets.page.rates import Rate

MOST_BODY = 4096
"""A mark with its note is shorter [bytes]."""
BODY_WITHIN_S = 5.0
"""It comes at once [s]."""
WRONG_KEYS, WRONG_A_SECOND = 20, 0.2
"""Wrong keys that a client may say at once, and a second."""
MARKS, MARKS_A_SECOND = 12, 2.0
"""Marks that a client may set at once, and a second: more than wet fingers do."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; sandbox"
)
"""A report is one file with its drawings inside; nothing in it may run or be fetched."""
SAFE_HEADERS = {
    "content-security-policy": POLICY,
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
"""What every answer says, unless it says otherwise itself."""
NEAR_HEADERS = {"cross-origin-opener-policy": "same-origin"}
"""What is said besides where browsers heed it: plain HTTP is trusted on this machine alone (W3C,
Secure Contexts, 3.1), and elsewhere they complain of it."""
PART_HEADERS = frozenset(
    {"x-content-type-options", "cross-origin-resource-policy", "cache-control"}
)
"""Those that mean something for a part of the page, which is no page of its own."""
_PART_KINDS = ("text/css", "text/javascript")
_TOO_LONG = f"A mark is no longer than {MOST_BODY} bytes."
_LOCAL = ("localhost", "localhost.localdomain")


def not_found() -> Response:
    """The one answer to all that there is not, or not without the key."""
    return Response("Not found.\n", 404, media_type="text/plain")


class Guard:
    """Lets in who may come in; `scope["rights"]` says to the application what it may do.

    Args:
        app: what is guarded.
        keys: the keys of the page.
        names: names by which this machine is called, besides its addresses.
    """

    def __init__(self, app: ASGIApp, keys: Keys, names: Collection[str] = ()) -> None:
        self._app = app
        self._keys = keys
        self._names = frozenset(name.lower().rstrip(".") for name in (*_LOCAL, *names))
        self._wrong = Rate(WRONG_KEYS, WRONG_A_SECOND)
        self._marks = Rate(MARKS, MARKS_A_SECOND)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        headers = SAFE_HEADERS | (NEAR_HEADERS if _is_near(scope) else {})
        guarded = _with_headers(headers, send)
        refusal = self._refusal(scope)
        if refusal is None and scope["method"] not in ("GET", "HEAD"):
            refusal = self._mark_refusal(scope)
        if refusal is None and scope["method"] not in ("GET", "HEAD"):
            try:
                async with asyncio.timeout(BODY_WITHIN_S):
                    receive = _again(await _body(receive), receive)
            except ValueError:
                refusal = _no(413, _TOO_LONG)
            except TimeoutError:
                refusal = _no(408, "The mark did not come to its end.")
        await (refusal or self._app)(scope, receive, guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        """Why a request is not let in; None if it is. Takes the key off its path."""
        headers = Headers(scope=scope)
        client = _client(scope)
        if self._keys.open:
            scope["rights"] = "full"
        else:
            if not self._wrong.allows(client, take=False):
                return Response(status_code=429, headers={"retry-after": "60"})
            said, slash, rest = scope["path"].removeprefix("/").partition("/")
            rights = self._keys.rights(said)
            if rights is None:
                self._wrong.allows(client)
                return not_found()
            if not slash:
                # Addresses on the page are relative to the folder that the key is.
                return Response(status_code=308, headers={"location": f"/{said}/"})
            scope["path"], scope["rights"] = f"/{rest}", rights
            scope["raw_path"] = scope["path"].encode()
        if not self._is_ours(headers.getlist("host")):
            return _no(403, "This address does not belong to this machine.")
        # A link from elsewhere may lead here; nothing elsewhere may take from here.
        if _fetched_from_elsewhere(headers) and headers.get("sec-fetch-mode") != "navigate":
            return _no(403, "This page is not for other pages.")
        return None

    def _is_ours(self, hosts: list[str]) -> bool:
        """Whether the name that the browser asked for is ours: no other name may lead here."""
        if len(hosts) != 1:
            return False
        name = _name_in(hosts[0])
        if not name:
            return False
        return name.rstrip(".") in self._names or _is_address(name)

    def _mark_refusal(self, scope: Scope) -> Response | None:
        """Why a request that would change something is refused; None if it is not."""
        headers = Headers(scope=scope)
        if _fetched_from_elsewhere(headers) or not _own_origin(headers):
            return _no(403, "Marks come from this page alone.")
        if scope["rights"] != "full":
            return _no(403, "This address is for looking, not for marks.")
        if not self._marks.allows(_client(scope)):
            return _no(429, "Too many marks at once: wait a moment.", {"retry-after": "2"})
        kind = headers.get("content-type", "").partition(";")[0].strip().lower()
        if kind != "application/json":
            return _no(415, "A mark is sent as application/json.")
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > MOST_BODY:
            return _no(413, _TOO_LONG)
        return None


def _client(scope: Scope) -> str:
    client: tuple[str, int] | None = scope.get("client")
    return "" if client is None else client[0]


def _name_in(host: str) -> str:
    """The name in a Host header, without its port; "" where there is none."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _is_address(name: str) -> bool:
    """Whether it is an address in figures: no name server can have led here by that."""
    try:
        ipaddress.ip_address(name.partition("%")[0])
    except ValueError:
        return False
    return True


def _fetched_from_elsewhere(headers: Headers) -> bool:
    """Whether the browser says so (W3C, Fetch Metadata Request Headers); old ones say nothing."""
    return headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")


def _own_origin(headers: Headers) -> bool:
    """Whether the page that sends is this one; a program that is no browser names none."""
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2].lower() == headers.get("host", "").lower()


def _no(status: int, text: str, headers: dict[str, str] | None = None) -> Response:
    return JSONResponse({"ok": False, "text": text}, status, headers)


def _is_near(scope: Scope) -> bool:
    """Whether the browser calls this machine by a name that can be no other's."""
    name = _name_in(Headers(scope=scope).get("host", ""))
    return name == _LOCAL[0] or (_is_address(name) and ipaddress.ip_address(name).is_loopback)


def _with_headers(safe: Mapping[str, str], send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            part = headers.get("content-type", "").startswith(_PART_KINDS)
            for name, value in safe.items():
                if not part or name in PART_HEADERS:
                    headers.setdefault(name, value)
        await send(message)

    return guarded


async def _body(receive: Receive) -> bytes:
    """The body of a request.

    Raises:
        ValueError: it is longer than allowed.
    """
    body = b""
    while True:
        message = await receive()
        body += bytes(message.get("body", b""))
        if len(body) > MOST_BODY:
            raise ValueError(len(body))
        if message["type"] != "http.request" or not message.get("more_body"):
            return body


def _again(body: bytes, receive: Receive) -> Receive:
    """Gives a body that was read already, then what comes after it."""
    told: Iterable[Message] = iter([{"type": "http.request", "body": body, "more_body": False}])

    async def again() -> Message:
        for message in told:
            return message
        return await receive()

    return again
