"""How soon the program is there, and how much memory it takes.

`python tests/bench/process.py [--quick]`. The board writes ten lines a second before the program
starts. A first reading is shown when its second is over: part of its time is waiting for that.
"""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from statistics import median

from rigs import RATE_HZ, Lines, Sample, configured, environment, line, program, samples, terminal
from showing import ROOT, heading, is_quick, table

SEED = 11
MINUTE_S = 60.0
PATIENCE_S = 20.0
BEAT_FROM_S = 420.0
HEAVY = ("numpy", "scipy", "matplotlib", "pydantic", "rich", "serial", "paho", "starlette")
SHOWN = {
    "--plain": re.compile("bath −?[0-9]".encode()),
    "--jsonl -": re.compile(rb'"bath_c":-?[0-9]'),
}
"""What tells that the first reading is shown, for each way to show it."""

LOADED = f"""
import sys
from rigmon.cli import main
sys.argv = ["rigmon", "--help"]
try:
    main()
except SystemExit:
    print(*(name for name in {HEAVY} if name in sys.modules), file=sys.stderr)
"""
LIBRARIES = "import numpy, pydantic, rich, serial, sys; sys.stdin.read()"


@contextmanager
def board(batch: list[Sample]) -> Iterator[str]:
    """A board that writes for as long as it is needed; gives its port."""
    ended = threading.Event()

    def write(file: int) -> None:
        begun = time.monotonic()
        for number, sample in enumerate(batch):
            if ended.wait(max(begun + number / RATE_HZ - time.monotonic(), 0.0)):
                return
            # Nobody may listen yet.
            with suppress(BlockingIOError):
                os.write(file, line(sample))

    with terminal() as (file, port):
        os.set_blocking(file, False)
        thread = threading.Thread(target=write, args=(file,))
        thread.start()
        try:
            yield port
        finally:
            ended.set()
            thread.join()


def watch(folder: Path, port: str, *how: str) -> list[str]:
    """The program on a port."""
    config = str(configured(folder, port))
    log = str(folder / "runs.sqlite")
    return ["-m", "rigmon", "watch", "--config", config, "--log", log, *how]


def first_shown_s(batch: list[Sample], how: str) -> float:
    """Time from the program's start until the first reading has come out of it [s]."""
    shown: list[bytes] = []

    def take(text: bytes) -> None:
        if SHOWN[how].search(text):
            shown.append(text)

    with tempfile.TemporaryDirectory() as name, board(batch) as port:
        folder = Path(name)
        arguments = watch(folder, port, *how.split())
        begun = time.monotonic()
        with program(folder, *arguments) as running:
            assert running.process.stdout is not None
            file = running.process.stdout.fileno()
            lines = Lines(take)
            while not shown:
                if not select.select([file], [], [], PATIENCE_S)[0]:
                    raise TimeoutError(f"watch {how}: no reading in {PATIENCE_S:.0f} s")
                lines.read(file)
            return time.monotonic() - begun


def run_s(*arguments: str) -> float:
    """Time that Python takes for something that ends by itself [s]."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        subprocess.run(
            [sys.executable, *arguments],
            cwd=ROOT,
            env=environment(Path(folder)),
            check=True,
            stdout=subprocess.DEVNULL,
        )
        return time.perf_counter() - begun


def loaded_by_help() -> str:
    """Which of the slow libraries `--help` loads."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return done.stderr.strip() or "none"


def resident_mb(minutes: float, *arguments: str) -> tuple[float, float]:
    """Resident memory of a program after a while, and at most until then [MB]."""
    with tempfile.TemporaryDirectory() as name:
        silent = subprocess.DEVNULL
        with program(Path(name), *arguments, stdout=silent, stdin=subprocess.PIPE) as running:
            time.sleep(minutes * MINUTE_S)
            return running.memory_mb("VmRSS"), running.memory_mb("VmHWM")


def memory(minutes: float, batch: list[Sample]) -> dict[str, tuple[float, float]]:
    """Resident memory of everything that is compared, all at the same time [MB]."""
    with tempfile.TemporaryDirectory() as name, board(batch) as port:
        folder = Path(name)
        log = str(folder / "demo.sqlite")
        demo = ["-m", "rigmon", "demo", "--plain", "--log", log]
        asked = {
            "baseline: Python with numpy, pydantic, rich, pyserial": ["-c", LIBRARIES],
            f"`rigmon watch`, {minutes:g} min at 10 Hz": watch(folder, port, "--plain"),
            f"`rigmon demo`, {minutes:g} min 20 times as fast, virtual rig included": demo,
        }
        found: dict[str, tuple[float, float]] = {}

        def measure(what: str, arguments: list[str]) -> None:
            found[what] = resident_mb(minutes, *arguments)

        threads = [threading.Thread(target=measure, args=item) for item in asked.items()]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return {what: found[what] for what in asked}


def timed(times: int, work: Callable[[], float]) -> tuple[float, float]:
    """Median and worst of a measurement, after one that does not count."""
    work()
    values = [work() for _ in range(times)]
    return median(values), max(values)


def main() -> None:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading(SEED)
    batch = samples(BEAT_FROM_S, 150.0, SEED)

    runs = 10 if quick else 50
    nothing = timed(runs, partial(run_s, "-c", "pass"))
    helped = timed(runs, partial(run_s, "-m", "rigmon", "--help"))
    rows = [("baseline: `python -c pass`", nothing, runs), ("`rigmon --help`", helped, runs)]
    starts = 4 if quick else 20
    rows += [
        (
            f"`rigmon watch {how}`, start to first reading shown",
            timed(starts, partial(first_shown_s, batch, how)),
            starts,
        )
        for how in SHOWN
    ]
    table(
        ("ms", "runs", "median", "worst", "of baseline"),
        [
            (what, str(n), f"{1000 * m:.0f}", f"{1000 * w:.0f}", f"{m / nothing[0]:.1f}")
            for what, (m, w), n in rows
        ],
    )
    print(f"\nslow libraries loaded by --help: {loaded_by_help()}")
    print("reach: --help 150 ms, first reading 2000 ms\n")

    sizes = memory(0.5 if quick else 1.1, batch)
    base = next(iter(sizes.values()))[0]
    table(
        ("resident MB", "then", "at most", "of baseline"),
        [
            (what, f"{now:.0f}", f"{most:.0f}", f"{now / base:.1f}")
            for what, (now, most) in sizes.items()
        ],
    )
    print("\nreach: 150 MB")


if __name__ == "__main__":
    main()
