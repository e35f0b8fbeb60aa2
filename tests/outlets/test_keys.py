"""Keys read from a terminal."""

from __future__ import annotations

import os
import pty
import queue
import termios
from collections.abc import Iterator

import pytest

from rigmon.outlets.keys import Keys

PATIENCE_S = 10.0
Terminal = tuple[int, int]


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    """Both ends of a terminal: where a maker types, and where a program reads."""
    here, there = pty.openpty()
    yield here, there
    for end in (here, there):
        os.close(end)


@pytest.fixture
def read(terminal: Terminal) -> Iterator[tuple[queue.Queue[str], queue.Queue[None], Keys]]:
    """What was pressed, when nothing was, and who reads."""
    pressed: queue.Queue[str] = queue.Queue()
    idle: queue.Queue[None] = queue.Queue()
    keys = Keys(terminal[1], pressed.put, lambda: idle.put(None))
    yield pressed, idle, keys
    keys.close()


Read = tuple[queue.Queue[str], queue.Queue[None], Keys]


def modes(terminal: Terminal) -> list[object]:
    """All settings of a terminal."""
    return termios.tcgetattr(terminal[1])


def test_a_key_needs_no_line_end_and_is_not_echoed(terminal: Terminal, read: Read) -> None:
    """It comes at once, and the picture is not written into."""
    pressed, idle, _ = read
    idle.get(timeout=PATIENCE_S)
    os.write(terminal[0], b"s")

    assert pressed.get(timeout=PATIENCE_S) == "s"
    idle.get(timeout=PATIENCE_S)
    os.set_blocking(terminal[0], False)
    with pytest.raises(BlockingIOError):
        os.read(terminal[0], 10)


def test_letters_of_several_bytes_come_whole(terminal: Terminal, read: Read) -> None:
    """Even where their bytes come one after the other."""
    pressed, idle, _ = read
    idle.get(timeout=PATIENCE_S)
    os.write(terminal[0], "ü".encode()[:1])
    os.write(terminal[0], "ü".encode()[1:])

    assert pressed.get(timeout=PATIENCE_S) == "ü"


def test_the_terminal_is_left_as_it_was_found(terminal: Terminal) -> None:
    """Whatever its settings were, and however often it is closed."""
    before = modes(terminal)
    idle: queue.Queue[None] = queue.Queue()
    keys = Keys(terminal[1], lambda _: None, lambda: idle.put(None))
    idle.get(timeout=PATIENCE_S)
    during = modes(terminal)
    keys.close()
    keys.close()

    assert during != before
    assert modes(terminal) == before


def test_a_shell_that_had_it_in_between_is_not_a_hindrance(terminal: Terminal, read: Read) -> None:
    """After Ctrl-Z and fg keys come one by one again."""
    pressed, idle, _ = read
    idle.get(timeout=PATIENCE_S)
    lines = termios.tcgetattr(terminal[1])
    lines[3] |= termios.ICANON | termios.ECHO
    termios.tcsetattr(terminal[1], termios.TCSANOW, lines)
    while not idle.empty():
        idle.get()
    idle.get(timeout=PATIENCE_S)
    idle.get(timeout=PATIENCE_S)
    os.write(terminal[0], b"r")

    assert pressed.get(timeout=PATIENCE_S) == "r"


def test_a_terminal_that_has_gone_ends_the_reading() -> None:
    """A closed window is no error, and closing is still done."""
    here, there = pty.openpty()
    pressed: list[str] = []
    keys = Keys(there, pressed.append, lambda: None)
    os.close(here)
    keys._thread.join(PATIENCE_S)

    assert not keys._thread.is_alive()
    keys.close()
    os.close(there)
    assert pressed == []


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_who_is_told_may_fail_and_the_terminal_is_put_back(terminal: Terminal) -> None:
    """A fault of the view leaves no terminal without an echo."""
    before = modes(terminal)
    idle: queue.Queue[None] = queue.Queue()
    failed: queue.Queue[str] = queue.Queue()

    def press(text: str) -> None:
        failed.put(text)
        raise SystemExit(text)

    keys = Keys(terminal[1], press, lambda: idle.put(None))
    idle.get(timeout=PATIENCE_S)
    os.write(terminal[0], b"s")
    failed.get(timeout=PATIENCE_S)
    keys.close()

    assert modes(terminal) == before
