"""Serving it safely: each line of what the page promises to a network with strangers in it."""

from __future__ import annotations

import logging
import socket
from typing import TYPE_CHECKING

import pytest

from rigmon.outlets.page.guard import (
    MARKS,
    MOST_BODY,
    NEAR_HEADERS,
    PART_HEADERS,
    POLICY,
    SAFE_HEADERS,
    WRONG_KEYS,
)
from rigmon.outlets.page.keys import Keys, new_key
from rigmon.outlets.page.rates import MOST_CLIENTS, Rate

if TYPE_CHECKING:
    from tests.outlets.page.conftest import Serve

KEYS = Keys("k7m2-9qxr-vw3t-pd6h", "g3st-8b2c-dxyz-4fgh")
PATHS = (
    "",
    "static/main.js",
    "api/v1/hello",
    "api/v1/openapi.json",
    "api/v1/stream",
    "api/v1/rigs/rig-a/trend",
    "api/v1/rigs/rig-a/plan",
    "api/v1/rigs/rig-a/story",
    "api/v1/runs/x/report",
)
NEARLY = ("k7m2-9qxr-vw3t-pd6", "K7M2-9QXR-VW3T-PD6H", "k7m2-9qxr-vw3t-pd6hh", "k7m2-9qxr")
JSON = {"content-type": "application/json"}


def test_without_the_key_nothing_is_served(serve: Serve) -> None:
    """Not even names: what there is and what there is not look the same."""
    page = serve(KEYS)
    nothing = page.ask("/nothing-like-this")
    assert nothing[::2] == (404, b"Not found.\n")
    for path in PATHS:
        status, headers, body = page.ask(f"/{path}")
        assert (status, set(headers), body) == (404, set(nothing[1]), nothing[2]), path
    assert page.ask("/api/v1/rigs/rig-a/marks", "POST", b"{}", JSON)[2] == nothing[2]


def test_a_key_that_is_nearly_right_is_wrong(serve: Serve) -> None:
    """A part of it, or it in capitals, opens nothing."""
    page = serve(KEYS)
    for key in (*NEARLY, "", "%00", "%C3%A9", "%ff"):
        assert page.ask(f"/{key}/api/v1/hello")[::2] == (404, b"Not found.\n"), key


def test_with_the_key_all_is_served(serve: Serve) -> None:
    """Addresses are relative to the key, which is a folder; one without its slash is led there."""
    page = serve(KEYS)
    base = f"/{KEYS.full}/"

    assert page.ask(base)[0] == 200
    assert page.ask(f"{base}static/main.js")[0] == 200
    assert page.json(f"{base}api/v1/hello")["rights"] == "full"
    status, headers, _ = page.ask(base[:-1])
    assert (status, headers["location"]) == (308, base)
    assert page.mark("scrape", path=base) == (200, {"ok": True, "text": "Noted."})


def test_a_guest_sees_and_marks_nothing(serve: Serve) -> None:
    """The second key opens everything but what would change something."""
    page = serve(KEYS)
    base = f"/{KEYS.guest}/"

    assert page.json(f"{base}api/v1/hello")["rights"] == "guest"
    assert page.ask(f"{base}api/v1/rigs/rig-a/trend")[0] == 200
    status, said = page.mark("scrape", path=base)
    assert status == 403
    assert said["text"] == "This address is for looking, not for marks."
    assert page.marks == []


def test_there_is_no_guest_without_a_guests_key(serve: Serve) -> None:
    """An empty key is no key."""
    page = serve(Keys(KEYS.full))
    for path in ("//", "//api/v1/hello", "/None/api/v1/hello", f"/{KEYS.guest}/"):
        assert page.ask(path)[0] == 404


def test_keys_are_compared_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """By digests of one length in constant time, and both of them whichever fits."""
    compared: list[tuple[int, int]] = []
    right = Keys.__module__

    def watch(a: bytes, b: bytes) -> bool:
        compared.append((len(a), len(b)))
        return a == b

    monkeypatch.setattr(f"{right}.hmac.compare_digest", watch)
    assert KEYS.rights(KEYS.full or "") == "full"
    assert KEYS.rights("x") is None
    assert Keys(KEYS.full).rights("") is None
    assert compared == [(32, 32)] * 6


