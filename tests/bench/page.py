"""The page's server: `python tests/bench/page.py [--quick]`.

`rigmon watch` on a pseudo-terminal, a board of 1 Hz, log and forecasts included. First byte: from
when the board is asked for its name, which is when the watching has begun, and from when the
address is told. A reading: from just before its line is written until its `reading` has been read
from a page's stream. A row: the state of a second is said when the first reading after it has come;
from just before that line is written until the row has been read.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import select
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from rigs import POUR_S, RATE_HZ, Sample, configured, environment, line, samples, terminal
from showing import ROOT, heading, is_quick, quantile, table

SEED = 11
PAGES = 20
PATIENCE_S = 20.0
FILES = ROOT / "rigmon" / "outlets" / "page" / "static"


@dataclass
class Page:
    """One page that is open: when each row came, and each probe's reading of a second."""

    port: int
    came: dict[int, float] = field(default_factory=dict)
    read: dict[tuple[int, str], float] = field(default_factory=dict)
    ended: bool = False

    def __post_init__(self) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        self._connection.request("GET", "/api/v1/stream")
        self._answer = self._connection.getresponse()
        self._answer.readline()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        name = ""
        while raw := self._answer.readline():
            now = time.monotonic()
            if raw.startswith(b"event: "):
                name = raw[7:].strip().decode()
            elif raw.startswith(b"data: ") and name == "row":
                for row in json.loads(raw[6:])["rows"]:
                    self.came[round(row["at"])] = now
            elif raw.startswith(b"data: ") and name == "reading":
                told = json.loads(raw[6:])
                self.read[int(told["at"]), told["probe"]] = now

    def close(self) -> None:
        """Go."""
        if self._connection.sock is not None:
            self._connection.sock.shutdown(socket.SHUT_RDWR)
        self._thread.join(PATIENCE_S)
        self._connection.close()


@contextmanager
def watching(folder: Path, port: str, page: int) -> Iterator[subprocess.Popen[bytes]]:
    """The program, as it is used."""
    words = ["-m", "rigmon", "watch", "--config", str(configured(folder, port)), "--plain"]
    words += ["--log", str(folder / "runs.sqlite"), "--port", str(page)]
    process = subprocess.Popen(
        [sys.executable, *words],
        cwd=ROOT,
        env=environment(folder),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        yield process
    finally:
        process.terminate()
        process.communicate()


def free_port() -> int:
    """A port that nobody has."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def first_byte(port: int) -> float:
    """When the first byte of the page came [s, monotonic]."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as wire:
        wire.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nAccept-Encoding: gzip\r\n\r\n")
        wire.recv(1)
        return time.monotonic()


def wire_bytes(port: int, path: str) -> int:
    """All bytes of one answer, as a browser gets it."""
    asked = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nAccept-Encoding: gzip\r\n"
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as wire:
        wire.sendall(f"{asked}Connection: close\r\n\r\n".encode())
        return sum(len(part) for part in iter(lambda: wire.recv(65_536), b""))


def cpu_s(pid: int) -> float:
    """Processor time of a process so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Board:
    """Writes a sample a second, and notes when.

    Args:
        file: the board's end of the terminal.
        batch: samples, a second apart.
    """

    def __init__(self, file: int, batch: list[Sample]) -> None:
        self._file = file
        self._batch = batch
        self._begun = time.monotonic()
        self._unix_s = time.time()
        self.written: list[float] = []

    def write_for(self, seconds: int) -> None:
        """So many samples."""
        for _ in range(seconds):
            number = len(self.written)
            after_s = number + (0.05 if number else 0.0)
            time.sleep(max(self._begun + after_s - time.monotonic(), 0.0))
            data = line(self._batch[number], round(self._unix_s + after_s, 3))
            self.written.append(time.monotonic())
            os.write(self._file, data)


def asked(file: int) -> float:
    """When the board was asked for its name [s, monotonic]."""
    heard = b""
    while b"ping" not in heard:
        if not select.select([file], [], [], PATIENCE_S)[0]:
            raise TimeoutError("the program does not start")
        heard += os.read(file, 1000)
    return time.monotonic()


def main() -> None:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading(SEED)
    span_s = 25 if quick else 120
    batch = samples(POUR_S - 10.0, 4.0 * span_s + 60.0, SEED)[::RATE_HZ]
    starts = []
    for _ in range(3 if quick else 7):
        with tempfile.TemporaryDirectory() as folder, terminal() as (file, port):
            at = free_port()
            with watching(Path(folder), port, at) as process:
                assert process.stderr is not None
                while not re.search(rb"The page: ", process.stderr.readline()):
                    pass
                told = time.monotonic()
                came: list[float] = []
                caller = threading.Thread(target=lambda: came.append(first_byte(at)))  # noqa: B023
                caller.start()
                up = asked(file)
                caller.join()
                starts.append((came[0] - up, came[0] - told))
    with tempfile.TemporaryDirectory() as folder, terminal() as (file, port):
        at = free_port()
        with watching(Path(folder), port, at) as process:
            asked(file)
            first_byte(at)
            names = ["/", "/api/v1/hello"]
            names += [f"/static/{one.name}" for one in FILES.iterdir() if one.suffix != ".html"]
            size = sum(wire_bytes(at, name) for name in names)
            board = Board(file, batch)
            board.write_for(12)
            used = [cpu_s(process.pid)]
            board.write_for(span_s)
            used.append(cpu_s(process.pid))
            pages = [Page(at) for _ in range(PAGES)]
            board.write_for(3)
            used.append(cpu_s(process.pid))
            board.write_for(span_s)
            used.append(cpu_s(process.pid))
            time.sleep(1.0)
            for page in pages:
                page.close()
    alone, together = (100.0 * (used[i + 1] - used[i]) / span_s for i in (0, 2))
    late = [
        1000.0 * (page.came[second] - when)
        for page in pages
        for second, when in enumerate(board.written)
        if second in page.came
    ]
    seen = [
        1000.0 * (now - board.written[second])
        for page in pages
        for (second, _), now in page.read.items()
    ]
    by_page = [len(page.came) for page in pages]
    up_ms, told_ms = (1000.0 * quantile([one[which] for one in starts], 0.5) for which in (0, 1))
    answers, tries = f"{len(names)} answers", f"p50 of {len(starts)}"
    rows = [
        (f"first byte after the watching has begun, {tries} [ms]", f"{up_ms:.0f}", "200"),
        ("first byte after its address is told, p50 [ms]", f"{told_ms:.0f}", ""),
        (f"page over the wire, heads and all, {answers} [kB]", f"{size / 1000.0:.1f}", "60"),
        (f"processor for {PAGES} pages at 1 Hz [% of a core]", f"{together - alone:.1f}", "5"),
        ("the same without a page, for comparison [%]", f"{alone:.1f}", ""),
        (f"reading to its event, p50 of {len(seen)} [ms]", f"{quantile(seen, 0.5):.0f}", ""),
        ("reading to its event, p99 [ms]", f"{quantile(seen, 0.99):.0f}", "200"),
        (
            f"reading to the last row, p50 of {len(late)} [ms]",
            f"{quantile(late, 0.5):.0f}",
            "",
        ),
        ("reading to the last row, p99 [ms]", f"{quantile(late, 0.99):.0f}", "200"),
    ]
    table(("page", "measured", "reach"), rows)
    of_probes = [len(page.read) for page in pages]
    print(f"\nby page: {min(by_page)} to {max(by_page)} rows", end=", ")
    print(f"{min(of_probes)} to {max(of_probes)} readings")


if __name__ == "__main__":
    main()
