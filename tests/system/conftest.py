"""What the checks of the whole are made with: boards on pseudo-terminals, brokers, the program."""

from __future__ import annotations

import asyncio
import json
import os
import queue
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import IO, Any

import pytest
from amqtt.broker import Broker as Amqtt
from pwdlib.hashers.argon2 import Argon2Hasher

import rigmon

WAIT_S = 15.0
HOST = "127.0.0.1"
USER, PASSWORD = "rigs", "sesame"


class InProcess:
    """amqtt in a thread of this process."""

    def __init__(self, port: int, folder: Path, secured: bool, tls: dict[str, str]) -> None:
        self.port = port
        auth = "amqtt.plugins.authentication."
        plugins: dict[str, object] = {auth + "AnonymousAuthPlugin": {"allow_anonymous": True}}
        if secured:
            passwords = folder / "amqtt-passwords"
            passwords.write_text(f"{USER}:{Argon2Hasher().hash(PASSWORD)}\n")
            plugins = {auth + "FileAuthPlugin": {"password_file": str(passwords)}}
        listener = {"type": "tcp", "bind": f"{HOST}:{port}", "ssl": bool(tls), **tls}
        self._config: dict[str, Any] = {"listeners": {"default": listener}, "plugins": plugins}

    def start(self) -> None:
        """Serve."""
        self._serving = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()))
        self._thread.start()
        assert self._serving.wait(WAIT_S)

    async def _serve(self) -> None:
        broker = Amqtt(self._config)
        await broker.start()
        self._loop, self._ended = asyncio.get_running_loop(), asyncio.Event()
        self._serving.set()
        await self._ended.wait()
        await broker.shutdown()

    def stop(self) -> None:
        """Stop serving."""
        self._loop.call_soon_threadsafe(self._ended.set)
        self._thread.join(WAIT_S)


class Mosquitto:
    """mosquitto in a process of its own."""

    def __init__(self, port: int, folder: Path, secured: bool, tls: dict[str, str]) -> None:
        self.port = port
        lines = [f"listener {port} {HOST}", "user root", f"allow_anonymous {not secured}".lower()]
        if secured:
            passwords = folder / "mosquitto-passwords"
            command = ["mosquitto_passwd", "-b", "-c", str(passwords), USER, PASSWORD]
            subprocess.run(command, check=True, capture_output=True)
            lines.append(f"password_file {passwords}")
        lines += [f"{key} {path}" for key, path in tls.items()]
        self._config = folder / "mosquitto.conf"
        self._config.write_text("\n".join(lines) + "\n")

    def start(self) -> None:
        """Serve."""
        self._process = subprocess.Popen(
            [found_mosquitto() or "", "-c", str(self._config)],
            stderr=subprocess.PIPE,
            text=True,
        )
        log = self._process.stderr
        assert log is not None
        next(line for line in log if "running" in line)

    def stop(self) -> None:
        """Stop serving; killed, since it misses a SIGTERM that comes just after its start."""
        self._process.kill()
        self._process.communicate()


def found_mosquitto() -> str | None:
    """Where mosquitto is, if it is installed; Debian puts it where only root looks."""
    return shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin")


KINDS: dict[str, type[InProcess] | type[Mosquitto]] = {"amqtt": InProcess, "mosquitto": Mosquitto}


def free_port() -> int:
    """A port that nobody listens on."""
    with closing(socket.create_server((HOST, 0))) as server:
        port: int = server.getsockname()[1]
        return port


Broker = InProcess | Mosquitto
MakeBroker = Callable[..., Broker]


@pytest.fixture(params=list(KINDS))
def make_broker(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[MakeBroker]:
    """Starts brokers and has them stopped."""
    if request.param == "mosquitto" and not found_mosquitto():
        pytest.skip("mosquitto is not installed: apt-get install mosquitto")
    brokers: list[Broker] = []

    def make(secured: bool = False, tls: dict[str, str] | None = None) -> Broker:
        broker = KINDS[request.param](free_port(), tmp_path, secured, tls or {})
        broker.start()
        brokers.append(broker)
        return broker

    yield make
    for broker in brokers:
        broker.stop()


@pytest.fixture
def broker(make_broker: MakeBroker) -> Broker:
    """A broker that lets everyone in."""
    return make_broker()


@pytest.fixture
def certificate(tmp_path: Path) -> dict[str, str]:
    """A certificate for this machine, signed by itself, and its key."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed: apt-get install openssl")
    made = {"certfile": str(tmp_path / "broker.pem"), "keyfile": str(tmp_path / "broker.key")}
    request = ["req", "-x509", "-nodes", "-days", "1"]
    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"]
    name = ["-subj", "/CN=rigmon test", "-addext", f"subjectAltName=IP:{HOST}"]
    files = ["-out", made["certfile"], "-keyout", made["keyfile"]]
    subprocess.run([openssl, *request, *key, *name, *files], check=True, capture_output=True)
    return made


class Board:
    """A board on one end of a pseudo-terminal; `port` is a link that follows each replugging."""

    def __init__(self, port: Path) -> None:
        self.port = str(port)
        self._ends: tuple[int, ...] = ()
        self._kept = b""
        self.plug()

    def plug(self) -> None:
        """Appear under `port`."""
        self._ends = os.openpty()
        Path(self.port).unlink(missing_ok=True)
        Path(self.port).symlink_to(os.ttyname(self._ends[1]))

    def unplug(self) -> None:
        """Vanish."""
        for end in self._ends:
            os.close(end)
        self._ends = ()

    def send(self, data: bytes) -> None:
        """Write."""
        os.write(self._ends[0], data)

    def never_wait(self) -> None:
        """From now on writing what nobody reads is an error, where it used to wait."""
        os.set_blocking(self._ends[0], False)

    def heard(self, line: bytes) -> bool:
        """Wait for a line from the host."""
        end = time.monotonic() + WAIT_S
        while line + b"\n" not in self._kept:
            ready, _, _ = select.select([self._ends[0]], [], [], end - time.monotonic())
            if not ready:
                return False
            self._kept += os.read(self._ends[0], 4096)
        self._kept = self._kept.split(line + b"\n", 1)[1]
        return True


@pytest.fixture
def make_board(tmp_path: Path) -> Iterator[Callable[[str], Board]]:
    """Plugs boards in by name, and pulls them all out at the end."""
    boards: list[Board] = []

    def make(name: str) -> Board:
        boards.append(Board(tmp_path / name))
        return boards[-1]

    yield make
    for board in boards:
        board.unplug()


@pytest.fixture
def board(make_board: Callable[[str], Board]) -> Board:
    """A board, plugged in."""
    return make_board("board")


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
    processes: list[Rigmon] = []

    def make(*words: str | Path, **more: str) -> Rigmon:
        processes.append(Rigmon(tuple(map(str, words)), {**env, **more}, tmp_path))
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
