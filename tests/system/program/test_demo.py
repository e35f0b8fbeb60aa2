"""`rigmon demo` from its first word to the commands that it ends with."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import shlex
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
    from tests.system.program.conftest import Rigmon, Start, WholeDemo


def test_it_runs_to_its_end_and_its_next_commands_work(
    whole_demo: WholeDemo, start: Start, tmp_path: Path
) -> None:
    """As fast as it goes, over either wire; where the log lies is told, and what to try works."""
    (tmp_path / "demo.csv").write_text("an evening that must not be lost\n")
    log_path = tmp_path / "a log.sqlite"
    demos: list[Rigmon] = [
        start("demo", "--plain", "--speed", "120", "--log", log_path),
        start("demo", "--plain", "--speed", "120", "--via", "mqtt", "--log", tmp_path / "b.sqlite"),
    ]
    assert demos[0].end() == 0
    said = demos[0].out.seen
    assert any("ALARM, high: Stop: to the freezer" in line for line in said)
    summary = r"virtual rig: Run of \d+:\d\d, plateau \d+:\d\d after the pour, .*"
    assert any(re.fullmatch(summary, line) for line in said)
    assert f"The run lies in {log_path}. Look at it:" in said
    assert re.fullmatch(r"Heard \d+ lines with \d+ readings\.", demos[0].err.seen[-1])
    commands = [shlex.split(line) for line in said if line.startswith("  rigmon ")]
    assert [words[1] for words in commands] == ["runs", "export", "replay"]
    for words in commands:
        program = start(*words[1:])
        assert program.end() == 0, program.err.seen
    assert (tmp_path / "demo.csv").read_text() == "an evening that must not be lost\n"
    assert any("Run of" in line for line in program.out.seen)

    assert demos[1].end() == 0
    assert any(line.startswith("A virtual rig writes to mqtt://") for line in demos[1].err.seen)
    again = start("runs", "--log", tmp_path / "b.sqlite")
    assert again.end() == 0
    assert again.out.seen[1].endswith("ended, virtual rig")


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 0)])
@pytest.mark.parametrize("via", ["serial", "mqtt"])
def test_it_stops_within_two_seconds(
    start: Start, number: signal.Signals, code: int, via: str
) -> None:
    """Ctrl-C and SIGTERM end it at once; what is no terminal gets plain lines all the while."""
    program = start("demo", "--via", via)
    program.out.until(lambda line: "bath" in line)
    asked = time.monotonic()
    assert program.end(number) == code
    assert time.monotonic() - asked < 2.0
    assert any("runs.sqlite" in line for line in program.out.seen)


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """Both ends of a terminal of 100 columns and 40 rows."""
    here, there = pty.openpty()
    fcntl.ioctl(there, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 100, 0, 0))
    yield here, there
    os.close(here)


def test_a_terminal_shows_the_live_view(terminal: tuple[int, int], env: dict[str, str]) -> None:
    """The picture names the virtual rig and what to do; the cursor is there again at the end."""
    here, there = terminal
    seen = ""

    def show(until: Callable[[], bool]) -> None:
        nonlocal seen
        end = time.monotonic() + 15.0
        while not until() and select.select([here], [], [], end - time.monotonic())[0]:
            try:
                seen += os.read(here, 65536).decode(errors="replace")
            except OSError:
                return

    demo = [sys.executable, "-m", "rigmon", "demo", "--speed", "120"]
    with subprocess.Popen(
        demo, env={**env, "TERM": "xterm-256color"}, stdin=there, stdout=there, stderr=there
    ) as program:
        os.close(there)
        show(lambda: "KEEP BEATING" in seen)
        program.send_signal(signal.SIGINT)
        show(lambda: False)
    assert program.returncode == 130
    assert "virtual rig" in seen
    assert "KEEP BEATING" in seen
    assert "Traceback" not in seen
    assert seen.rfind("\x1b[?25h") > seen.rfind("\x1b[?25l")
