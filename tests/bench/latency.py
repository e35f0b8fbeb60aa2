"""From a line on the wire to the state that it makes: `python tests/bench/latency.py [--quick]`.

A board writes two probes in SenML ten times a second into a pseudo-terminal that
`rigmon watch --jsonl -` reads, log and forecasts included. The state of a second is said when the
first reading after it has come; the time is taken from just before that line is written until its
state has been read at the other end of a pipe.
"""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from rigs import (
    POUR_S,
    RATE_HZ,
    Lines,
    Sample,
    configured,
    environment,
    line,
    program,
    samples,
    terminal,
)
from showing import ROOT, heading, is_quick, quantile, table

SEED = 11
BEAT_FROM_S = 420.0
"""The quick run begins in the fifth minute of beating, the full one before the pour [s]."""
PATIENCE_S = 20.0

ECHO = """
import json, sys, serial
port = serial.Serial(sys.argv[1], timeout=5)
half, count = b"", 0
print(json.dumps({"type": "ready"}), flush=True)
while True:
    *lines, half = (half + port.read(port.in_waiting or 1)).split(b"\\n")
    for line in lines:
        json.loads(line)
        count += 1
        if count % 10 == 1:
            print(json.dumps({"type": "state", "at": count // 10}), flush=True)
"""
"""The baseline: read by pyserial, parsed, every tenth line answered, nothing else."""

Said = dict[str, object]
Marks = Mapping[int, str]


class Board:
    """Writes samples at their times and notes when, and when each state came back.

    Args:
        file: the board's end of the terminal.
        answers: where the program writes.
    """

    def __init__(self, file: int, answers: int) -> None:
        self._file = file
        self._answers = answers
        self._lines = Lines(self._take)
        self.written: list[float] = []
        self.came: dict[int, float] = {}
        self.kinds: list[str] = []

    def _take(self, text: bytes) -> None:
        said: Said = json.loads(text)
        self.kinds.append(str(said["type"]))
        if said["type"] == "state":
            self.came[round(float(str(said["at"])))] = time.monotonic()

    def wait(self, until: float) -> None:
        """Take what the program says until then [s, monotonic]."""
        while (left := until - time.monotonic()) > 0.0:
            if select.select([self._answers], [], [], left)[0]:
                self._lines.read(self._answers)

    def write(self, batch: list[Sample], when: Callable[[int], None]) -> None:
        """Write all samples; `when` is called with the number of each after it is written."""
        first, unix_s = time.monotonic(), time.time()
        for number, sample in enumerate(batch):
            # The first reading is run time 0; the others fall between the whole seconds.
            after_s = number / RATE_HZ + (0.05 if number else 0.0)
            self.wait(first + after_s)
            data = line(sample, round(unix_s + after_s, 3))
            self.written.append(time.monotonic())
            if os.write(self._file, data) != len(data):
                raise OSError("the terminal is full: the program does not read")
            when(number)
        self.wait(time.monotonic() + 0.5)

    def latencies_ms(self) -> list[float]:
        """Time from each line that closes a second to that second's state [ms]."""
        closing = {
            number // RATE_HZ: at for number, at in enumerate(self.written) if number % RATE_HZ == 0
        }
        return [
            1000.0 * (self.came[second] - at)
            for second, at in closing.items()
            if second and second in self.came
        ]

    def until_said(self, kind: str) -> None:
        """Wait until the program has said something of a kind."""
        end = time.monotonic() + PATIENCE_S
        while kind not in self.kinds:
            if time.monotonic() > end:
                raise TimeoutError(f"the program has said no {kind} in {PATIENCE_S:.0f} s")
            self.wait(time.monotonic() + 0.01)


def measured(
    command: Callable[[Path, str], list[str]], first: str, batch: list[Sample], marks: Marks
) -> Board:
    """Write a batch to a program.

    Args:
        command: arguments of Python, for a folder and a port.
        first: the kind of line that the program says once it listens.
        batch: the samples.
        marks: what is told to the program after the sample of a number.
    """
    with tempfile.TemporaryDirectory() as folder, terminal() as (file, port):
        place = Path(folder)
        told: list[subprocess.Popen[bytes]] = []
        with program(place, *command(place, port)) as running:
            assert running.process.stdout is not None
            board = Board(file, running.process.stdout.fileno())
            board.until_said(first)

            def tell(number: int) -> None:
                if number in marks:
                    # Not waited for: the board does not wait either.
                    mark = [sys.executable, "-m", "rigmon", "mark", *marks[number].split()]
                    silent = subprocess.DEVNULL
                    own = environment(place)
                    told.append(subprocess.Popen(mark, cwd=ROOT, env=own, stdout=silent))

            board.write(batch, tell)
    if any(mark.wait() for mark in told):
        raise OSError("a mark was not taken")
    return board


def watching(folder: Path, port: str) -> list[str]:
    """The program, as it is used."""
    config = str(configured(folder, port))
    log = str(folder / "runs.sqlite")
    return ["-m", "rigmon", "watch", "--config", config, "--jsonl", "-", "--log", log]


def main() -> None:
    """Print the table."""
    quick = is_quick(__doc__)
    heading(SEED)
    from_s, for_s = (BEAT_FROM_S, 40.0) if quick else (POUR_S - 10.0, 600.0)
    poured = int(max(POUR_S - from_s, 1.0) * RATE_HZ)
    marks = {
        5: "ice-in ice_g=3000 salt_g=750",
        poured + 5: "pour mix_g=1050 mix_c=4",
        poured + 15: "beat-start",
    }
    batch = samples(from_s, for_s, SEED)
    echo = measured(lambda _, port: ["-c", ECHO, port], "ready", batch[: 20 * RATE_HZ], {})
    board = measured(watching, "problem", batch, marks)
    print(
        f"{len(batch)} lines, {2 * len(batch)} readings, {board.kinds.count('forecast')} forecasts "
        f"said\n"
    )
    base = quantile(echo.latencies_ms(), 0.5)
    rows = []
    for name, times in (
        ("baseline: the line parsed and answered, no monitor", echo.latencies_ms()),
        ("`rigmon watch`, log and forecasts included", board.latencies_ms()),
    ):
        figures = [*(quantile(times, share) for share in (0.5, 0.9, 0.99)), max(times)]
        rows.append(
            (name, str(len(times)), *(f"{ms:.1f}" for ms in figures), f"{figures[0] / base:.1f}")
        )
    table(("ms", "states", "p50", "p90", "p99", "max", "p50 of baseline"), rows)
    missed = len(batch) // RATE_HZ - 1 - len(board.latencies_ms())
    print(f"\n{missed} states missed; reach: p99 50 ms")


if __name__ == "__main__":
    main()