def test_a_key_cannot_be_guessed() -> None:
    """79 bits, of letters that cannot be mistaken for one another."""
    keys = {new_key() for _ in range(200)}

    assert len(keys) == 200
    letters = set("".join(keys)) - {"-"}
    assert len(letters) == 31
    assert not letters & set("01ilo")
    assert 31 ** len(new_key().replace("-", "")) > 2**79


def test_keys_are_shown_nowhere(serve: Serve, caplog: pytest.LogCaptureFixture) -> None:
    """Neither in a log, nor in what stands for them in a message, nor in a Referer."""
    assert KEYS.full
    assert KEYS.full not in f"{KEYS} {KEYS!r}"
    page = serve(KEYS)
    with caplog.at_level(logging.DEBUG):
        for path in (f"/{KEYS.full}/", f"/{KEYS.full}/api/v1/rigs/none/trend", "/wrong/"):
            _, headers, body = page.ask(path)
            assert headers["referrer-policy"] == "no-referrer"
            assert KEYS.full.encode() not in body
    assert KEYS.full not in caplog.text


def test_a_broken_request_is_told_to_no_terminal(
    serve: Serve, capfd: pytest.CaptureFixture[str]
) -> None:
    """The live view is not disturbed by what strangers send."""
    page = serve(KEYS)
    bad_length = b"GET / HTTP/1.1\r\nContent-Length: x\r\n\r\n"
    for said in (b"\x00\x01\r\n\r\n", bad_length, b"HELO\r\n\r\n"):
        with socket.create_connection(("127.0.0.1", page.port), timeout=5) as stranger:
            stranger.sendall(said)
            stranger.recv(1000)

    assert capfd.readouterr() == ("", "")


def test_wrong_keys_are_counted(serve: Serve) -> None:
    """After a score of them a client has to wait, with the right one too."""
    page = serve(KEYS)
    answers = [page.ask(f"/{new_key()}/")[0] for _ in range(WRONG_KEYS + 1)]

    assert answers == [404] * WRONG_KEYS + [429]
    assert page.ask(f"/{KEYS.full}/")[0] == 429


def test_what_every_answer_says(serve: Serve) -> None:
    """No script but the page's own, no frame around it, no other site's reading of it."""
    page = serve()
    for path in ("", "static/main.js", "api/v1/hello", "api/v1/none", "none"):
        status, headers, _ = page.ask(f"/{path}")
        wanted = SAFE_HEADERS | NEAR_HEADERS
        if path.startswith("static/"):
            wanted = {name: value for name, value in wanted.items() if name in PART_HEADERS}
        if status == 200 and "v1" not in path:
            wanted["cache-control"] = "no-cache"
        assert {name: headers.get(name) for name in wanted} == wanted, path
        assert "server" not in headers
        assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize(
    ("host", "near"),
    [
        ("127.0.0.1:8466", True),
        ("localhost:8466", True),
        ("[::1]:8466", True),
        ("192.0.2.7:8466", False),
        ("kitchen.local", False),
        ("[2001:db8::7]", False),
        ("[:", False),
        ("", False),
    ],
)
def test_windows_are_parted_where_browsers_heed_it(serve: Serve, host: str, near: bool) -> None:
    """On this machine alone: over plain HTTP from elsewhere they would only complain of it."""
    status, headers, _ = serve(names=("kitchen.local",)).ask("/", headers={"host": host})

    assert status in (200, 400, 403)
    assert ("cross-origin-opener-policy" in headers) == near


def test_the_policy_allows_no_inline_script() -> None:
    """Nothing that is not named is allowed, and nothing unsafe is named."""
    assert POLICY.startswith("default-src 'none';")
    assert "unsafe" not in POLICY
    assert "*" not in POLICY
    assert "frame-ancestors 'none'" in POLICY


