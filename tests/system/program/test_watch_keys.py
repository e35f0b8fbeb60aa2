"""Marks by a key while the program watches, at a terminal of its own."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.system.program.conftest import Start

WAIT_S = 60.0


class Seat:
    """A terminal, with the program started at it as a shell does."""

    def __init__(self, words: tuple[str, ...], env: dict[str, str]) -> None:
        self.here, there = pty.openpty()
        self.size(100, 30)
        self.before = termios.tcgetattr(there)
        self._there = there
        self.seen = ""
        sizeless = {key: env[key] for key in env if key not in {"COLUMNS", "LINES"}}
        self.program = subprocess.Popen(
            [sys.executable, "-m", "rigmon", *words],
            env={**sizeless, "TERM": "xterm-256color"},
            stdin=there,
            stdout=there,
            stderr=there,
            start_new_session=True,
        )

    def size(self, columns: int, rows: int) -> None:
        """Make the window so large."""
        fcntl.ioctl(self.here, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def modes(self) -> list[object]:
        """The terminal's settings."""
        return termios.tcgetattr(self._there)

    def until(self, true: Callable[[str], object]) -> None:
        """Look at the screen until something is there."""
        end = time.monotonic() + WAIT_S
        while not true(self.seen):
            assert time.monotonic() < end, self.seen[-3000:]
            if select.select([self.here], [], [], 0.1)[0]:
                self.seen += os.read(self.here, 65536).decode(errors="replace")

    def type(self, key: str) -> None:
        """Press a key."""
        os.write(self.here, key.encode())

    def end(self, number: signal.Signals) -> int:
        """Ask it to end, and read its last words."""
        self.program.send_signal(number)
        end = time.monotonic() + WAIT_S
        while self.program.poll() is None and time.monotonic() < end:
            if select.select([self.here], [], [], 0.1)[0]:
                self.seen += os.read(self.here, 65536).decode(errors="replace")
        return self.program.wait(1.0)

    def close(self) -> None:
        """Leave nothing behind."""
        self.program.kill()
        self.program.wait()
        for end in (self.here, self._there):
            os.close(end)


@pytest.fixture
def seat(env: dict[str, str], tmp_path: Path) -> Iterator[Seat]:
    """A maker's seat before the demo, which logs to a file of the test."""
    log = str(tmp_path / "runs.sqlite")
    one = Seat(("demo", "--speed", "30", "--log", log), env)
    yield one
    one.close()


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 0)])
def test_a_key_marks_and_the_terminal_is_left_as_it_was(
    seat: Seat, start: Start, tmp_path: Path, number: signal.Signals, code: int
) -> None:
    """The mark is in the log, a smaller window loses nothing, and an echo is there again."""
    seat.until(lambda seen: "Wall scraped" in seen and "KEEP BEATING" in seen)
    assert seat.modes() != seat.before
    seat.type("w")
    seat.until(lambda seen: "take back: Wall scraped" in seen)
    seat.size(40, 14)
    seat.until(lambda seen: re.search(r"╭[^╮\n]{38}╮", seen))
    seat.type("u")
    seat.until(lambda seen: "Taken back" in seen)

    assert seat.end(number) == code
    assert seat.modes() == seat.before
    assert "Traceback" not in seat.seen
    assert seat.seen.rfind("\x1b[?25h") > seat.seen.rfind("\x1b[?25l")
    kept = tmp_path / "evening.csv"
    assert start("export", "last", kept, "--log", tmp_path / "runs.sqlite").end() == 0
    rows = [row.split(",") for row in kept.read_text().splitlines()]
    assert [cell for row in rows for cell in row if cell in {"scrape", "undo"}] == [
        "scrape",
        "undo",
    ]
