"""An MQTT source and its first contact where the broker is missing, silent, sparing or mad."""

from __future__ import annotations

import queue
import socket
import time
from collections.abc import Iterator
from contextlib import closing

import pytest

from rigmon.errors import DeviceError
from rigmon.records import Mark, MqttLink, Reading, SourceNews
from rigmon.sources import MqttSource, check_broker

WAIT_S = 15.0
HOST = "127.0.0.1"
READING = b"\x30\x1a\x00\x17rigs/rig-a/readings/mix7"
"""A PUBLISH of the number 7, as it stands on the wire of MQTT 3.1.1."""


class Watched:
    """A source of one rig, and what it puts."""

    def __init__(self, port: int) -> None:
        self.source = MqttSource({"rig-a": MqttLink(HOST, port)})
        self._queue: queue.Queue[Reading | Mark | SourceNews] = queue.Queue()
        self.source.start(lambda _rig, item: self._queue.put(item), time.time)

    def news(self, what: str) -> str:
        """The text of the next news of a kind."""
        while True:
            item = self._queue.get(timeout=WAIT_S)
            if isinstance(item, SourceNews) and item.what == what:
                return item.text

    def value(self) -> float | None:
        """The next reading's value."""
        while True:
            item = self._queue.get(timeout=WAIT_S)
            if isinstance(item, Reading):
                return item.value


@pytest.fixture
def server() -> Iterator[socket.socket]:
    """A server that does nothing by itself."""
    with closing(socket.create_server((HOST, 0))) as server:
        server.settimeout(WAIT_S)
        yield server


@pytest.fixture
def watched(server: socket.socket) -> Iterator[Watched]:
    """A source that tries that server."""
    watched = Watched(server.getsockname()[1])
    yield watched
    watched.source.stop()


def answer(server: socket.socket, *packets: bytes, granted: bytes = b"\x01\x01\x01\x02") -> None:
    """Let one client in as a broker does, grant its four filters, send it packets and hang up."""
    with closing(server.accept()[0]) as wire:
        wire.settimeout(WAIT_S)
        wire.recv(4096)
        wire.sendall(b"\x20\x02\x00\x00")
        subscribe = wire.recv(4096)
        wire.sendall(b"\x90\x06" + subscribe[2:4] + granted)
        for packet in packets:
            wire.sendall(packet)


def free_port() -> int:
    """A port that nobody listens on."""
    with closing(socket.create_server((HOST, 0))) as server:
        port: int = server.getsockname()[1]
        return port


def refusal(link: MqttLink) -> str:
    """What the maker is told."""
    with pytest.raises(DeviceError) as caught:
        check_broker(link)
    assert caught.value.exit_code == 3
    return str(caught.value)


def test_refused_connection() -> None:
    """The machine is there, the broker is not."""
    port = free_port()
    assert refusal(MqttLink(HOST, port)).startswith(f"No broker answers at {HOST}:{port}")


@pytest.mark.parametrize("name", ["no-such-broker.invalid", "no..name"])
def test_unknown_name(name: str) -> None:
    """The name is wrong, or the network is."""
    assert refusal(MqttLink(name)).startswith(f"No machine named {name!r} is known")


def test_silent_server(server: socket.socket, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever takes the connection and says nothing is not waited for."""
    monkeypatch.setattr("rigmon.sources.broker.CHECK_WITHIN_S", 0.2)
    assert refusal(MqttLink(HOST, server.getsockname()[1])).startswith("No answer came from")


def test_broker_may_send_anything(server: socket.socket, watched: Watched) -> None:
    """A topic that is no text costs a message, a broken packet a connection, neither the source."""
    no_text = b"\x30\x05\x00\x02\xff\xfe1"
    answer(server, no_text, READING)
    assert watched.value() == 7.0
    assert watched.source.counts().bad_lines == 1
    answer(server, READING, b"\x30\x02\xff\xff" + b"\xf0" * 40)
    assert watched.value() == 7.0
    answer(server, READING)
    assert watched.value() == 7.0
    assert watched.source.counts().reconnects == 2


def test_denied_topics_are_named(server: socket.socket, watched: Watched) -> None:
    """What a broker does not let us read is told, and the rest is read."""
    answer(server, READING, granted=b"\x01\x01\x80\x80")
    text = watched.news("online")
    assert text.endswith("It does not let us read rigs/+/status, homie/5/rig-a/run/mark/set.")
    assert watched.value() == 7.0


def test_broker_that_denies_everything_is_no_broker_for_us(
    server: socket.socket, watched: Watched
) -> None:
    """It counts as lost, with the reason."""
    answer(server, granted=b"\x80\x80\x80\x80")
    assert "lets this user read none of rigs/+/readings" in watched.news("broker-lost")


def test_stop_says_goodbye(server: socket.socket, watched: Watched) -> None:
    """A DISCONNECT packet, so that the broker need not wonder."""
    with closing(server.accept()[0]) as wire:
        wire.settimeout(WAIT_S)
        assert b"MQTT" in wire.recv(4096)
        wire.sendall(b"\x20\x02\x00\x00")
        assert b"rigs/+/readings" in wire.recv(4096)
        watched.source.stop()
        assert wire.recv(4096) == b"\xe0\x00"


def test_stop_is_quick_while_a_server_keeps_us_waiting(
    server: socket.socket, watched: Watched
) -> None:
    """Within a second."""
    with closing(server.accept()[0]):
        begun = time.monotonic()
        watched.source.stop()
        watched.source.stop()
        assert time.monotonic() - begun < 1.0


def test_stop_is_quick_between_two_attempts() -> None:
    """Within a second."""
    watched = Watched(free_port())
    watched.news("broker-lost")
    begun = time.monotonic()
    watched.source.stop()
    assert time.monotonic() - begun < 1.0
