"""One rig at an MQTT broker as a Homie device: values and alerts out, marks in.

Each rig has a connection of its own, since the convention's Last Will is that of one device.
"""

from __future__ import annotations

import datetime
import threading
import time
from collections.abc import Callable

from paho.mqtt.client import Client, MQTTMessage, MQTTMessageInfo

from rigmon.errors import DeviceError
from rigmon.outlets.glance import Glance
from rigmon.outlets.homie import DESCRIPTION, MARK, STATE, description, values
from rigmon.outlets.message import Message
from rigmon.records import MqttLink, Said, Stage, State
from rigmon.sources.base import Now, Put, SourceCounts
from rigmon.sources.broker import CHECK_WITHIN_S, Call, reason
from rigmon.sources.decoded import BadLine
from rigmon.sources.ledger import Ledger
from rigmon.sources.mqtt import (
    FIRST_RETRY_S,
    LAST_RETRY_S,
    MAX_PAYLOAD_BYTES,
    STOP_WITHIN_S,
)

VERSION = 5
_ON_THE_WAY = 20
"""Messages that wait for their receipt at most, paho's own limit; the rest waits with us."""
_FAREWELL_S = 0.5

Tell = Callable[[bool, str], None]
"""Takes whether all is well, and a sentence."""


def root(link: MqttLink, rig_id: str) -> str:
    """What the topics of a rig begin with."""
    return f"{link.prefix}/{VERSION}/{rig_id}"


