"""A device of the Homie convention 5 and a reader of it that knows nothing of rigmon.

The reader's rules are those of https://homieiot.github.io/specification, version 5.0.0 of 11 May
2025.
"""

from __future__ import annotations

import datetime
import json
import queue
import re
import threading
import time
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from rigmon.outlets.glance import Glance
from rigmon.outlets.homie_device import HomieDevice
from rigmon.records import Mark, MqttLink, Reading, SourceNews

if TYPE_CHECKING:
    from tests.system.conftest import Broker

WAIT_S = 15.0
HOST = "127.0.0.1"
_ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")
_INTEGER = re.compile(r"-?[0-9]+")
_FLOAT = re.compile(r"-?[0-9]+(\.[0-9]+)?([eE]-?[0-9]+)?")


def valid(one: dict[str, Any], payload: str) -> bool:
    """Whether a payload is one that a property may have, by its datatype and format."""
    form = one.get("format", "")
    match one["datatype"]:
        case "integer" | "float" as kind:
            if not (_INTEGER if kind == "integer" else _FLOAT).fullmatch(payload):
                return False
            low, _, high = form.partition(":")
            return (not low or float(payload) >= float(low)) and (
                not high or float(payload) <= float(high)
            )
        case "enum":
            return payload in form.split(",")
        case "datetime":
            return datetime.datetime.fromisoformat(payload).tzinfo is not None
        case "json":
            return isinstance(json.loads(payload), dict | list)
        case "string":
            return True
    raise AssertionError(f"no such datatype: {one['datatype']}")


Valid = Callable[[dict[str, Any], str], bool]


@pytest.fixture(name="valid")
def valid_by_the_convention() -> Valid:
    """Tells payloads that a property may have from others."""
    return valid


class Reader:
    """A controller: subscribes to what the convention names, and holds every rule it reads."""

    def __init__(self, port: int, device: str) -> None:
        self.now: dict[str, str] = {}
        self.states: list[str] = []
        self.problems: list[str] = []
        self._device = f"homie/5/{device}/"
        self._news = threading.Condition()
        subscribed = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.on_message = lambda _c, _d, message: self._take(message)
        self._client.on_subscribe = lambda *_: subscribed.set()
        self._client.connect(HOST, port)
        self._client.subscribe("homie/5/#", qos=2)
        self._client.loop_start()
        assert subscribed.wait(WAIT_S)

    def _take(self, message: Any) -> None:
        with self._news:
            payload = message.payload.decode()
            topic = message.topic.removeprefix(self._device)
            if topic == "$state":
                self.states.append(payload)
            # What the broker has kept comes in no order, and from some without its QoS.
            if not message.retain and not topic.endswith("/set"):
                if message.qos != 2:
                    self.problems.append(f"{topic} came with QoS {message.qos}")
                if topic == "$description" and self.now.get("$state") == "ready":
                    self.problems.append("described anew while ready")
            self.now[topic] = payload
            if not payload:
                del self.now[topic]
            self._news.notify_all()

    def until(self, wanted: Callable[[dict[str, str]], object]) -> None:
        """Wait until what stands at the broker is as wanted."""
        with self._news:
            assert self._news.wait_for(lambda: wanted(self.now), WAIT_S), self.now

    def described(self) -> dict[str, Any]:
        """The description, with all that a device must say in it."""
        told: dict[str, Any] = json.loads(self.now["$description"])
        assert told["homie"] == "5.0"
        assert isinstance(told["version"], int)
        for node_id, node in told["nodes"].items():
            assert _ID.fullmatch(node_id)
            for property_id, one in node["properties"].items():
                assert _ID.fullmatch(property_id)
                assert one["datatype"] != "enum" or one["format"]
        return told

    def values(self) -> dict[str, str]:
        """Every value that stands, each held to what the description says of it."""
        nodes = self.described()["nodes"]
        found = {k: v for k, v in self.now.items() if not k.startswith("$")}
        for topic, payload in found.items():
            node, name = topic.split("/")
            one = nodes[node]["properties"][name]
            assert one.get("retained", True), topic
            assert valid(one, payload), (topic, payload)
        return found

    def set(self, name: str, payload: str) -> None:
        """Set a property, as the convention says."""
        self._client.publish(f"{self._device}{name}/set", payload, qos=2)

    def close(self) -> None:
        """Leave, once the broker has let go."""
        gone = threading.Event()
        self._client.on_disconnect = lambda *_: gone.set()
        self._client.disconnect()
        assert gone.wait(WAIT_S)
        self._client.loop_stop()


class Put:
    """Takes what the device hands in, and waits for it."""

    def __init__(self) -> None:
        self._queue: queue.Queue[Mark | Reading | SourceNews] = queue.Queue()

    def __call__(self, rig: str, item: Reading | Mark | SourceNews) -> None:
        """Take an item."""
        assert rig == "rig-a"
        self._queue.put(item)

    def next(self) -> Mark | Reading | SourceNews:
        """The next item."""
        return self._queue.get(timeout=WAIT_S)


Make = Callable[..., HomieDevice]


@pytest.fixture
def put() -> Put:
    """What takes marks."""
    return Put()


@pytest.fixture
def reported() -> queue.Queue[tuple[bool, str]]:
    """What the device says of its connection."""
    return queue.Queue()


@pytest.fixture
def make(broker: Broker, put: Put, reported: queue.Queue[tuple[bool, str]]) -> Iterator[Make]:
    """Starts devices, and stops them."""
    devices: list[HomieDevice] = []

    def start(*, virtual: bool = False) -> HomieDevice:
        link = MqttLink(HOST, broker.port, "homie")
        glance = Glance("rig-a", virtual)
        device = HomieDevice(link, glance, lambda ok, text: reported.put((ok, text)))
        devices.append(device)
        device.start(put, time.time)
        return device

    yield start
    for device in devices:
        device.stop()


@pytest.fixture
def read(broker: Broker) -> Iterator[Callable[[], Reader]]:
    """Makes readers, and has them leave."""
    readers: list[Reader] = []

    def make() -> Reader:
        readers.append(Reader(broker.port, "rig-a"))
        return readers[-1]

    yield make
    for reader in readers:
        reader.close()
