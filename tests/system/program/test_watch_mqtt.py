"""`rigmon watch` on a real broker."""

from __future__ import annotations

import json
import signal
import socket
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest
from paho.mqtt import publish
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

if TYPE_CHECKING:
    from tests.system.conftest import Broker
    from tests.system.program.conftest import Configure, Rigmon, Start

HOST = "127.0.0.1"
MARKS = "homie/5/kitchen/run/mark/set"


@pytest.fixture
def pull_the_plug(broker: Broker) -> Iterator[Callable[[], None]]:
    """A board that has come online at the broker, and vanishes without a goodbye when called."""
    board = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    board.will_set("rigs/kitchen/status", "offline", qos=1, retain=True)
    board.connect(HOST, broker.port)
    board.loop_start()
    board.publish("rigs/kitchen/status", "online", qos=1, retain=True).wait_for_publish(10.0)

    def vanish() -> None:
        wire = board.socket()
        assert isinstance(wire, socket.socket)
        wire.shutdown(socket.SHUT_RDWR)

    yield vanish
    board.loop_stop()


def sampling(broker: Broker, program: Rigmon) -> dict[str, float]:
    """Publish on both topics until a state has both temperatures."""
    state: dict[str, float | None] = {"bath_c": None, "mix_c": None}
    sample = 0
    while None in (state["bath_c"], state["mix_c"]):
        sample += 1
        pack = json.dumps([{"u": "Cel", "n": "bath", "v": -14.25 - 0.01 * sample}])
        mix = str(3.5 - 0.01 * sample)
        for topic, payload in (("readings", pack), ("readings/mix", mix)):
            publish.single(f"rigs/kitchen/{topic}", payload, 1, hostname=HOST, port=broker.port)
        state = program.said("state", quality={"bath": "good", "mix": "good"})
    return {key: state[key] or 0.0 for key in ("bath_c", "mix_c")}


@pytest.mark.parametrize("make_broker", ["amqtt"], indirect=True)
def test_a_rig_behind_a_broker_is_watched_through_its_restart(
    broker: Broker, pull_the_plug: Callable[[], None], configure: Configure, start: Start
) -> None:
    """Both topics are read, the board's state and its Last Will told, a new broker found again."""
    table = f'source = "mqtt"\nbroker = "{HOST}:{broker.port}"'
    program = start("watch", "--config", configure(kitchen=table), "--jsonl", "-", "--no-log")
    program.said("problem", what="online", text="kitchen: the board is online.")
    assert sampling(broker, program) == pytest.approx({"bath_c": -14.3, "mix_c": 3.45}, abs=0.06)
    for text in ("pour mix_g=1000", "poor"):
        publish.single(MARKS, text, 1, hostname=HOST, port=broker.port)
    assert program.said("mark", mark="pour")["detail"] == {"mix_g": 1000.0}
    program.said("problem", what="bad-mark")
    pull_the_plug()
    program.said("problem", what="offline", text="kitchen: the board is offline.")

    # amqtt never ends when it is stopped in the middle of a receipt.
    program.said("state")
    broker.stop()
    program.said("problem", what="broker-lost")
    broker.start()
    program.said("problem", what="online")
    publish.single("rigs/kitchen/readings/mix", "3.5", 1, hostname=HOST, port=broker.port)
    program.said("state", quality={"bath": "good", "mix": "good"})
    assert program.end(signal.SIGTERM) == 0
    assert "1 record unknown or too old, 1 reconnect." in program.err.seen[-1]
