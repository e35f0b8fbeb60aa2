"""The server comes up at once, goes within a second, and is nobody's trouble."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from rigmon.errors import DeviceError
from rigmon.outlets.page import server as serving
from rigmon.outlets.page.server import DEFAULT_PORT, STOP_WITHIN_S, PageServer, door
from tests.waiting import until

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from tests.outlets.page.conftest import MakeFull, Serve


@pytest.fixture
def taken() -> Iterator[int]:
    """A port that somebody else has."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield int(other.getsockname()[1])


def test_it_ends_within_a_second_whoever_listens(serve: Serve, full_state: MakeFull) -> None:
    """Open streams, and one that takes nothing, do not keep the program."""
    page = serve()
    page.tell(full_state())
    for one in [page.stream() for _ in range(5)]:
        one.next("picture")
    stuck = socket.create_connection(("127.0.0.1", page.port))
    stuck.sendall(b"GET /api/v1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
    began = time.monotonic()
    page.hub.close()
    page.server.close()

    assert time.monotonic() - began < STOP_WITHIN_S + 0.7
    assert "rigmon-page" not in {thread.name for thread in threading.enumerate()}
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", page.port), timeout=1)
    stuck.close()


def test_the_port_is_had_again_at_once(serve: Serve, full_state: MakeFull) -> None:
    """A program that is started again in the middle of a batch finds the pages waiting there."""
    page = serve()
    page.tell(full_state())
    page.stream().next("picture")
    page.hub.close()
    page.server.close()
    with door("127.0.0.1", page.port) as again:
        assert again.getsockname()[1] == page.port


def test_a_port_that_is_meant_and_taken(taken: int) -> None:
    """One clear sentence says what to do."""
    with pytest.raises(DeviceError, match=f"Port {taken} is taken by another program: .*--port"):
        door("127.0.0.1", taken)
    with pytest.raises(DeviceError, match=r"cannot be served at 192\.0\.2\.1, port 9"):
        door("192.0.2.1", 9)


def test_the_next_port_if_none_is_meant(monkeypatch: pytest.MonkeyPatch, taken: int) -> None:
    """Two programs on one computer are no trouble; a row of ten taken ports is told."""
    monkeypatch.setattr(serving, "DEFAULT_PORT", taken)
    with door("127.0.0.1", None) as found:
        assert taken < found.getsockname()[1] <= taken + 9
    monkeypatch.setattr(serving, "_OTHERS", 0)
    with pytest.raises(DeviceError, match="taken"):
        door("127.0.0.1", None)
    assert DEFAULT_PORT + 9 < 32_768  # Below the ports that computers give away by themselves.


def test_who_asks_nothing_is_sent_away(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    """Connections that are only held open would take files from the log."""
    monkeypatch.setattr(serving, "_ASKS_WITHIN_S", 0.2)
    page = serve()
    with socket.create_connection(("127.0.0.1", page.port), timeout=5) as silent:
        silent.sendall(b"GET / HTT")
        began = time.monotonic()
        with contextlib.suppress(ConnectionResetError):
            assert silent.recv(10) == b""
        assert time.monotonic() - began < 2.0


def test_one_address_has_so_many_connections(serve: Serve, monkeypatch: pytest.MonkeyPatch) -> None:
    """One device more or less broken leaves room for the others, and gets its own back."""
    monkeypatch.setattr(serving, "MOST_OF_ONE", 3)
    page = serve()
    held = [socket.create_connection(("127.0.0.1", page.port), timeout=5) for _ in range(3)]
    for one in held:
        one.sendall(b"GET / HTT")
    until(lambda: not _answers(page.port))
    for one in held:
        one.close()
    until(lambda: _answers(page.port))


def _answers(port: int) -> bool:
    with socket.create_connection(("127.0.0.1", port), timeout=5) as caller:
        caller.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        with contextlib.suppress(OSError):
            return caller.recv(100).startswith(b"HTTP/1.1 200")
    return False


def test_a_fault_of_the_page_is_a_sentence() -> None:
    """Whatever it is, it is told in words, and ends the page alone."""
    told: list[str] = []

    def breaks() -> ASGIApp:
        raise OSError(24, "Too many open files")

    server = PageServer(door("127.0.0.1", _free()), breaks, lambda _: None, told.append)
    server._thread.join(5)

    assert told == ["The page has failed: OSError: [Errno 24] Too many open files."]
    server.close()


def _free() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_a_fault_of_one_answer_ends_nothing(
    serve: Serve, capfd: pytest.CaptureFixture[str]
) -> None:
    """It is answered as such, without what is behind it, and the next question is answered."""

    def breaks(_: str) -> str:
        raise RuntimeError("secret")

    page = serve(report=breaks)
    status, headers, body = page.ask("/api/v1/runs/x/report")

    assert status == 500
    assert b"secret" not in body
    assert "content-security-policy" in headers
    assert page.ask("/")[0] == 200
    assert capfd.readouterr() == ("", "")