def test_a_report_may_run_nothing(serve: Serve) -> None:
    """It brings style and pictures along; a script in it, by whatever name, does not run."""
    made: list[str] = []

    def report(run: str) -> str:
        made.append(run)
        return f"<!doctype html><title>{run}</title>"

    page = serve(report=report, reported=lambda run: run == "rig-a-1")
    assert page.ask("/api/v1/runs/rig-a-1/report", "HEAD")[::2] == (200, b"")
    assert page.ask("/api/v1/runs/rig-a-2/report", "HEAD")[::2] == (404, b"")
    assert made == []
    status, headers, _ = page.ask("/api/v1/runs/rig-a-1/report")
    policy = headers["content-security-policy"]

    assert status == 200
    assert headers["content-type"] == "text/html; charset=utf-8"
    assert "script-src" not in policy
    assert policy.startswith("default-src 'none'")
    assert policy.endswith("sandbox")
    allowed = {"style-src 'unsafe-inline'", "sandbox"}
    assert {part for part in policy.split("; ") if not part.endswith(" 'none'")} == allowed
    assert page.ask("/api/v1/runs/rig-a-1/report")[2].endswith(b"<title>rig-a-1</title>")
    assert made == ["rig-a-1"]


OURS = (
    "127.0.0.1",
    "127.0.0.1:8466",
    "localhost",
    "LocalHost:8466",
    "[::1]:8466",
    "192.168.1.20",
    "kitchen.local",
    "kitchen.local.",
    "KITCHEN",
)
NOT_OURS = ("rebound.example", "127.0.0.1.example", "localhost.example:8466", "", "a b", "[::1")


def test_this_machines_own_names_lead_here(serve: Serve) -> None:
    """Its addresses in figures, and the names that it is called by."""
    page = serve(names=("kitchen", "kitchen.local"))
    for host in OURS:
        assert page.ask("/", headers={"host": host})[0] == 200, host


def test_another_name_does_not(serve: Serve) -> None:
    """A name that a stranger has led to this machine (DNS rebinding) opens nothing, key or not."""
    page, keyed = serve(names=("kitchen",)), serve(KEYS)
    for host in NOT_OURS:
        for path in ("/", "/api/v1/hello", "/api/v1/stream"):
            assert page.ask(path, headers={"host": host})[0] in (400, 403), host
        assert page.mark("scrape", {"host": host})[0] in (400, 403)
        assert keyed.ask(f"/{KEYS.full}/", headers={"host": host})[0] in (400, 403)
    assert page.marks == []


FOREIGN: tuple[dict[str, str], ...] = (
    {"origin": "http://elsewhere.example"},
    {"origin": "null"},
    {"origin": "http://127.0.0.1:1"},
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"},
)


def test_marks_come_from_the_page_itself(serve: Serve) -> None:
    """Another site that the maker has open cannot set one."""
    page = serve()
    for headers in FOREIGN:
        status, said = page.mark("scrape", headers)
        assert (status, said["ok"]) == (403, False), headers
    assert page.marks == []


def test_the_page_itself_may_mark(serve: Serve) -> None:
    """As a browser sends it from the page, and as a program sends it that names no origin."""
    page = serve()
    own = {"origin": f"http://127.0.0.1:{page.port}", "sec-fetch-site": "same-origin"}

    assert page.mark("recharge ice_g=900", own)[0] == 200
    assert page.mark("scrape")[0] == 200
    assert page.marks == [("rig-a", "recharge ice_g=900"), ("rig-a", "scrape")]


def test_elsewhere_cannot_read_but_may_lead_here(serve: Serve) -> None:
    """A link to the page works; a script elsewhere cannot even open its stream."""
    page = serve()
    elsewhere = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "cors"}

    assert page.ask("/api/v1/stream", headers=elsewhere)[0] == 403
    assert page.ask("/", headers={**elsewhere, "sec-fetch-mode": "navigate"})[0] == 200


def test_a_form_elsewhere_can_send_no_mark(serve: Serve) -> None:
    """What a browser sends across sites without asking first is refused."""
    page = serve()
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        assert page.mark("scrape", {"content-type": kind})[0] == 415
    assert page.marks == []


