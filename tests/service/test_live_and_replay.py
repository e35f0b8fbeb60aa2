"""A whole round watched live over a pseudo-terminal, and said again from its exported files."""

from __future__ import annotations

import io
import json
import threading
from pathlib import Path
from typing import Any

import pytest

from rigmon.outlets.jsonlines import JsonLines
from rigmon.records import VirtualLink
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.demo import lay_wire
from rigmon.service.export import export
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import read_config, rigs_of
from rigmon.service.replay import replay, rig_to_replay
from rigmon.service.virtual_source import VirtualSource
from rigmon.store import RunLog, RunState
from rigmon.store.runfile import parse_run, read_run
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.scenario import data_folder
from rigmon.virtual.session import VirtualSession

SPEED = 300.0
ABOUT_THE_SOURCE = {"online", "board-says"}
Words = list[dict[str, Any]]


def words(stream: io.StringIO) -> Words:
    """JSON lines, without those about the source."""
    said = [json.loads(line) for line in stream.getvalue().splitlines()]
    return [one for one in said if one.get("what") not in ABOUT_THE_SOURCE]


def test_a_round_is_said_again_to_the_last_digit(tmp_path: Path) -> None:
    """States, forecasts, alarms, marks, problems, summary: every line, whatever came late."""
    (rig,) = rigs_of(read_config(data_folder() / "rigs" / "demo.toml"), None)
    assert isinstance(rig.link, VirtualLink)
    clock = Clock(SPEED)
    session = VirtualSession(demo_scenario(), 1)
    source = VirtualSource("demo", session, lay_wire("serial", "demo", session), clock)
    live, path = io.StringIO(), tmp_path / "runs.sqlite"
    daemon = Daemon(
        [rig],
        [source],
        [JsonLines(live)],
        LogKeeper(RunLog(path)),
        clock,
        makers=[source],
        once=True,
    )
    thread = threading.Thread(target=daemon.run)
    thread.start()
    thread.join(60.0)
    assert not thread.is_alive()

    with RunLog(path, create=False) as log:
        (row,) = log.runs()
        run_id, beside, lost = export(log, "last", tmp_path / "run.csv")
        logged = [json.loads(line) for line in log.said(run_id)]
    assert row.state is RunState.ENDED
    assert lost == ()
    again = io.StringIO()
    outlet = JsonLines(again)
    then = rig_to_replay(beside, None, None, None)
    replay(read_run(tmp_path / "run.csv", then.setup), then, lambda said: outlet.tell("", said))
    types = [one["type"] for one in words(live)]
    of_the_run = words(live)[types.index("mark") : types.index("summary") + 1]
    assert of_the_run == words(again)
    assert set(types) >= {"state", "forecast", "alarm", "mark", "summary"}
    assert [one for one in logged if one.get("what") not in ABOUT_THE_SOURCE] == [
        one for one in of_the_run if one["type"] != "state"
    ]


def test_a_replay_can_be_kept_and_is_the_same_again(tmp_path: Path) -> None:
    """Logged from a file and exported once more, a run is still the same run."""
    rig = rig_to_replay(data_folder() / "rigs" / "slip.toml", None, None, None)
    whole = (data_folder() / "runs" / "slip-custard-4to1.csv").read_text().splitlines()
    run = parse_run("\n".join(whole[:500]).encode(), "run.csv", rig.setup)
    first, second = io.StringIO(), io.StringIO()
    with RunLog(tmp_path / "runs.sqlite") as log:
        run_id = replay(run, rig, lambda said: JsonLines(first).tell("", said), log)
        assert run_id is not None
        _, beside, _ = export(log, run_id, tmp_path / "again.csv")
    then = rig_to_replay(beside, None, None, None)
    assert then.prior == rig.prior
    assert then.seed == rig.seed
    exported = read_run(tmp_path / "again.csv", then.setup)
    replay(exported, then, lambda said: JsonLines(second).tell("", said))
    assert first.getvalue() == second.getvalue()


@pytest.mark.parametrize("seed", [0, 5])
def test_the_seed_of_a_replay_is_the_makers(seed: int) -> None:
    """`--seed` goes before the file's own."""
    rig = rig_to_replay(data_folder() / "rigs" / "slip.toml", None, None, seed)
    assert rig.seed == seed
