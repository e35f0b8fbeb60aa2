"""What the checks of the whole are made with: brokers, and boards on pseudo-terminals."""

from __future__ import annotations

import asyncio
import os
import select
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from amqtt.broker import Broker as Amqtt
from pwdlib.hashers.argon2 import Argon2Hasher

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


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What amqtt leaves unclosed as it stops is let pass; with mosquitto nothing is."""
    unclosed = "ignore:Exception ignored in:pytest.PytestUnraisableExceptionWarning"
    for item in items:
        of = getattr(item, "callspec", None)
        if of is not None and of.params.get("make_broker") == "amqtt":
            item.add_marker(pytest.mark.filterwarnings(unclosed))


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
