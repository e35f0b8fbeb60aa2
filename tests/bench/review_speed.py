"""How long looking back takes: `python tests/bench/review_speed.py [--quick]`."""

from __future__ import annotations

import datetime
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from looked_back import DAY_S, STARTED
from rigmon.config import Units, run_document
from rigmon.estimate.cloud import PRIOR
from rigmon.records import Item
from rigmon.review.kept import MADE_BY, _extent
from rigmon.review.measures import as_json
from rigmon.review.measuring import measure
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.store import ClockRow, RunHeader, RunLog, parse_run
from rigmon.store.afterwards import keep_measures
from rigmon.store.entries import Measured
from showing import ROOT, heading, is_quick, table

RUN = ROOT / "data" / "runs" / "slip-custard-4to1.csv"
RIG = ROOT / "data" / "rigs" / "slip.toml"
RECIPE = ROOT / "data" / "recipes" / "barley-custard.toml"
MANY = 1000


def fed(rig: Rig) -> list[Item]:
    """What the recorded run was fed: 25 minutes, two probes at 1 Hz."""
    run = parse_run(RUN.read_bytes(), RUN.name, rig.setup)
    return [item for item in run.items if not isinstance(item, ClockRow)]


def put(log: RunLog, rig: Rig, items: Sequence[Item], day: int) -> str:
    """A run put into a log."""
    started = STARTED + DAY_S * day
    moment = datetime.datetime.fromtimestamp(started, datetime.UTC)
    document = run_document(rig.setup, rig.recipe, PRIOR, 0, "0", Units(), moment)
    run_id = f"slip-{moment:%Y%m%dT%H%M%SZ}"
    name = rig.recipe.name if rig.recipe is not None else ""
    log.begin(RunHeader(run_id, "slip", started, name, document, True, "0"))
    clock = -math.inf
    for item in items:
        log.add(run_id, item, clock)
        clock = max(clock, item.t)
    log.end(run_id, clock)
    return run_id


def command(*words: str) -> tuple[float, float]:
    """Seconds of a command from start to end, by the clock and of the processor."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "rigmon", "review", *words],
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    took = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return took, used


def main() -> None:
    """Print the table."""
    n = 10 if is_quick(__doc__) else 100
    heading()
    config = read_config(RIG, links=False)
    (rig,) = rigs_of(config, RECIPE)
    items = fed(rig)
    rows: list[tuple[str, float, float, str]] = []
    with tempfile.TemporaryDirectory() as folder:
        few, many = Path(folder) / "few.sqlite", Path(folder) / "many.sqlite"
        with RunLog(few, "NORMAL") as log:
            names = [put(log, rig, items, day) for day in range(n)]
            begun, used = time.perf_counter(), time.process_time()
            one = measure(log, names[0])
            rows.append(
                ("one run measured", time.perf_counter() - begun, time.process_time() - used, "0.5")
            )
        text = as_json(one)
        with RunLog(many, "NORMAL") as log:
            for day in range(MANY):
                put(log, rig, items[:20], day)
            kept = {row.header.id: Measured(MADE_BY, _extent(row), text) for row in log.runs()}
            keep_measures(log, kept)
        told = (
            (f"{n} runs, the first time", ("--all", "--log", str(few)), "10 for 100"),
            (f"{n} runs, the second time", ("--all", "--log", str(few)), "10 for 100"),
            (f"{MANY} runs, the second time", ("--all", "--log", str(many)), "5"),
            ("a report as HTML", ("last", "--out", f"{folder}/r.html", "--log", str(few)), "4"),
            ("a report as PDF", ("last", "--out", f"{folder}/r.pdf", "--log", str(few)), "4"),
        )
        rows += [(what, *command(*words), reach) for what, words, reach in told]
    print(f"a run of {len(items)} readings and marks; {os.cpu_count()} cores\n")
    table(
        ("", "seconds", "of the processor", "reach, s"),
        [(what, f"{took:.2f}", f"{used:.2f}", reach) for what, took, used, reach in rows],
    )


if __name__ == "__main__":
    main()