class HomieDevice:
    """A rig at the broker: an outlet for what is said of it, and a source of marks.

    Values wait by their topic, so that of each only the newest waits; `overtaken` counts those
    that were never sent because a newer one came.

    Args:
        link: the broker and the prefix of the topics.
        glance: the rig; filled by `tell`.
        report: told whenever the connection stands or breaks.
    """

    def __init__(self, link: MqttLink, glance: Glance, report: Tell) -> None:
        self.name = f"homie {glance.rig_id}"
        self.overtaken = 0
        self._link = link
        self._glance = glance
        self._report = report
        self._root = root(link, glance.rig_id)
        self._ledger = Ledger()
        self._lock = threading.Lock()
        self._stage: Stage | None = None
        self._since = ""
        self._values = values(glance, "")
        self._waiting: dict[str, str] = {}
        self._on_the_way: list[MQTTMessageInfo] = []
        self._announced = False
        self._connected = False
        self._leaving = threading.Event()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name=self.name, daemon=True)

    def start(self, put: Put, now: Now) -> None:
        """Connect and stay connected, for ever; marks go to `put`."""
        self._ledger.begin(put, now)
        self._thread.start()

    def stop(self) -> None:
        """Say that the device leaves, and leave."""
        self._leaving.set()
        if not self._connected:
            self._ended.set()
        if self._thread.is_alive():
            self._thread.join(STOP_WITHIN_S)
        self._ended.set()

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Boards are told by their own source."""

    def counts(self) -> SourceCounts:
        """What has come in so far."""
        return self._ledger.counts()

    def close(self) -> None:
        """What is left to say is said by `stop`."""

    def tell(self, rig_id: str, said: Said) -> None:
        """Take in one thing said; what it changes is sent as soon as can be."""
        if rig_id != self._glance.rig_id:
            return
        with self._lock:
            self._glance.tell(said)
            if isinstance(said, State) and said.stage is not self._stage:
                self._stage = said.stage
                began = datetime.datetime.fromtimestamp(self._ledger.now(), datetime.UTC)
                self._since = began.strftime("%Y-%m-%dT%H:%M:%SZ")
            for topic, payload in values(self._glance, self._since).items():
                if self._values.get(topic, "") != payload:
                    self._values[topic] = payload
                    self._wait(topic, payload)

    def _wait(self, topic: str, payload: str) -> None:
        if self._connected:
            self.overtaken += topic in self._waiting
            self._waiting[topic] = payload

    def _run(self) -> None:
        retry_s = FIRST_RETRY_S
        while not self._ended.is_set():
            call = Call(
                self._link,
                [(f"{self._root}/{MARK}", 2)],
                self._online,
                self._message,
                (f"{self._root}/{STATE}", "lost"),
            )
            try:
                why = call.run(self._ended, self._tick)
            except Exception as error:  # noqa: BLE001 - whatever the broker does, we outlive it
                why = reason(self._link, error)
            with self._lock:
                self._connected = False
            if self._leaving.is_set():
                return
            self._report(False, why)
            retry_s = FIRST_RETRY_S if call.ready else retry_s
            self._leaving.wait(retry_s)
            retry_s = min(2.0 * retry_s, LAST_RETRY_S)
            if self._leaving.is_set():
                return

    def _online(self, _denied: list[str]) -> None:
        with self._lock:
            self._connected = True
            self._announced = False
            self._on_the_way = []
            told = description(self._glance.rig_id, virtual=self._glance.virtual)
            self._waiting = {STATE: "init", DESCRIPTION: told, **self._values}

    def _tick(self, client: Client) -> None:
        self._on_the_way = [one for one in self._on_the_way if not one.is_published()]
        if self._leaving.is_set():
            self._take_leave(client)
            return
        with self._lock:
            while self._waiting and len(self._on_the_way) < _ON_THE_WAY:
                topic = next(iter(self._waiting))
                self._publish(client, topic, self._waiting.pop(topic))
            if self._announced or self._waiting or self._on_the_way:
                return
            self._announced = True
            self._publish(client, STATE, "ready")
        where = f"{self._link.host}:{self._link.port}"
        self._report(True, f"The rig stands at the broker {where} under {self._root}.")

    def _publish(self, client: Client, topic: str, payload: str) -> None:
        self._on_the_way.append(
            client.publish(f"{self._root}/{topic}", payload, qos=2, retain=True)
        )

    def _take_leave(self, client: Client) -> None:
        last = client.publish(f"{self._root}/{STATE}", "disconnected", qos=2, retain=True)
        latest = time.monotonic() + _FAREWELL_S
        while not last.is_published() and time.monotonic() < latest:
            client.loop(0.05)
        self._ended.set()

    def _message(self, message: MQTTMessage) -> None:
        """Take a mark; whatever is wrong with it costs this mark only."""
        self._ledger.add("lines")
        rig, payload = self._glance.rig_id, bytes(message.payload)
        try:
            if len(payload) > MAX_PAYLOAD_BYTES:
                self._ledger.bad(rig, BadLine(f"a mark of over {MAX_PAYLOAD_BYTES} bytes"), payload)
            elif message.retain:
                self._ledger.too_old(rig, message.topic)
            else:
                self._ledger.mark_text(rig, payload)
        except Exception as why:  # noqa: BLE001 - an exception here would end the connection
            self._ledger.bad(rig, BadLine(f"a mark failed ({why!r})"), payload)


class HomieSender:
    """Sends the test message: a line for the device's log, which nobody takes for an alarm.

    Args:
        link: the broker and the prefix of the topics.
        rig_id: the rig.
    """

    def __init__(self, link: MqttLink, rig_id: str) -> None:
        self.name = f"homie {rig_id}"
        self._link = link
        self._topic = f"{root(link, rig_id)}/$log/info"

    def wants(self, message: Message) -> bool:
        """Alarms go out as alerts of the device, not from here."""
        return message.test

    def send(self, message: Message) -> str:
        """Publish it, and wait for the broker's receipt.

        Raises:
            DeviceError: the broker is not there, or does not let us in.
        """
        ended = threading.Event()
        sent: list[MQTTMessageInfo] = []
        text = f"{message.place}: {message.alarm.text}"

        def tick(client: Client) -> None:
            if not sent:
                sent.append(client.publish(self._topic, text, qos=2))
            elif sent[0].is_published():
                ended.set()

        said: list[str] = []

        def dial() -> None:
            try:
                call = Call(self._link, (), lambda _denied: None, lambda _message: None)
                said.append(call.run(ended, tick))
            except Exception as why:  # noqa: BLE001 - whatever broke, the maker gets its sentence
                said.append(reason(self._link, why))

        dialling = threading.Thread(target=dial, name=f"test {self.name}", daemon=True)
        dialling.start()
        dialling.join(CHECK_WITHIN_S)
        if sent and ended.is_set():
            return f"{self._link.host}:{self._link.port} took the message for {self._topic}"
        ended.set()
        raise DeviceError(said[0] if said else reason(self._link, TimeoutError()))
