"""Listening in for a while, to a port or a broker, to see what comes before anything is set."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass

import serial
from paho.mqtt.client import Client, MQTTMessage

from rigmon.errors import DeviceError
from rigmon.records import MqttLink, SerialLink
from rigmon.sources.broker import Call, check_broker, reason
from rigmon.sources.lines import TALK, LineBuffer
from rigmon.sources.serial_check import check_port
from rigmon.sources.serial_port import PORT_ERRORS, open_port

_READ_S = 0.1
_KEPT_BYTES = 16 * 1024
_MOST_MESSAGES = 5_000
_GOODBYE_S = 1.0
PING_AGAIN_S = 2.0
"""A board that opening its port has reset hears nothing for a second or two [s]."""


@dataclass(frozen=True, slots=True)
class Overheard:
    """What came down a serial port.

    Args:
        lines: when each line came [s, Unix] and the line, its end cut off.
        answers: what the board said of itself.
        loose_bytes: bytes that belong to no whole line.
    """

    lines: tuple[tuple[float, bytes], ...]
    answers: tuple[bytes, ...]
    loose_bytes: int


def overhear_port(link: SerialLink, for_s: float) -> Overheard:
    """Open a port, ask the board for its name, and listen.

    Args:
        link: the port and its speed; the form of its lines does not matter.
        for_s: how long [s].

    Raises:
        DeviceError: it cannot be opened, or is lost meanwhile.
    """
    check_port(link)
    buffer = LineBuffer()
    lines: list[tuple[float, bytes]] = []
    answers: list[bytes] = []
    seen = 0
    try:
        port = open_port(link)
    except PORT_ERRORS as why:
        raise DeviceError(f"{link.port} cannot be opened: {why}.") from why
    try:
        port.timeout = _READ_S
        begun = time.monotonic()
        pings = 0
        while (passed_s := time.monotonic() - begun) < for_s:
            if pings < 2 and not answers and passed_s >= PING_AGAIN_S * pings:
                pings += 1
                _ping(port)
            data = port.read(port.in_waiting or 1)
            seen += len(data)
            now = time.time()
            for raw in buffer.feed(data):
                line = raw.strip()
                if line.startswith(TALK):
                    answers.append(line)
                elif line:
                    lines.append((now, line))
    except PORT_ERRORS as why:
        raise DeviceError(f"{link.port} was lost while listening: {why}.") from why
    finally:
        port.close()
    whole = sum(len(line) + 1 for _, line in lines) + sum(len(line) + 1 for line in answers)
    return Overheard(tuple(lines), tuple(answers), max(seen - whole, 0))


def _ping(port: serial.Serial) -> None:
    try:
        port.write(b"ping\n")
    except serial.SerialTimeoutException:
        return


@dataclass(frozen=True, slots=True)
class Message:
    """A message at a broker.

    Args:
        t: when it came [s, Unix].
        topic: its topic.
        payload: its first 16 KiB.
        retained: whether the broker had kept it.
    """

    t: float
    topic: str
    payload: bytes
    retained: bool


def overhear_broker(link: MqttLink, for_s: float) -> tuple[Message, ...]:
    """Listen to everything below the prefix of a broker.

    Args:
        link: the broker.
        for_s: how long [s].

    Raises:
        DeviceError: it does not let us in; the message says why.
    """
    check_broker(link)
    messages: list[Message] = []
    enough, ended = threading.Event(), threading.Event()
    said: list[str] = []
    topics = f"{link.prefix}/#"

    def came(message: MQTTMessage) -> None:
        if len(messages) < _MOST_MESSAGES:
            payload = bytes(message.payload)[:_KEPT_BYTES]
            messages.append(Message(time.time(), message.topic, payload, message.retain))

    def tick(client: Client) -> None:
        # A broker that is hung up on in the middle of its messages would have to clean up.
        if enough.is_set() and client.on_unsubscribe is None:
            client.on_unsubscribe = lambda *_: ended.set()
            client.unsubscribe(topics)

    def dial() -> None:
        call = Call(link, [(topics, 1)], lambda _denied: None, came)
        try:
            sentence = call.run(ended, tick)
        except Exception as why:  # noqa: BLE001 - whatever broke, the maker gets its sentence
            sentence = reason(link, why)
        if not enough.is_set():
            said.append(sentence)

    listening = threading.Thread(target=dial, name="overhear-broker", daemon=True)
    listening.start()
    listening.join(for_s)
    enough.set()
    ended.wait(_GOODBYE_S)
    ended.set()
    listening.join(_GOODBYE_S)
    if said and not messages:
        raise DeviceError(said[0])
    return tuple(messages)
