"""How long an hour's run takes to replay: `python tests/bench/replay.py [--quick]`."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from statistics import median

from rigmon.outlets.jsonlines import as_dict, as_line
from rigmon.records import Reading, Said
from rigmon.service.prepare import Rig, read_config, rigs_of
from rigmon.service.replay import replay as replayed
from rigmon.store.runfile import parse_run
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.record import record_run, run_file
from showing import ROOT, heading, is_quick, table

SEED = 11
RIG = ROOT / "data" / "rigs" / "slip.toml"


def an_hour() -> str:
    """A run file of one hour: three minutes of bath, then beating, two probes at 1 Hz."""
    usual = demo_scenario()
    plan = replace(usual.plan, pour_s=180.0, beat_for_s=3420.0)
    scenario = replace(usual, plan=plan)
    return run_file(scenario, SEED, record_run(scenario, SEED, 3600.0).items)


def inside(data: bytes, rig: Rig) -> tuple[float, float, list[Said]]:
    """Seconds to read the file and write the words, seconds of all, and the words."""
    begun = time.perf_counter()
    run = parse_run(data, "hour.csv", rig.setup)
    read = time.perf_counter() - begun
    said: list[Said] = []
    lines: list[str] = []

    def tell(one: Said) -> None:
        said.append(one)
        lines.append(as_line(one))

    replayed(run, rig, tell)
    whole = time.perf_counter() - begun
    begun = time.perf_counter()
    for one in said:
        as_line(one)
    return read + time.perf_counter() - begun, whole, said


def as_a_command(path: Path) -> float:
    """Seconds of `rigmon replay`, from its start to its end."""
    command = ["replay", str(path), "--config", str(RIG), "--jsonl", "-"]
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "rigmon", *command],
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - begun


def main() -> None:
    """Print the table."""
    rounds = 2 if is_quick(__doc__) else 7
    heading(SEED)
    (rig,) = rigs_of(read_config(RIG, links=False), None)
    data = an_hour().encode()
    readings = sum(isinstance(step, Reading) for step in parse_run(data, "", rig.setup).items)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hour.csv"
        path.write_bytes(data)
        commands = [as_a_command(path) for _ in range(rounds)]
    plain, whole = [], []
    for _ in range(rounds):
        one, other, said = inside(data, rig)
        plain.append(one)
        whole.append(other)
    kinds = Counter(str(as_dict(one)["type"]) for one in said)
    times = len({one.at for one in said if as_dict(one)["type"] == "forecast"})
    print(
        f"{readings} readings; {kinds['state']} states, {kinds['forecast']} forecasts at {times} "
        f"times; {rounds} rounds\n"
    )
    base = median(plain)
    rows = [
        ("baseline: the file read and the same words written, no monitor", plain),
        ("the same with the monitor", whole),
        ("`rigmon replay`, from start to end", commands),
    ]
    table(
        ("", "median s", "worst s", "of baseline"),
        [(n, f"{median(v):.2f}", f"{max(v):.2f}", f"{median(v) / base:.1f}") for n, v in rows],
    )
    print("\nreach: 6 s")


if __name__ == "__main__":
    main()
