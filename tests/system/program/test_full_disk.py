"""A log that finds no room stops with an alarm; the watching goes on, and nothing is missing."""

from __future__ import annotations

import resource
import signal
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from rigmon.records import Reading
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start


def test_a_full_disk_stops_the_log_and_not_the_watching(
    board: Board,
    make_kitchen: Callable[[Board], Kitchen],
    configure: Configure,
    start: Start,
    tmp_path: Path,
) -> None:
    """The alarm comes and goes; a run begun meanwhile knows of it; all of it is in the log."""
    path = tmp_path / "runs.sqlite"
    config = configure(kitchen=f'source = "serial"\nport = "{board.port}"')
    program = start("watch", "--config", config, "--jsonl", "-", "--log", path)
    assert board.heard(b"ping")
    assert start("start", "kitchen").end() == 0
    make_kitchen(board)
    program.said("state", quality={"bath": "good", "mix": "good"})

    # No file may grow past what the log already takes.
    full = path.with_name(f"{path.name}-wal").stat().st_size
    resource.prlimit(program.process.pid, resource.RLIMIT_FSIZE, (full, resource.RLIM_INFINITY))
    alarm = program.said("alarm", code="log-stopped", state="unacknowledged")
    assert f"The run log {path} cannot be written" in alarm["text"]
    again = start("start", "kitchen")
    assert again.end() == 0
    assert again.out.seen[0].endswith("It is not in the log yet: the log cannot be written.")
    assert program.said("alarm", code="log-stopped", state="unacknowledged")["at"] < 3.0
    assert program.said("state", quality={"bath": "good", "mix": "good"})["bath_c"] < -16.0

    everything = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    resource.prlimit(program.process.pid, resource.RLIMIT_FSIZE, everything)
    mark = start("mark", "note", "room")
    assert mark.end() == 0
    program.said("alarm", code="log-stopped", state="returned to normal unacknowledged")
    assert start("mark", "end").end() == 0
    assert program.end(signal.SIGTERM) == 0
    with RunLog(path, create=False) as log:
        runs = log.runs()
        assert [row.state for row in runs] == [RunState.ENDED] * 2
        for row in runs:
            read = [i.t for _, i in log.items(row.header.id) if isinstance(i, Reading)]
            assert max(late - early for early, late in pairwise(read)) < 1.0
