"""An MQTT source on real brokers: amqtt in this process, and mosquitto where it is installed."""

from __future__ import annotations

import json
import queue
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Protocol

import pytest
from paho.mqtt import publish
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from rigmon.errors import DeviceError
from rigmon.records import By, Fault, Mark, MarkWord, MqttLink, Reading, SourceNews
from rigmon.sources import MqttSource, check_broker, check_link
from rigmon.sources.mqtt import MAX_PAYLOAD_BYTES

WAIT_S = 15.0
HOST = "127.0.0.1"
USER, PASSWORD = "rigs", "sesame"

Item = Reading | Mark | SourceNews


class Broker(Protocol):
    """A broker that can be started and stopped, always on the same port."""

    port: int

    def start(self) -> None:
        """Serve."""

    def stop(self) -> None:
        """Stop serving."""


MakeBroker = Callable[..., Broker]


class Watcher:
    """Takes what a source puts, and waits for what is expected."""

    def __init__(self) -> None:
        self.items: list[tuple[str, Item]] = []
        self._queue: queue.Queue[tuple[str, Item]] = queue.Queue()

    def put(self, rig: str, item: Item) -> None:
        """Take an item."""
        self._queue.put((rig, item))

    def until(self, wanted: Callable[[str, Item], bool]) -> Item:
        """The next item that is wanted."""
        while True:
            rig, item = self._queue.get(timeout=WAIT_S)
            self.items.append((rig, item))
            if wanted(rig, item):
                return item

    def news(self, what: str, rig: str = "rig-a") -> SourceNews:
        """The next news of a kind."""
        item = self.until(lambda r, i: r == rig and isinstance(i, SourceNews) and i.what == what)
        assert isinstance(item, SourceNews)
        return item

    def reading(self, probe: str, rig: str = "rig-a") -> Reading:
        """The next reading of a probe."""
        item = self.until(lambda r, i: r == rig and isinstance(i, Reading) and i.probe == probe)
        assert isinstance(item, Reading)
        return item

    def mark(self) -> Mark:
        """The next mark."""
        item = self.until(lambda _rig, item: isinstance(item, Mark))
        assert isinstance(item, Mark)
        return item

    def readings(self) -> list[float | None]:
        """The values of all readings waited past so far."""
        return [item.value for _, item in self.items if isinstance(item, Reading)]


@pytest.fixture
def watcher() -> Watcher:
    """What watches the source."""
    return Watcher()


Watch = Callable[..., MqttSource]


@pytest.fixture
def watch(watcher: Watcher) -> Iterator[Watch]:
    """Starts a source and has it stopped."""
    sources: list[MqttSource] = []

    def start(link: MqttLink, *more: str) -> MqttSource:
        source = MqttSource(
            {"rig-a": link} | dict.fromkeys(more, replace(link, prefix="shed/rigs"))
        )
        sources.append(source)
        source.start(watcher.put, time.time)
        return source

    yield start
    for source in sources:
        source.stop()


def send(broker: Broker, topic: str, payload: object, retain: bool = False) -> None:
    """Publish as a board does, and return when the broker has it."""
    text = payload if isinstance(payload, str) else json.dumps(payload)
    publish.single(topic, text, qos=1, retain=retain, hostname=HOST, port=broker.port)


def bath(value: float, **fields: float) -> list[dict[str, object]]:
    """A pack of one reading."""
    return [{"n": "bath", "u": "Cel", "v": value} | fields]


