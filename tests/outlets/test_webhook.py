"""Alarms posted to a real server on this computer, which answers well, badly, late or not."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from rigmon.config import Filter, Webhook
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.message import Message
from rigmon.outlets.webhook import WebhookSender
from rigmon.records import Alarm, AlarmState, Priority

MakeAlarm = Callable[..., Alarm]


class Server(ThreadingHTTPServer):
    """Answers each request with the next of `answers`: a status, with where it sends on to."""

    answers: list[tuple[int, str]]
    got: list[tuple[str, dict[str, str], bytes]]
    hung: threading.Event


class _Handler(BaseHTTPRequestHandler):
    server: Server

    def do_POST(self) -> None:
        """Answer as planned; 0 never answers."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.got.append((self.path, dict(self.headers.items()), body))
        status, onward = self.server.answers.pop(0)
        if status == 0:
            self.server.hung.wait()
            return
        self.send_response(status)
        if onward:
            self.send_header("Location", onward)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def make_server() -> Iterator[Callable[..., Server]]:
    """Starts servers, and stops them all."""
    servers: list[tuple[Server, threading.Thread]] = []

    def make(*answers: int | tuple[int, str]) -> Server:
        server = Server(("127.0.0.1", 0), _Handler)
        server.answers = [one if isinstance(one, tuple) else (one, "") for one in answers]
        server.got, server.hung = [], threading.Event()
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        servers.append((server, thread))
        return server

    yield make
    for server, thread in servers:
        server.hung.set()
        server.shutdown()
        server.server_close()
        thread.join()


def url(server: Server) -> str:
    """Its address, with a secret in it."""
    return f"http://127.0.0.1:{server.server_port}/tok3n"


def sender(server: Server) -> WebhookSender:
    """An outlet to a server, which waits half a second."""
    return WebhookSender(Webhook("x", url(server), headers={"X-Key": "sesame"}), 0.5)


def test_the_alarm_arrives_as_its_json_line(
    make_server: Callable[..., Server], make_alarm: MakeAlarm
) -> None:
    """With rig and run, by whom, and the maker's own headers."""
    server, alarm = make_server(204), make_alarm()
    said = sender(server).send(Message("demo", "demo-1", True, alarm))
    ((path, headers, body),) = server.got
    assert said == f"127.0.0.1:{server.server_port} answered 204"
    assert (path, headers["X-Key"]) == ("/tok3n", "sesame")
    assert headers["Content-Type"] == "application/json"
    assert json.loads(body) == {
        "type": "alarm",
        "at": 312.0,
        "code": "plateau-reached",
        "priority": "high",
        "state": "unacknowledged",
        "text": alarm.text,
        "advice": {"do": "x"},
        "rig": "demo",
        "run": "demo-1",
        "virtual": True,
    }


@pytest.mark.parametrize(
    ("answer", "again", "says"),
    [
        (500, True, "answered 500 Internal Server Error."),
        (503, True, "answered 503"),
        (429, True, "answered 429"),
        (0, True, "cannot be reached: it does not answer in time"),
        (404, False, "answered 404 Not Found: check the address"),
        (401, False, "answered 401"),
    ],
)
def test_what_goes_wrong_is_told_without_the_secret(
    make_server: Callable[..., Server],
    make_alarm: MakeAlarm,
    answer: int,
    again: bool,
    says: str,
) -> None:
    """Where another try may help it is a matter of reaching the host; else the maker must act."""
    with pytest.raises(RigmonError) as raised:
        sender(make_server(answer)).send(Message("demo", None, False, make_alarm()))
    assert says in str(raised.value)
    assert isinstance(raised.value, DeviceError) is again
    assert "tok3n" not in str(raised.value)


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_no_redirect_is_followed(
    make_server: Callable[..., Server], make_alarm: MakeAlarm, status: int
) -> None:
    """What the headers hold is never shown to another host; the maker is told its name."""
    other = make_server(200)
    server = make_server((status, url(other)))
    with pytest.raises(RigmonError) as raised:
        sender(server).send(Message("demo", None, False, make_alarm()))
    assert f"sends on to 127.0.0.1:{other.server_port}, which is not" in str(raised.value)
    assert other.got == []


def test_nobody_there_is_told(make_alarm: MakeAlarm) -> None:
    """A closed port is a host that may come back."""
    with Server(("127.0.0.1", 0), _Handler) as gone:
        address = url(gone)
    with pytest.raises(DeviceError, match="cannot be reached: Connection refused"):
        WebhookSender(Webhook("x", address)).send(Message("demo", None, False, make_alarm()))


@pytest.mark.parametrize(
    ("state", "wanted"),
    [
        (AlarmState.UNACKNOWLEDGED, True),
        (AlarmState.ACKNOWLEDGED, True),
        (AlarmState.RETURNED, True),
        (AlarmState.RETURNED_UNACKNOWLEDGED, True),
        (AlarmState.SHELVED, False),
    ],
)
def test_a_machine_hears_what_became_of_an_alarm(
    make_alarm: MakeAlarm, state: AlarmState, wanted: bool
) -> None:
    """That it sounds, was answered, or is over; of priorities only those that are wanted."""
    every = WebhookSender(Webhook("x", "http://barn"))
    low = WebhookSender(Webhook("x", "http://barn", Filter(frozenset({Priority.LOW}))))
    message = Message("demo", None, False, make_alarm(state=state))
    assert every.wants(message) is wanted
    assert not low.wants(message)
