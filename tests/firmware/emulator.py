"""A board behind a pseudo-terminal: the MicroPython firmware itself, its board made up.

`emulator.py PORT SETTINGS` runs `main.py` and links its serial port to PORT; settings are JSON.
Its own input changes what the chips measure (`mix 3.5`, `mix open`) and whether there is a network
(`wifi off`); its output tells of the buzzer.
"""

from __future__ import annotations

import json
import os
import runpy
import sys
import threading
import time
import tty
import types
from contextlib import suppress
from pathlib import Path
from typing import Any

MICROPYTHON = Path(__file__).parents[2] / "firmware_notes" / "micropython"
WRAPS_SOON = (1 << 30) - 1500
"""What the ticks begin at, so that they wrap in every test."""


class World:
    """What is outside the board."""

    def __init__(self) -> None:
        self.measured: dict[str, str] = {}
        self.wifi = "on"

    def follow(self) -> None:
        """Take orders."""
        for line in sys.__stdin__ or ():
            what, _, value = line.strip().partition(" ")
            if what == "wifi":
                self.wifi = value
            else:
                self.measured[what] = value


class Pin:
    """A pin; the one of the buzzer tells when it goes up."""

    OUT = 1
    levels: dict[int, int] = {}  # noqa: RUF012 - there is one board
    buzzer = -1

    def __init__(self, number: int, _mode: int = 0, value: int = 1) -> None:
        self.number = number
        self.levels[number] = value

    def __call__(self, level: int) -> None:
        """Set it."""
        if self.number == self.buzzer and level and not self.levels[self.number]:
            print("beep", file=sys.__stdout__, flush=True)
        self.levels[self.number] = level


class Bus:
    """A bus with the chips that the settings name: MAX31856 with registers, MAX31855 without."""

    def __init__(self, world: World, probes: list[list[Any]]) -> None:
        self._world = world
        self._chips: dict[int, tuple[str, str]] = {
            pin: (name, kind) for name, kind, _, pin in probes
        }
        self._registers = {pin: bytearray(16) for pin in self._chips}
        self._phase = 0
        self._at = 0

    def init(self, phase: int) -> None:
        """Change the clock's phase."""
        self._phase = phase

    def write(self, data: bytes) -> None:
        """Address first; its top bit says that what follows is written."""
        self._at = data[0] & 15
        if data[0] & 0x80:
            for byte in data[1:]:
                self._registers[self._pin()][self._at] = byte
                self._at += 1

    def read(self, count: int) -> bytes:
        """What the selected chip says, or nothing at all in the wrong phase."""
        pin = self._pin()
        name, kind = self._chips[pin]
        measured = self._world.measured.get(name, "20")
        if self._phase != (kind == "31856"):
            return b"\xff" * count
        if kind == "31855":
            word = 0x11901 if measured == "open" else (round(float(measured) * 4) << 18) + 0x1900
            return (word & 0xFFFFFFFF).to_bytes(4, "big")
        registers = self._registers[pin]
        registers[10:12] = (0x1880).to_bytes(2, "big")
        registers[15] = measured == "open"
        if measured != "open":
            registers[12:15] = (round(float(measured) * 128) << 5 & 0xFFFFFF).to_bytes(3, "big")
        return bytes(registers[self._at : self._at + count])

    def _pin(self) -> int:
        (selected,) = (pin for pin in self._chips if Pin.levels[pin] == 0)
        return selected


class Port:
    """The serial port as MicroPython has it: no buffer of its own."""

    def __init__(self, path: Path) -> None:
        self._end, self._host = os.openpty()
        tty.setraw(self._host)
        os.set_blocking(self._end, False)
        path.symlink_to(os.ttyname(self._host))
        self.buffer = self

    def fileno(self) -> int:
        """For polling."""
        return self._end

    def read(self, count: int) -> bytes:
        """Bytes from the host."""
        return os.read(self._end, count)

    def write(self, text: str) -> None:
        """Text to the host; what nobody reads is lost, as it is on a wire."""
        with suppress(BlockingIOError):
            os.write(self._end, text.encode())


def module(name: str, **contents: object) -> None:
    """Make up a module."""
    made = types.ModuleType(name)
    vars(made).update(contents)
    sys.modules[name] = made


def main(path: Path, settings: dict[str, Any]) -> None:
    """Run the firmware for ever."""
    world = World()
    threading.Thread(target=world.follow, daemon=True).start()
    names = runpy.run_path(str(MICROPYTHON / "settings.py")) | settings
    module("settings", **{key: value for key, value in names.items() if key.isupper()})
    Pin.buzzer = names["BUZZER"]
    bus = Bus(world, names["PROBES"])
    dog = types.SimpleNamespace(feed=lambda: None)
    module("machine", Pin=Pin, SoftSPI=lambda **_: bus, WDT=lambda timeout: dog)  # noqa: ARG005 - as the board calls it
    radio = types.SimpleNamespace(
        active=lambda _on: None,
        isconnected=lambda: world.wifi == "on",
        connect=lambda _name, _password: None,
    )
    module("network", WLAN=lambda _kind: radio, STA_IF=0)
    module("ntptime", host="", time=lambda: int(time.time()))
    begun = time.monotonic()
    board_time: Any = time
    board_time.ticks_ms = lambda: (WRAPS_SOON + int(1000 * (time.monotonic() - begun))) % (1 << 30)
    board_time.sleep_ms = lambda ms: time.sleep(ms / 1000)
    port: Any = Port(path)
    sys.stdin = sys.stdout = port
    sys.path.insert(0, str(MICROPYTHON))
    runpy.run_path(str(MICROPYTHON / "main.py"))


if __name__ == "__main__":
    main(Path(sys.argv[1]), json.loads(sys.argv[2]))
