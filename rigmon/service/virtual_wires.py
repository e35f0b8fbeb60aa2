"""The two wires of the virtual rig: a pseudo-terminal, and a broker inside this program."""

from __future__ import annotations

import asyncio
import importlib.util
import logging
import os
import select
import socket
import threading
import tty
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from rigmon.errors import DeviceError
from rigmon.records import MqttLink, SerialLink
from rigmon.sources import MqttSource, SerialSource, Source
from rigmon.virtual.board import BoardSetup

if TYPE_CHECKING:
    from paho.mqtt.client import MQTTMessage

_PATIENCE_S = 5.0
_STOP_WITHIN_S = 1.0


class Wire(Protocol):
    """What joins the virtual board to a source that does not know it is virtual."""

    source: Source
    where: str

    def send(self, line: bytes) -> None:
        """A line from the board."""

    def heard(self) -> list[bytes]:
        """Lines that came back to the board."""

    def close(self) -> None:
        """Cut the wire."""


class PtyWire:
    """A pseudo-terminal: the board writes at one end, pyserial reads at the other.

    Args:
        rig_id: the rig.
        board: how the board writes.
    """

    def __init__(self, rig_id: str, board: BoardSetup) -> None:
        self._board_end, self._host_end = os.openpty()
        tty.setraw(self._host_end)
        os.set_blocking(self._board_end, False)
        self.where = os.ttyname(self._host_end)
        self.source: Source = SerialSource(
            rig_id, SerialLink(self.where, format=board.form, columns=board.columns)
        )
        self._half = b""

    def send(self, line: bytes) -> None:
        """Write a line; what a full terminal cannot take is lost, as on a real wire."""
        try:
            os.write(self._board_end, line)
        except BlockingIOError:
            return

    def heard(self) -> list[bytes]:
        """Whole lines that the host wrote."""
        while select.select([self._board_end], [], [], 0.0)[0]:
            self._half += os.read(self._board_end, 4096)
        *lines, self._half = self._half.split(b"\n")
        return lines

    def close(self) -> None:
        """Close both ends."""
        os.close(self._host_end)
        os.close(self._board_end)


class BrokerWire:
    """A broker in this program on the loopback address: the board publishes, rigmon subscribes.

    Args:
        rig_id: the rig.

    Raises:
        DeviceError: the broker is not installed, or does not start.
    """

    def __init__(self, rig_id: str) -> None:
        if importlib.util.find_spec("amqtt") is None:
            raise DeviceError(
                "The demo's broker is not installed: pip install 'rigmon[mqtt-demo]', or leave "
                "out --via mqtt."
            )
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        self.where = f"mqtt://127.0.0.1:{port}/rigs/{rig_id}/readings"
        self._broker = _Broker(port)
        self._cues: list[bytes] = []
        self._lock = threading.Lock()
        self._board = self._connect(rig_id, port)
        self.source: Source = MqttSource({rig_id: MqttLink("127.0.0.1", port)})
        self._topic = f"rigs/{rig_id}"

    def _connect(self, rig_id: str, port: int) -> _Client:
        client = _Client(f"virtual-board-{rig_id}", port, f"rigs/{rig_id}", self._take)
        if not client.online.wait(_PATIENCE_S):
            client.close()
            self._broker.close()
            raise DeviceError("The demo's own broker does not answer.")
        return client

    def _take(self, payload: bytes) -> None:
        with self._lock:
            self._cues.append(b"cue " + payload)

    def send(self, line: bytes) -> None:
        """Publish a line."""
        if line.startswith(b"["):
            self._board.publish(f"{self._topic}/readings", line.strip())

    def heard(self) -> list[bytes]:
        """Cues that came back."""
        with self._lock:
            cues, self._cues = self._cues, []
        return cues

    def close(self) -> None:
        """Stop board and broker."""
        self._board.close()
        self._broker.close()


class _Client:
    """The board's own MQTT client, with its Last Will."""

    def __init__(self, name: str, port: int, topic: str, take: Callable[[bytes], None]) -> None:
        from paho.mqtt.client import Client  # noqa: PLC0415 - only for --via mqtt
        from paho.mqtt.enums import CallbackAPIVersion  # noqa: PLC0415 - only for --via mqtt

        self.online = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=name)
        self._client.will_set(f"{topic}/status", "offline", qos=1, retain=True)

        def connected(client: Client, *_: object) -> None:
            client.subscribe(f"{topic}/cue", qos=1)
            client.publish(f"{topic}/status", "online", qos=1, retain=True)
            self.online.set()

        def came(_client: Client, _data: object, message: MQTTMessage) -> None:
            take(bytes(message.payload))

        self._client.on_connect = connected
        self._client.on_message = came
        self._client.connect_async("127.0.0.1", port)
        self._client.loop_start()

    def publish(self, topic: str, payload: bytes) -> None:
        """Publish once, at least."""
        self._client.publish(topic, payload, qos=1)

    def close(self) -> None:
        """Say goodbye and leave."""
        self._client.disconnect()
        self._client.loop_stop()


class _Broker:
    """amqtt on a thread of its own."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._ready = threading.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run, name="rigmon-broker", daemon=True)
        self._thread.start()
        if not self._ready.wait(_PATIENCE_S):
            raise DeviceError("The demo's own broker does not start.")

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        from amqtt.broker import Broker  # noqa: PLC0415 - only for --via mqtt

        # What it says to those who run brokers is not for the maker.
        logging.getLogger("amqtt").setLevel(logging.ERROR)
        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        broker = Broker(
            {
                "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{self._port}"}},
                "plugins": {
                    "amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}
                },
            }
        )
        await broker.start()
        self._ready.set()
        await self._stop.wait()
        await broker.shutdown()

    def close(self) -> None:
        """Stop serving; one that does not end, as amqtt may in the middle of a receipt, is left."""
        if self._loop is not None and self._stop is not None:
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(_STOP_WITHIN_S)
