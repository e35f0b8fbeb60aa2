"""`rigmon watch` and boards that run the reference firmware itself, over a port and a broker."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from paho.mqtt import publish
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from rigmon.sources import Decoder
from tests.firmware.conftest import HERE, compiled, cpp_compiler
from tests.waiting import until

if TYPE_CHECKING:
    from tests.system.conftest import Broker
    from tests.system.program.conftest import Configure, Rigmon, Start

HOST = "127.0.0.1"
EVERY_MS = 400
WAIT_S = 15.0


class Emulated:
    """A firmware in a process of its own; what its chips measure changes on command."""

    def __init__(self, command: list[str], tells_on: str = "stdout", **env: str) -> None:
        self._tells_on = tells_on
        self._process = subprocess.Popen(
            command,
            env={**os.environ, **env},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
        )

    def order(self, *orders: str) -> None:
        """Change what is outside the board."""
        assert self._process.stdin is not None
        self._process.stdin.write("".join(f"{order}\n" for order in orders).encode())

    def beeped(self) -> bool:
        """Wait until the buzzer sounds."""
        return bool(getattr(self._process, self._tells_on).readline() == b"beep\n")

    def stop(self) -> None:
        """Pull the plug."""
        self._process.kill()
        self._process.communicate()


Emulate = Callable[..., Emulated]


@pytest.fixture
def emulate(tmp_path: Path) -> Iterator[Emulate]:
    """Starts the MicroPython firmware with these settings, its port beside the test's files."""
    boards: list[Emulated] = []

    def start(name: str, **settings: object) -> Emulated:
        told = json.dumps({"RIG": name, "EVERY_MS": EVERY_MS, **settings})
        command = [sys.executable, str(HERE / "emulator.py"), str(tmp_path / name), told]
        boards.append(Emulated(command))
        boards[-1].order("bath -14.25", "mix 3.5")
        until((tmp_path / name).exists)
        return boards[-1]

    yield start
    for board in boards:
        board.stop()


def seen(program: Rigmon, **facts: object) -> tuple[float, float]:
    """Bath and mix in the first state that has both [°C]."""
    while True:
        state = program.said("state", **facts)
        if None not in {state["bath_c"], state["mix_c"]}:
            return state["bath_c"], state["mix_c"]


def test_the_board_says_who_it_is_is_read_and_sounds_what_is_cued(
    emulate: Emulate, configure: Configure, start: Start, tmp_path: Path
) -> None:
    """Over its port: name, temperatures, an open circuit, and the buzzer for that alarm."""
    board = emulate("kitchen")
    config = configure(kitchen=f'source = "serial"\nport = "{tmp_path / "kitchen"}"')
    program = start("watch", "--config", config, "--jsonl", "-", "--no-log")
    said = program.said("problem", what="board-says")["text"]
    assert said == "kitchen: the board says: rigmon-board kitchen reference 1.0"
    assert seen(program) == (-14.25, 3.5)
    board.order("mix open")
    alarm = program.said("alarm", state="unacknowledged")
    assert (alarm["code"], alarm["priority"]) == ("probe-fault", "medium")
    assert board.beeped()
    assert program.end(signal.SIGTERM) == 0


@pytest.fixture
def measured(broker: Broker) -> Iterator[Callable[[str], list[float]]]:
    """Times of what a rig's mix probe measured, as far as the broker has seen [s, Unix]."""
    times: dict[str, list[float]] = {"cold": [], "kitchen": []}

    def take(_client: Client, _data: object, message: MQTTMessage) -> None:
        readings = Decoder().line(bytes(message.payload), time.time()).readings
        times[message.topic.split("/")[1]] += [r.t for r in readings if r.probe == "mix"]

    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = take
    client.connect(HOST, broker.port)
    client.subscribe("rigs/+/readings", qos=1)
    client.loop_start()
    yield lambda rig: sorted(times[rig])
    client.disconnect()
    client.loop_stop()


@pytest.fixture
def sketch(broker: Broker, tmp_path: Path) -> Iterator[Emulated]:
    """The C++ firmware with its own settings, but for the broker's address."""
    core = HERE / "hobby_core"
    flags = (f'-DBROKER="{HOST}"', f"-DBROKER_PORT={broker.port}", "-DRIGBOARD_WIFI=1")
    program = compiled(cpp_compiler(), core / "main.cpp", tmp_path / "sketch", f"-I{core}", *flags)
    board = Emulated([str(program)], "stderr", BATH_E7="-1824", MIX_E7="448")
    yield board
    board.stop()


@pytest.mark.parametrize("make_broker", ["amqtt"], indirect=True)
def test_both_firmwares_reach_a_broker_and_one_catches_up_after_an_absence(
    broker: Broker,
    measured: Callable[[str], list[float]],
    sketch: Emulated,
    emulate: Emulate,
    configure: Configure,
    start: Start,
) -> None:
    """Readings, cue, `online`, Last Will; what was sampled without a network comes afterwards."""
    python = emulate(
        "cold",
        WIFI="home",
        BROKER=HOST,
        PORT=broker.port,
        TIME_SERVER="made up",
        PROBES=[["bath", "31855", "T", 5], ["mix", "31856", "T", 6]],
    )
    table = f'source = "mqtt"\nbroker = "{HOST}:{broker.port}"'
    program = start(
        "watch", "--config", configure(cold=table, kitchen=table), "--jsonl", "-", "--no-log"
    )
    found = {rig: seen(program, rig=rig) for rig in ("cold", "kitchen")}
    assert found == {"cold": (-14.25, 3.5), "kitchen": (-14.25, 3.5)}
    for rig, board in (("cold", python), ("kitchen", sketch)):
        publish.single(f"rigs/{rig}/cue", "low some-alarm", 1, hostname=HOST, port=broker.port)
        assert board.beeped()
    python.order("wifi off")
    program.said("problem", rig="cold", what="offline", text="cold: the board is offline.")
    gone = time.time()
    # Nothing tells of what the board measures meanwhile: it has nobody to tell.
    time.sleep(6 * EVERY_MS / 1000)
    python.order("wifi on")
    program.said("problem", rig="cold", what="online", text="cold: the board is online.")
    back = time.time()
    until(lambda: measured("cold")[-1] >= back)
    assert sum(gone < t < back for t in set(measured("cold"))) > 3
    sketch.stop()
    program.said("problem", rig="kitchen", what="offline")
    assert program.end(signal.SIGTERM) == 0
