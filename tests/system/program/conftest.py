"""The program in processes of its own, and kitchens for it to watch."""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import pytest

import rigmon

if TYPE_CHECKING:
    from tests.system.conftest import Board

WAIT_S = 15.0


class Kitchen:
    """Has a board write ten lines a second: a bath at work, and a mix that cools in it.

    `broken` is whether the mix probe's circuit is open.
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.broken = False
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._cook)

    def start(self) -> None:
        """Begin."""
        self.board.never_wait()
        self._thread.start()

    def _cook(self) -> None:
        sample = 0
        while not self._ended.wait(0.1):
            sample += 1
            bath = {"bn": "kitchen/", "bu": "Cel", "n": "bath", "v": -16.0 - 0.01 * sample}
            mix: dict[str, object] = {"n": "mix", "v": round(4.0 - 0.05 * sample, 3)}
            if self.broken:
                mix = {"n": "mix", "vs": "open"}
            with suppress(BlockingIOError):
                self.board.send(json.dumps([bath, mix]).encode() + b"\n")

    def stop(self) -> None:
        """Write no more."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(WAIT_S)


@pytest.fixture
def make_kitchen(make_board: Callable[[str], Board]) -> Iterator[Callable[[Board], Kitchen]]:
    """Starts kitchens, and stops them all before their boards are pulled out."""
    kitchens: list[Kitchen] = []

    def make(board: Board) -> Kitchen:
        kitchens.append(Kitchen(board))
        kitchens[-1].start()
        return kitchens[-1]

    yield make
    for kitchen in kitchens:
        kitchen.stop()


class Lines:
    """The lines of a stream as they come."""

    def __init__(self, stream: IO[str]) -> None:
        self.seen: list[str] = []
        self._queue: queue.Queue[str | None] = queue.Queue()
        self._thread = threading.Thread(target=self._read, args=(stream,))
        self._thread.start()

    def _read(self, stream: IO[str]) -> None:
        for line in stream:
            self._queue.put(line.rstrip("\n"))
        self._queue.put(None)

    def until(self, wanted: Callable[[str], object]) -> str:
        """The next line that is wanted."""
        end = time.monotonic() + WAIT_S
        while True:
            try:
                line = self._queue.get(timeout=max(end - time.monotonic(), 0.0))
            except queue.Empty:
                raise AssertionError(f"nothing like it in {self.seen[-20:]}") from None
            if line is None:
                self._queue.put(None)
                raise AssertionError(f"the stream ended after {self.seen[-20:]}")
            self.seen.append(line)
            if wanted(line):
                return line

    def rest(self) -> list[str]:
        """All lines, to the end of the stream."""
        self._thread.join(WAIT_S)
        while (line := self._queue.get(timeout=WAIT_S)) is not None:
            self.seen.append(line)
        self._queue.put(None)
        return self.seen


class Rigmon:
    """The program in a process of its own."""

    def __init__(self, words: tuple[str, ...], env: Mapping[str, str], cwd: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "rigmon", *words],
            env=env,
            cwd=cwd,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
        )
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        self.out = Lines(self.process.stdout)
        self.err = Lines(self.process.stderr)

    def said(self, kind: str, **facts: object) -> dict[str, Any]:
        """The next JSON line of a kind that holds these facts."""
        found: dict[str, Any] = {}

        def wanted(line: str) -> bool:
            nonlocal found
            found = json.loads(line)
            return found["type"] == kind and facts.items() <= found.items()

        self.out.until(wanted)
        return found

    def end(self, number: signal.Signals | None = None) -> int:
        """Send a signal, if one is given, and wait for the exit code; the streams are read up."""
        if number is not None:
            self.process.send_signal(number)
        code = self.process.wait(WAIT_S * 6.0)
        self.out.rest()
        self.err.rest()
        return code

    def close(self) -> None:
        """Leave no process and no open stream."""
        if self.process.poll() is None:
            self.process.kill()
        self.end()
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()


def environment(folder: str) -> dict[str, str]:
    """An environment in which the program sees nobody else's, and no warning goes unnoticed."""
    return {
        **os.environ,
        "TMPDIR": folder,
        "PYTHONPATH": str(Path(rigmon.__file__).parents[1]),
        "PYTHONWARNINGS": "error",
        "PYTHONUTF8": "1",
    }


@pytest.fixture
def env() -> Iterator[dict[str, str]]:
    """The environment of a test's programs; sockets need short paths, so it is not in tmp_path."""
    with tempfile.TemporaryDirectory(prefix="rigmon-test-") as folder:
        yield environment(folder)


Start = Callable[..., Rigmon]


@pytest.fixture
def start(env: dict[str, str], tmp_path: Path) -> Iterator[Start]:
    """Starts the program; none of its processes may leave a traceback or an open resource."""
    yield from starting(env, tmp_path)


@pytest.fixture(scope="module")
def start_for_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Start]:
    """The same for all tests of a file together, so that they share what takes its time."""
    with tempfile.TemporaryDirectory(prefix="rigmon-test-") as folder:
        env = {**environment(folder), "XDG_RUNTIME_DIR": folder, "XDG_DATA_HOME": folder}
        yield from starting(env, tmp_path_factory.mktemp("shared"))


def starting(env: Mapping[str, str], folder: Path) -> Iterator[Start]:
    """Gives what starts the program in a folder, and ends what it has started."""
    processes: list[Rigmon] = []

    def make(*words: str | Path, **more: str) -> Rigmon:
        processes.append(Rigmon(tuple(map(str, words)), {**env, **more}, folder))
        return processes[-1]

    yield make
    for process in processes:
        process.close()
    for process in processes:
        errors = "\n".join(process.err.seen)
        assert "Traceback" not in errors
        assert "Exception ignored" not in errors
        assert "Warning" not in errors


class WholeDemo:
    """The demo from the ice to the hardened tub, as fast as it goes; it has a minute of its own."""

    def __init__(self, folder: Path) -> None:
        self.log_path = folder / "runs.sqlite"
        self.errors = folder / "errors.txt"
        words = ("demo", "--whole", "--plain", "--speed", "120", "--log", str(self.log_path))
        with (folder / "words.txt").open("w") as out, self.errors.open("w") as err:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "rigmon", *words],
                env=environment(str(folder)) | {"XDG_RUNTIME_DIR": str(folder)},
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=err,
            )


@pytest.fixture(scope="session")
def whole_demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeDemo]:
    """Started where it is first asked for, so that it runs beside the tests in between."""
    demo = WholeDemo(tmp_path_factory.mktemp("whole"))
    yield demo
    demo.process.kill()
    demo.process.wait()


RECIPE = """
name = "plain"
mass_g = 1000
[composition]
fat = 10
msnf = 10
sucrose = 16
"""

Configure = Callable[..., Path]


@pytest.fixture
def configure(tmp_path: Path) -> Configure:
    """Writes a configuration: for each rig's id the lines of its table; all have one recipe."""
    (tmp_path / "plain.toml").write_text(RECIPE)

    def write(**rigs: str) -> Path:
        path = tmp_path / "rigs.toml"
        recipe = 'recipe = "plain.toml"'
        tables = (f"[rigs.{rig_id}]\n{recipe}\n{table}\n" for rig_id, table in rigs.items())
        path.write_text("\n".join(tables))
        return path

    return write
