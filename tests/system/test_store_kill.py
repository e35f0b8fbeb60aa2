"""A daemon that is killed loses nothing that it had said was kept."""

from __future__ import annotations

import json
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from rigmon.records import Reading
from rigmon.store import RunHeader, RunLog, RunState

WRITER = """
import itertools, sys
from rigmon.records import Reading
from rigmon.store import RunHeader, RunLog

path, name, synchronous = sys.argv[1:]
log = RunLog(path, synchronous)
log.begin(RunHeader(name, "porch", 0.0, "", "", virtual=True, version="0"))
for batch in itertools.count():
    for probe in range(20):
        log.add(name, Reading(float(batch), f"p{probe}", batch + probe / 64), float(batch))
    log.say(name, float(batch), "mark", str(batch))
    log.commit()
    print(batch, flush=True)
"""


@pytest.mark.parametrize("synchronous", ["FULL", "NORMAL"])
def test_every_acknowledged_batch_outlives_kill_9(tmp_path: Path, synchronous: str) -> None:
    """Killed at any moment, the log is sound and holds whole batches, all acknowledged ones."""
    path = tmp_path / "runs.sqlite"
    chance = random.Random(20_260_704)
    for attempt in range(5):
        name = f"run-{attempt}"
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, path, name, synchronous],
            stdout=subprocess.PIPE,
            text=True,
        ) as writer:
            assert writer.stdout is not None
            for _ in range(chance.randrange(1, 60)):
                acknowledged = int(writer.stdout.readline())
            writer.kill()
            whole = [line for line in writer.stdout.read().split("\n")[:-1] if line]
            acknowledged = int(whole[-1]) if whole else acknowledged
        with RunLog(path, create=False) as log:
            items = [item for _, item in log.items(name)]
            batches = len(items) // 20
            assert items == [
                Reading(float(batch), f"p{probe}", batch + probe / 64)
                for batch in range(batches)
                for probe in range(20)
            ]
            assert list(log.said(name)) == [str(batch) for batch in range(batches)]
            assert batches > acknowledged
            row = log.run(name)
            assert (row.state, row.ended_at, row.readings) == (
                RunState.BROKEN_OFF,
                None,
                20 * batches,
            )
            assert row.duration_s == batches - 1
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


READER = """
import json, sys
from rigmon.store import RunLog

path, name = sys.argv[1:]
seen = []
print("ready", flush=True)
for line in sys.stdin:
    with RunLog(path, create=False) as log:
        seen.append([log.run(name).readings, sum(1 for _ in log.items(name))])
print(json.dumps(seen))
"""


def test_another_program_reads_while_the_daemon_writes(tmp_path: Path) -> None:
    """A reader never waits for the writer, never stops it, and sees whole commits."""
    path = tmp_path / "runs.sqlite"
    with RunLog(path) as log:
        log.begin(RunHeader("a", "porch", 0.0, "", "", virtual=True, version="0"))
        with subprocess.Popen(
            [sys.executable, "-c", READER, path, "a"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        ) as reader:
            assert reader.stdin is not None
            assert reader.stdout is not None
            assert reader.stdout.readline() == "ready\n"
            for batch in range(200):
                for probe in range(20):
                    log.add("a", Reading(float(batch), f"p{probe}", 1.0), 0.0)
                log.commit()
                if batch % 10 == 0:
                    reader.stdin.write("look\n")
                    reader.stdin.flush()
            reader.stdin.close()
            seen = json.loads(reader.stdout.read())
        assert reader.returncode == 0
    listed = [readings for readings, _ in seen]
    assert len(seen) == 20
    assert listed == sorted(listed)
    assert [number % 20 for pair in seen for number in pair] == [0] * 40
    assert all(readings <= items for readings, items in seen)


OPENER = """
import sys
from rigmon.store import RunHeader, RunLog

path, name = sys.argv[1:]
print("ready", flush=True)
sys.stdin.read()
with RunLog(path) as log:
    log.begin(RunHeader(name, "porch", 0.0, "", "", virtual=True, version="0"))
"""


def test_programs_that_make_the_same_log_at_once_all_get_it(tmp_path: Path) -> None:
    """Six programs started together on no log find one log with their six runs in it."""
    path = tmp_path / "runs.sqlite"
    openers = [
        subprocess.Popen(
            [sys.executable, "-c", OPENER, path, f"run-{number}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for number in range(6)
    ]
    for opener in openers:
        assert opener.stdout is not None
        assert opener.stdout.readline() == "ready\n"
    for opener in openers:
        assert opener.stdin is not None
        opener.stdin.close()
        opener.stdin = None
    complaints = [opener.communicate()[1] for opener in openers]
    assert complaints == [""] * 6
    with RunLog(path, create=False) as log:
        assert len(log.runs()) == 6