def test_a_body_is_short(serve: Serve) -> None:
    """Said to be long, or long without saying so, it is not read to its end."""
    page = serve()
    long = b'{"mark":"note ' + b"x" * MOST_BODY + b'"}'
    path = "/api/v1/rigs/rig-a/marks"

    assert page.ask(path, "POST", long, JSON)[0] == 413
    with socket.create_connection(("127.0.0.1", page.port), timeout=5) as stranger:
        head = f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        stranger.sendall(head.encode() + b"Transfer-Encoding: chunked\r\n\r\n")
        for _ in range(5):
            stranger.sendall(b"400\r\n" + b"x" * 1024 + b"\r\n")
        assert stranger.recv(100).startswith(b"HTTP/1.1 413 ")
    assert page.mark("note " + "x" * (MOST_BODY - 40))[0] == 200


def test_a_body_that_does_not_come_is_not_waited_for(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a mark holds nothing up."""
    monkeypatch.setattr("rigmon.outlets.page.guard.BODY_WITHIN_S", 0.2)
    page = serve()
    with socket.create_connection(("127.0.0.1", page.port), timeout=5) as stranger:
        head = "POST /api/v1/rigs/rig-a/marks HTTP/1.1\r\nHost: localhost\r\n"
        kind = "Content-Type: application/json\r\nContent-Length: 9\r\n\r\n"
        stranger.sendall(f"{head}{kind}{{".encode())
        assert stranger.recv(100).startswith(b"HTTP/1.1 408 ")


def test_marks_are_counted(serve: Serve) -> None:
    """A stuck finger, or worse, does not fill the log."""
    page = serve()
    answers = [page.mark("scrape")[0] for _ in range(MARKS + 3)]

    assert answers[:MARKS] == [200] * MARKS
    assert 429 in answers[MARKS:]


def test_what_is_no_mark_is_answered_in_a_sentence(serve: Serve) -> None:
    """Nonsense is no fault of the page's."""
    page = serve()
    for body in (b"", b"[]", b"{}", b'{"mark":7}', b"\xff\xfe", b'{"mark":', b"[" * 3000):
        status, _, said = page.ask("/api/v1/rigs/rig-a/marks", "POST", body, JSON)
        assert status == 400, body
        assert b"A mark is written" in said
    assert page.marks == []


def test_a_mark_is_one_line_of_plain_signs(serve: Serve) -> None:
    """Nothing in it can steer the terminal that shows it, or turn its text round."""
    page = serve()
    page.mark("note second\nbag \x1b[2J\x07\u202eend")

    assert page.marks == [("rig-a", "note second bag [2Jend")]


def test_no_file_is_read_for_a_page(serve: Serve) -> None:
    """A recipe is named by who sits at the computer: a page would read files of its owner."""
    page = serve()
    status, said = page.mark("start recipe=/etc/passwd")

    assert status == 422
    assert "on the computer itself" in said["text"]
    assert page.marks == []


def test_nothing_else_can_be_done(serve: Serve) -> None:
    """A way in that nobody thought of leads nowhere."""
    page = serve()
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        assert page.ask("/api/v1/rigs/rig-a/marks", method, b"{}", JSON)[0] == 405, method


def test_only_the_pages_files_are_served(serve: Serve) -> None:
    """They are known by name; no path is made of what is asked for."""
    page = serve()
    for name in ("../app.py", "..%2fapp.py", "%2e%2e/app.py", "/etc/passwd", "main.js%00", ""):
        assert page.ask(f"/static/{name}")[0] == 404, name


def test_nobody_says_by_a_header_that_it_is_somebody_else(serve: Serve) -> None:
    """Wrong keys are counted for who sends them."""
    page = serve(KEYS)
    for i in range(WRONG_KEYS):
        page.ask("/wrong/", headers={"x-forwarded-for": f"198.51.100.{i}"})
    assert page.ask("/wrong/", headers={"x-forwarded-for": "198.51.100.99"})[0] == 429


def test_counting_clients_takes_bounded_memory() -> None:
    """A network of many addresses does not fill it; one IPv6 network is one client."""
    rate = Rate(1, 0.0, clock=lambda: 0.0)
    for i in range(5 * MOST_CLIENTS):
        rate.allows(f"10.0.{i // 256}.{i % 256}")

    assert len(rate._left) == MOST_CLIENTS
    assert rate.allows("2001:db8::1")
    assert not rate.allows("2001:db8::2")