def test_both_topics_bring_readings(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """A pack with its own times, and a bare number stamped on arrival."""
    source = watch(MqttLink(HOST, broker.port))
    watcher.news("online")
    before = time.time()
    send(broker, "rigs/rig-a/readings", bath(-14.25, t=-30))
    reading = watcher.reading("bath")
    assert reading.value == -14.25
    assert before - 30 <= reading.t <= time.time() - 30
    send(broker, "rigs/rig-a/readings/mix", " 3.5 ")
    reading = watcher.reading("mix")
    assert reading.value == 3.5
    assert before <= reading.t <= time.time()
    send(broker, "rigs/rig-a/readings/mix", "open")
    assert watcher.reading("mix").fault is Fault.OPEN
    assert (source.counts().lines, source.counts().readings) == (3, 3)


def test_rigs_share_a_connection_and_keep_apart(
    broker: Broker, watcher: Watcher, watch: Watch
) -> None:
    """Each by its own prefix; a topic of no rig is counted and told."""
    source = watch(MqttLink(HOST, broker.port), "rig-b")
    watcher.news("online", "rig-b")
    send(broker, "shed/rigs/rig-b/readings/bath", "-20")
    assert watcher.reading("bath", "rig-b").value == -20.0
    send(broker, "rigs/rig-z/readings", bath(1))
    send(broker, "rigs/rig-b/readings", bath(1))
    send(broker, "rigs/rig-a/readings/bath", "-10")
    news = watcher.news("unknown-rig")
    assert "'rigs/rig-z/readings' names no rig" in news.text
    assert "rig-a, rig-b" in news.text
    assert watcher.reading("bath").value == -10.0
    assert watcher.readings() == [-20.0, -10.0]
    assert source.counts().unknown == 2


def test_status_and_last_will_are_told(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """A board that comes and one that dies, at once or, retained, before we came."""
    board = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    board.will_set("rigs/rig-a/status", "offline", qos=1, retain=True)
    board.connect(HOST, broker.port)
    board.loop_start()
    board.publish("rigs/rig-a/status", "online", qos=1, retain=True).wait_for_publish(WAIT_S)
    watch(MqttLink(HOST, broker.port))
    assert "listening at the broker" in watcher.news("online").text
    assert watcher.news("online").text == "rig-a: the board is online."
    wire = board.socket()
    assert isinstance(wire, socket.socket)
    wire.shutdown(socket.SHUT_RDWR)
    assert watcher.news("offline").text == "rig-a: the board is offline."
    board.loop_stop()


def test_duplicates_are_stored_once(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """The same board time and value is the same reading; another value or time is not."""
    source = watch(MqttLink(HOST, broker.port))
    watcher.news("online")
    at = float(int(time.time())) - 60
    for pack in [bath(1, t=at), bath(1, t=at), bath(2, t=at), bath(1, t=at + 1), bath(9)]:
        send(broker, "rigs/rig-a/readings", pack)
    watcher.until(lambda _rig, item: isinstance(item, Reading) and item.value == 9)
    assert watcher.readings() == [1, 2, 1, 9]
    assert source.counts().duplicates == 1


def test_retained_reading_is_old(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """It is dropped and told; the next one from the board is read, retained or not."""
    topics = {"rigs/rig-a/readings", "rigs/rig-a/readings/mix", "homie/5/rig-a/run/mark/set"}
    for topic in topics:
        send(broker, topic, "5", retain=True)
    source = watch(MqttLink(HOST, broker.port))
    assert {watcher.news("late").detail for _ in topics} == topics
    send(broker, "rigs/rig-a/readings", bath(-2), retain=True)
    assert watcher.reading("bath").value == -2.0
    assert watcher.readings() == [-2.0]
    assert not any(isinstance(item, Mark) for _, item in watcher.items)
    assert source.counts().unknown == 3


def test_payloads_that_cannot_be_read_are_counted(
    broker: Broker, watcher: Watcher, watch: Watch
) -> None:
    """Too long, no pack, no number, no status: the connection stays."""
    source = watch(MqttLink(HOST, broker.port))
    watcher.news("online")
    longest = json.dumps(bath(-3)).ljust(MAX_PAYLOAD_BYTES)
    for topic, payload in [
        ("readings", longest + " "),
        ("readings", "half a pack"),
        ("readings/bath", "warm"),
        ("readings/-bath", "1"),
        ("status", "asleep"),
        ("readings", longest),
    ]:
        send(broker, f"rigs/rig-a/{topic}", payload)
    assert watcher.reading("bath").value == -3.0
    counts = source.counts()
    assert (counts.lines, counts.bad_lines, counts.readings) == (6, 5, 1)
    assert "carries more than 16384 bytes" in counts.last_bad[0]
    assert counts.reconnects == 0


def test_marks_come_as_homie_says(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """By the maker, with their amounts; one that makes no sense is counted, told and dropped."""
    source = watch(MqttLink(HOST, broker.port))
    watcher.news("online")
    before = time.time()
    send(broker, "homie/5/rig-a/run/mark/set", "recharg ice_g=900")
    send(broker, "homie/5/rig-a/run/mark/set", "recharge ice_g=900 salt_g=200")
    news = watcher.news("bad-mark")
    assert "'recharge'" in news.text
    assert news.detail == "recharg ice_g=900"
    mark = watcher.mark()
    assert (mark.word, mark.by) == (MarkWord.RECHARGE, By.MAKER)
    assert mark.detail == {"ice_g": 900.0, "salt_g": 200.0}
    assert before <= mark.t <= time.time()
    assert source.counts().unknown == 1


def test_cues_reach_the_board(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """On the rig's own topic, as `<level> <alarm-code>`."""
    heard: queue.Queue[tuple[str, bytes, int]] = queue.Queue()
    subscribed = threading.Event()
    board = Client(CallbackAPIVersion.VERSION2)
    board.on_message = lambda _c, _d, m: heard.put((m.topic, bytes(m.payload), m.qos))
    board.on_subscribe = lambda *_: subscribed.set()
    board.connect(HOST, broker.port)
    board.subscribe("rigs/rig-a/cue", qos=1)
    board.loop_start()
    assert subscribed.wait(WAIT_S)
    source = watch(MqttLink(HOST, broker.port))
    source.cue("rig-a", "high", "plateau-reached")
    source.cue("rig-z", "high", "plateau-reached")
    assert heard.get(timeout=WAIT_S) == ("rigs/rig-a/cue", b"high plateau-reached", 1)
    source.cue("rig-a", "off", "plateau-reached")
    assert heard.get(timeout=WAIT_S)[1] == b"off plateau-reached"
    board.disconnect()
    board.loop_stop()


def test_broker_restart_is_survived(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """Told to every rig; subscriptions stand again afterwards."""
    source = watch(MqttLink(HOST, broker.port), "rig-b")
    watcher.news("online", "rig-b")
    broker.stop()
    assert f"{HOST}:{broker.port}" in watcher.news("broker-lost").text
    watcher.news("broker-lost", "rig-b")
    broker.start()
    watcher.news("online", "rig-b")
    send(broker, "rigs/rig-a/readings/bath", "-14")
    assert watcher.reading("bath").value == -14.0
    assert source.counts().reconnects == 1


def test_broker_that_comes_late_is_found(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """A running program waits for its broker, and tells each reason once."""
    broker.stop()
    source = watch(MqttLink(HOST, broker.port))
    assert "connection was refused" in watcher.news("broker-lost").text
    broker.start()
    watcher.news("online")
    told = [item.what for _, item in watcher.items if isinstance(item, SourceNews)]
    assert told == ["broker-lost", "online"]
    assert source.counts().reconnects == 0


def test_password(make_broker: MakeBroker, watcher: Watcher, watch: Watch) -> None:
    """The right one opens; a wrong one is told with the broker's own reason, and ends nothing."""
    broker = make_broker(secured=True)
    right = MqttLink(HOST, broker.port, user=USER, password=PASSWORD)
    wrong = replace(right, password="open " + PASSWORD)
    check_link(right)
    for link in (wrong, MqttLink(HOST, broker.port)):
        with pytest.raises(DeviceError, match="refuses the connection: Not authorized") as caught:
            check_broker(link)
        assert caught.value.exit_code == 3
        assert PASSWORD not in str(caught.value)
    watch(wrong)
    assert "Not authorized" in watcher.news("broker-lost").text
    watch(right)
    watcher.news("online")


def test_tls(
    make_broker: MakeBroker, certificate: dict[str, str], watcher: Watcher, watch: Watch
) -> None:
    """A broker whose certificate we trust is spoken to in secret, and no other."""
    broker = make_broker(tls=certificate)
    link = MqttLink(HOST, broker.port, tls=True, ca_file=certificate["certfile"])
    check_broker(link)
    source = watch(link)
    watcher.news("online")
    publish.single(
        "rigs/rig-a/readings/bath",
        "-14",
        qos=1,
        hostname=HOST,
        port=broker.port,
        tls={"ca_certs": certificate["certfile"]},
    )
    assert watcher.reading("bath").value == -14.0
    source.stop()
    with pytest.raises(DeviceError, match="is not trusted"):
        check_broker(replace(link, ca_file=""))
    with pytest.raises(DeviceError, match="hung up without an answer"):
        check_broker(MqttLink(HOST, broker.port))
    with pytest.raises(DeviceError, match="certificates for the broker cannot be read"):
        check_broker(replace(link, ca_file=str(Path(certificate["certfile"]).with_name("none"))))


def test_tls_to_a_broker_without_it(broker: Broker, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reason is told, and the setting to look at."""
    monkeypatch.setattr("rigmon.sources.broker.CONNECT_TIMEOUT_S", 0.5)
    with pytest.raises(DeviceError, match="Does that port speak TLS"):
        check_broker(MqttLink(HOST, broker.port, tls=True))


def test_stop_is_quick_and_final(broker: Broker, watcher: Watcher, watch: Watch) -> None:
    """Within a second; nothing is put afterwards."""
    source = watch(MqttLink(HOST, broker.port))
    watcher.news("online")
    begun = time.monotonic()
    source.stop()
    assert time.monotonic() - begun < 1.0
    source.cue("rig-a", "low", "probe-silent")
    send(broker, "rigs/rig-a/readings/bath", "-14")
    assert watcher.readings() == []
