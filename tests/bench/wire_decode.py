"""How fast lines become readings, a core: `python tests/bench/wire_decode.py [--quick]`."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import partial

from rigmon.records import LineForm
from rigmon.sources import Decoder, checksum
from showing import heading, is_quick, table

NOW = 1_785_000_000.0
ROUNDS = 5


def pack(records: int) -> bytes:
    """A SenML pack of a bath, a mix and as many more probes as asked for."""
    first = {"bn": "rig-a/", "bu": "Cel", "n": "bath", "v": -14.25}
    more = [{"n": f"mix-{n}", "v": 3.5 - n} for n in range(1, records)]
    return json.dumps([first, *more], separators=(",", ":")).encode()


def summed(line: bytes) -> bytes:
    """A line with its checksum."""
    return line + f"*{checksum(line):02X}".encode()


def columns(count: int) -> tuple[str, ...]:
    """The board's time and as many probes as asked for."""
    return ("ms", *(f"p{n}" for n in range(count)))


def cases() -> dict[str, tuple[Decoder, bytes, int]]:
    """What is measured: decoder, line, and readings in it."""
    numbers = b"1234567," + b",".join(b"-14.25" for _ in range(10))
    return {
        "senml, 2 readings": (Decoder(), pack(2), 2),
        "senml, 10 readings": (Decoder(), pack(10), 10),
        "senml, 10, checksum": (Decoder(), summed(pack(10)), 10),
        "columns, 2 readings": (Decoder(LineForm.COLUMNS, columns(2)), b"1234567,-14.25,3.5", 2),
        "columns, 10 readings": (Decoder(LineForm.COLUMNS, columns(10)), numbers, 10),
        "frames, 2 readings": (
            Decoder(LineForm.FRAMES, columns(2)),
            b"1234567 FF1C1900 00381900",
            2,
        ),
    }


def per_second(work: Callable[[], object], seconds: float) -> float:
    """How often a second the work is done, at the best of some rounds."""
    work()
    best = 0.0
    for _ in range(ROUNDS):
        done = 0
        begun = time.perf_counter()
        while (taken := time.perf_counter() - begun) < seconds / ROUNDS:
            for _ in range(100):
                work()
            done += 100
        best = max(best, done / taken)
    return best


def main() -> None:
    """Print the table."""
    seconds = 0.5 if is_quick(__doc__) else 2.5
    heading()
    rows = []
    for name, (decoder, line, readings) in cases().items():
        lines = per_second(partial(decoder.line, line, NOW), seconds)
        share = ""
        if line.endswith(b"]"):
            share = f"{lines / per_second(partial(json.loads, line), seconds):.2f}"
        rows.append((name, str(len(line)), f"{lines:,.0f}", f"{lines * readings:,.0f}", share))
    print(f"one core, best of {ROUNDS} rounds; baseline: json.loads of the same line\n")
    table(("", "bytes", "lines/s", "readings/s", "of baseline"), rows)
    print("\nreach: 100,000 readings/s in SenML")


if __name__ == "__main__":
    main()
