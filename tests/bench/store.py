"""What a second of a run costs the log, and how fast a long run is read.

`python tests/bench/store.py [--quick]`. A batch is what one second brings: four probes and a line
said. The baseline is sqlite3 alone with the same settings and as many rows.
"""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import get_args

from rigmon.records import Reading
from rigmon.store import RunHeader, RunLog, Synchronous
from showing import heading, is_quick, quantile, table

PROBES = ("bath", "bath_2", "mix", "core")
LONG_S = 4 * 3600
LINE = '{"type":"problem","at":0.0,"what":"probe-noisy","probe":"mix","text":"mix: noisy."}'
HEADER = RunHeader("bench", "bench", 0.0, "", "", virtual=True, version="0")


def each_ms(times: int, work: Callable[[int], None]) -> list[float]:
    """How long each call takes [ms]."""
    taken = []
    for number in range(times):
        begun = time.perf_counter()
        work(number)
        taken.append(1000.0 * (time.perf_counter() - begun))
    return taken


def through_the_log(folder: Path, synchronous: Synchronous, batches: int) -> list[float]:
    """Commits of the run log [ms]."""
    with RunLog(folder / "log.sqlite", synchronous) as log:
        log.begin(HEADER)

        def batch(number: int) -> None:
            for probe in PROBES:
                log.add("bench", Reading(float(number), probe, -14.25 + number / 64), float(number))
            log.say("bench", float(number), "problem", LINE)
            log.commit()

        return each_ms(batches, batch)


def bare(folder: Path, synchronous: Synchronous, batches: int) -> list[float]:
    """Commits of sqlite3 alone [ms]."""
    with closing(sqlite3.connect(folder / "bare.sqlite", isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute(f"PRAGMA synchronous={synchronous}")
        db.execute(
            "CREATE TABLE row (no INTEGER PRIMARY KEY, t REAL, name TEXT, value REAL) STRICT"
        )
        db.execute("CREATE TABLE said (no INTEGER PRIMARY KEY, t REAL, line TEXT) STRICT")

        def batch(number: int) -> None:
            rows = [(float(number), probe, -14.25 + number / 64) for probe in PROBES]
            db.execute("BEGIN IMMEDIATE")
            db.executemany("INSERT INTO row (t, name, value) VALUES (?, ?, ?)", rows)
            db.execute("INSERT INTO said (t, line) VALUES (?, ?)", (float(number), LINE))
            db.execute("COMMIT")

        return each_ms(batches, batch)


def commits(batches: int) -> None:
    """Print what a commit costs."""
    rows = []
    for synchronous in get_args(Synchronous):
        with tempfile.TemporaryDirectory() as name:
            base = bare(Path(name), synchronous, batches)
            log = through_the_log(Path(name), synchronous, batches)
        half = quantile(base, 0.5)
        rows += [
            (
                f"{what}, {synchronous}",
                f"{1000.0 * len(taken) / sum(taken):,.0f}",
                *(f"{quantile(taken, share):.2f}" for share in (0.5, 0.99)),
                f"{max(taken):.2f}",
                f"{quantile(taken, 0.5) / half:.1f}",
            )
            for what, taken in (("baseline: sqlite3 alone", base), ("run log", log))
        ]
    print(f"{batches} batches of {len(PROBES)} readings and a line")
    table(("", "commits/s", "p50 ms", "p99 ms", "max ms", "of baseline"), rows)


def reading(rounds: int) -> None:
    """Print what it costs to read four hours of four probes."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "log.sqlite"
        with RunLog(path, "NORMAL") as log:
            log.begin(HEADER)
            for second in range(LONG_S):
                for probe in PROBES:
                    log.add("bench", Reading(float(second), probe, -14.25), float(second))
            log.commit()
            log.end("bench", float(LONG_S))
            count = log.run("bench").readings
        size_mb = path.stat().st_size / 1e6

        def alone(_: int) -> None:
            with closing(sqlite3.connect(path)) as db:
                assert len(db.execute("SELECT * FROM reading").fetchall()) == count

        def whole(_: int) -> None:
            with RunLog(path, create=False) as log:
                assert sum(1 for _ in log.items("bench")) == count

        base, items = each_ms(rounds, alone), each_ms(rounds, whole)
    half = quantile(base, 0.5)
    print(f"\n{count} readings, {size_mb:.1f} MB; {rounds} rounds")
    table(
        ("reading a run of 4 h and 4 probes", "p50 ms", "max ms", "of baseline"),
        [
            (n, f"{quantile(v, 0.5):.0f}", f"{max(v):.0f}", f"{quantile(v, 0.5) / half:.1f}")
            for n, v in (("baseline: sqlite3 alone, as tuples", base), ("run log, as items", items))
        ],
    )


def main() -> None:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading()
    commits(500 if quick else 5_000)
    reading(3 if quick else 11)


if __name__ == "__main__":
    main()
