"""A rig at real brokers, held to the Homie convention 5 by a reader of its own."""

from __future__ import annotations

import datetime
import json
import queue
import socket
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from paho.mqtt import publish
from paho.mqtt.client import Client

from rigmon.outlets.homie_device import HomieDevice, HomieSender
from rigmon.outlets.message import trial
from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Estimate,
    Event,
    Forecast,
    Mark,
    MarkWord,
    MqttLink,
    Priority,
    SourceNews,
    Stage,
    State,
)

if TYPE_CHECKING:
    from tests.system.conftest import Broker
    from tests.system.homie.conftest import Put, Reader

Make = Callable[..., HomieDevice]

WAIT_S = 15.0
HOST = "127.0.0.1"
STATE = State(
    312.0,
    Stage.BEAT,
    1,
    Estimate(
        312.0,
        bath_c=-16.83,
        mix_c=-2.614,
        frozen_pct=6.54,
        cooling_w=148.0,
        ice_left_g=2010.4,
        brine_pct=21.93,
    ),
    {},
)
ALARM = Alarm(
    312.0, "plateau-reached", Priority.HIGH, AlarmState.UNACKNOWLEDGED, "Stop: to the freezer. Why."
)


def send(broker: Broker, topic: str, payload: str, *, retain: bool = False) -> None:
    """Publish as somebody else."""
    publish.single(topic, payload, qos=1, retain=retain, hostname=HOST, port=broker.port)


def is_ready(now: dict[str, str]) -> bool:
    """Whether the device is ready."""
    return now.get("$state") == "ready"


def test_a_rig_is_found_with_its_values_and_alerts(make: Make, read: Callable[[], Reader]) -> None:
    """A controller that comes late reads the same as one that was there from the start."""
    early = read()
    device = make()
    early.until(is_ready)
    assert early.values()["run/next"] == "Waiting: no reading yet"
    for said in (STATE, Forecast(312.0, Event.PLATEAU, 1, 690.0, 742.0, 815.0), ALARM):
        device.tell("rig-a", said)
    device.tell("rig-z", replace(STATE, round=9))
    early.until(lambda now: "$alert/plateau-reached" in now and "bath/temperature" in now)
    late = read()
    for reader in (early, late):
        reader.until(lambda now: is_ready(now) and "$alert/plateau-reached" in now)
        nodes = reader.described()["nodes"]
        values = reader.values()
        since = datetime.datetime.fromisoformat(values.pop("run/since"))
        assert abs(since.timestamp() - time.time()) < WAIT_S
        assert json.loads(values.pop("forecast/plateau")) == {
            "type": "forecast",
            "at": 312.0,
            "event": "plateau",
            "round": 1,
            "p10": 690.0,
            "p50": 742.0,
            "p90": 815.0,
        }
        assert values == {
            "bath/temperature": "-16.8",
            "bath/brine": "21.9",
            "bath/ice-left": "2010",
            "mix/temperature": "-2.6",
            "mix/frozen": "6.5",
            "mix/cooling": "148",
            "run/stage": "beat",
            "run/round": "1",
            "run/next": "Stop: to the freezer. Why.",
        }
        assert reader.now["$alert/plateau-reached"] == "Stop: to the freezer. Why."
        assert nodes["bath"]["properties"]["temperature"]["unit"] == "°C"
        assert nodes["mix"]["properties"]["frozen"]["unit"] == "%"
        mark = nodes["run"]["properties"]["mark"]
        assert (mark["settable"], mark["retained"]) == (True, False)
        assert set(nodes["forecast"]["properties"]) == set(Event)
        assert reader.problems == []
    assert early.states == ["init", "ready"]


def test_what_is_over_is_taken_away(make: Make, read: Callable[[], Reader]) -> None:
    """An alert that has returned to normal and a value that cannot be said leave no old one."""
    reader, device = read(), make()
    reader.until(is_ready)
    device.tell("rig-a", STATE)
    device.tell("rig-a", ALARM)
    reader.until(lambda now: "$alert/plateau-reached" in now and "mix/frozen" in now)
    device.tell("rig-a", replace(ALARM, state=AlarmState.RETURNED))
    device.tell("rig-a", replace(STATE, at=313.0, estimate=Estimate(313.0, bath_c=-16.0)))
    reader.until(lambda now: "$alert/plateau-reached" not in now and "mix/frozen" not in now)
    reader.until(lambda now: now["bath/temperature"] == "-16.0")


def test_values_left_by_an_earlier_program_are_taken_away(
    broker: Broker, make: Make, read: Callable[[], Reader]
) -> None:
    """Before it is ready, nothing old stands under its name."""
    send(broker, "homie/5/rig-a/$alert/ice-gone", "Add ice.", retain=True)
    send(broker, "homie/5/rig-a/mix/frozen", "55.0", retain=True)
    reader = read()
    reader.until(lambda now: "$alert/ice-gone" in now and "mix/frozen" in now)
    make()
    reader.until(is_ready)
    assert {"$alert/ice-gone", "mix/frozen"}.isdisjoint(reader.now)


