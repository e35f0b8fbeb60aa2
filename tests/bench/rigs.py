"""A board on a pseudo-terminal for the benches, and the program that watches it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from rigmon.records import Reading
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.session import VirtualSession
from showing import ROOT

RATE_HZ = 10
POUR_S = 180.0
"""When the mix is poured, in the virtual batch [s]."""
PROBES = ("bath", "mix")

_CONFIG = """\
[rigs.bench]
source = "serial"
port = "{port}"
recipe = "{recipe}"

[[rigs.bench.probe]]
name = "bath"
type = "T"

[[rigs.bench.probe]]
name = "mix"
type = "T"
"""

Sample = tuple[float, float]
"""Bath and mix [°C]."""


def samples(from_s: float, for_s: float, seed: int) -> list[Sample]:
    """What a 10 Hz board sees of a virtual batch from a run time on [s]."""
    seconds: list[dict[str, float]] = []
    known: dict[str, float] = {}
    batch = VirtualSession(demo_scenario(), seed).items(from_s + for_s + 1.0)
    for item in batch:
        if isinstance(item, Reading) and item.value is not None:
            known[item.probe] = item.value
            if item.probe == PROBES[-1] and item.t >= from_s:
                seconds.append(dict(known))
    found = []
    for now, then in pairwise(seconds):
        for part in range(RATE_HZ):
            share = part / RATE_HZ
            bath, mix = (round(now[p] + share * (then[p] - now[p]), 3) for p in PROBES)
            found.append((bath, mix))
    return found


def line(sample: Sample, unix_s: float | None = None) -> bytes:
    """A sample as a line of SenML."""
    bath, mix = sample
    first: dict[str, object] = {"bn": "bench/", "bu": "Cel", "n": "bath", "v": bath}
    if unix_s is not None:
        first["bt"] = unix_s
    return json.dumps([first, {"n": "mix", "v": mix}], separators=(",", ":")).encode() + b"\n"


@contextmanager
def terminal() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: the board's end, and the port that the program opens."""
    board, host = os.openpty()
    tty.setraw(host)
    try:
        yield board, os.ttyname(host)
    finally:
        os.close(board)
        os.close(host)


def environment(folder: Path) -> dict[str, str]:
    """An environment of the bench's own; compiled modules are kept, as where it is installed."""
    left_out = ("PYTHONDONTWRITEBYTECODE", "RIGMON_LOG")
    own = {"HOME": str(folder), "XDG_DATA_HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    return {k: v for k, v in os.environ.items() if k not in left_out} | own


def configured(folder: Path, port: str) -> Path:
    """The configuration of a rig on a port."""
    recipe = ROOT / "data" / "recipes" / "barley-custard.toml"
    path = folder / "rig.toml"
    path.write_text(_CONFIG.format(port=port, recipe=recipe), encoding="utf-8")
    return path


@dataclass
class Program:
    """A running program."""

    process: subprocess.Popen[bytes]

    def memory_mb(self, which: str) -> float:
        """Memory as Linux counts it, `VmRSS` now or `VmHWM` at most [MB]."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        (kb,) = (int(row.split()[1]) for row in status.splitlines() if row.startswith(which))
        return kb / 1024.0


@contextmanager
def program(
    folder: Path,
    *arguments: str,
    stdin: int = subprocess.DEVNULL,
    stdout: int = subprocess.PIPE,
) -> Iterator[Program]:
    """`python ARGUMENTS`, its output unbuffered, ended when it is no longer needed."""
    process = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=environment(folder),
        stdin=stdin,
        stdout=stdout,
        stderr=subprocess.DEVNULL,
        bufsize=0,
    )
    try:
        yield Program(process)
    finally:
        process.terminate()
        process.communicate()


class Lines:
    """Whole lines out of what is read piece by piece from a file that does not block.

    Args:
        take: called with each line.
    """

    def __init__(self, take: Callable[[bytes], None]) -> None:
        self._take = take
        self._half = b""

    def read(self, file: int) -> None:
        """Take what is there."""
        *lines, self._half = (self._half + os.read(file, 65_536)).split(b"\n")
        for whole in lines:
            self._take(whole)