def test_it_says_when_it_leaves(make: Make, read: Callable[[], Reader]) -> None:
    """Disconnected when it was stopped, within a second."""
    reader, device = read(), make()
    reader.until(is_ready)
    began = time.monotonic()
    device.stop()
    assert time.monotonic() - began < 1.0
    reader.until(lambda now: now["$state"] == "disconnected")
    assert reader.states == ["init", "ready", "disconnected"]


def test_the_broker_says_when_it_is_lost(
    make: Make,
    read: Callable[[], Reader],
    reported: queue.Queue[tuple[bool, str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its Last Will is published; it comes back with all its values, and says so."""
    wires: list[socket.socket] = []
    real = Client._sock_recv

    def noted(client: Client, size: int) -> bytes:
        if client._client_id.startswith(b"rigmon-") and isinstance(client._sock, socket.socket):
            wires.append(client._sock)
        return real(client, size)

    monkeypatch.setattr(Client, "_sock_recv", noted)
    reader, device = read(), make()
    reader.until(is_ready)
    assert reported.get(timeout=WAIT_S)[0]
    device.tell("rig-a", STATE)
    reader.until(lambda now: now.get("run/stage") == "beat")
    wires[-1].shutdown(socket.SHUT_RDWR)
    reader.until(lambda _: reader.states[-2:] == ["init", "ready"] and "lost" in reader.states)
    assert reader.states == ["init", "ready", "lost", "init", "ready"]
    assert reader.values()["run/stage"] == "beat"
    assert [reported.get(timeout=WAIT_S)[0] for _ in range(2)] == [False, True]
    assert reader.problems == []


def test_a_mark_that_is_set_is_taken(
    broker: Broker, make: Make, read: Callable[[], Reader], put: Put
) -> None:
    """With its amounts; one that makes no sense, is too long or is old is counted and dropped."""
    send(broker, "homie/5/rig-a/run/mark/set", "pour", retain=True)
    reader, device = read(), make()
    reader.until(is_ready)
    old = put.next()
    assert isinstance(old, SourceNews)
    assert old.what == "late"
    for payload in ("note " + "x" * 16_384, "recharg", "recharge ice_g=900 salt_g=200"):
        reader.set("run/mark", payload)
    dropped = [put.next(), put.next()]
    mark = put.next()
    assert [one.what for one in dropped if isinstance(one, SourceNews)] == ["bad-line", "bad-mark"]
    assert isinstance(mark, Mark)
    assert (mark.word, mark.by) == (MarkWord.RECHARGE, By.MAKER)
    assert mark.detail == {"ice_g": 900.0, "salt_g": 200.0}
    counts = device.counts()
    # amqtt may hand out a retained message twice.
    assert (counts.bad_lines, counts.unknown) == (1, counts.lines - 2)
    assert not any(key.startswith("run/mark") and not key.endswith("/set") for key in reader.now)


def test_a_virtual_rig_says_that_it_is_one(make: Make, read: Callable[[], Reader]) -> None:
    """In its name, in what it says to do next, and in every alert."""
    reader, device = read(), make(virtual=True)
    reader.until(is_ready)
    device.tell("rig-a", STATE)
    device.tell("rig-a", ALARM)
    reader.until(lambda now: "$alert/plateau-reached" in now)
    reader.until(lambda now: "Stop" in now["run/next"])
    assert "virtual rig" in reader.described()["name"]
    for topic in ("run/next", "$alert/plateau-reached"):
        assert reader.now[topic].startswith("virtual rig: ")


def test_a_broker_that_comes_late_is_found(
    broker: Broker, make: Make, reported: queue.Queue[tuple[bool, str]], read: Callable[[], Reader]
) -> None:
    """Only the newest of each value waits meanwhile."""
    broker.stop()
    device = make()
    ok, text = reported.get(timeout=WAIT_S)
    assert not ok
    assert "the connection was refused" in text
    for second in range(200):
        device.tell("rig-a", replace(STATE, at=312.0 + second, round=1 + second))
    broker.start()
    reader = read()
    reader.until(is_ready)
    assert reader.values()["run/round"] == "200"


def test_a_test_message_is_no_alarm(broker: Broker, read: Callable[[], Reader]) -> None:
    """It goes to the device's log, marked as a test, and is not kept by the broker."""
    reader = read()
    link = MqttLink(HOST, broker.port, "homie")
    said = HomieSender(link, "rig-a").send(trial("rig-a", virtual=True))
    assert said == f"{HOST}:{broker.port} took the message for homie/5/rig-a/$log/info"
    reader.until(lambda now: "$log/info" in now)
    assert reader.now["$log/info"].startswith("rig-a, virtual rig: Test: ")
    late = read()
    send(broker, "homie/5/rig-a/x/y", "last")
    late.until(lambda now: "x/y" in now)
    assert "$log/info" not in late.now
