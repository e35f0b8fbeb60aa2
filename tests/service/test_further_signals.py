"""A run file with every further signal, through the monitor and back out of the log."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from rigmon.outlets.jsonlines import JsonLines
from rigmon.records import Place, Said
from rigmon.service.export import export
from rigmon.service.prepare import Rig
from rigmon.service.replay import replay, rig_to_replay
from rigmon.store import RunLog
from rigmon.store.runfile import RunFile, parse_run, read_run
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.record import record_run, run_file
from rigmon.virtual.scenario import Channel, data_folder

FURTHER = {
    "bath_2_c": Channel("bath_2", Place.BATH),
    "mix_2_c": Channel("mix_2", Place.MIX),
    "wall_c": Channel("wall", Place.WALL),
    "room_c": Channel("room", Place.ROOM),
    "mixer_w": Channel("mixer", Place.MIXER),
}


@pytest.fixture(scope="module")
def further() -> str:
    """Two minutes of beating with two probes each in bath and mix, and all other signals."""
    usual = demo_scenario()
    scenario = replace(usual, channels=(*usual.channels, *FURTHER.values()))
    return run_file(scenario, 7, record_run(scenario, 7, usual.plan.pour_s + 200.0).items)


def said_of(run: RunFile, rig: Rig, log: RunLog | None = None) -> tuple[str, str | None]:
    """What the monitor says of a run, and the run's id in the log."""
    stream = io.StringIO()
    outlet = JsonLines(stream)

    def tell(said: Said) -> None:
        outlet.tell("", said)

    run_id = replay(run, rig, tell, log)
    return stream.getvalue(), run_id


def test_every_further_signal_is_read_logged_and_replayed(further: str, tmp_path: Path) -> None:
    """Exported, its columns are those of the file, and what is said of it is the same again."""
    rig = rig_to_replay(data_folder() / "rigs" / "slip.toml", None, None, None)
    with RunLog(tmp_path / "runs.sqlite") as log:
        first, run_id = said_of(parse_run(further.encode(), "run.csv", rig.setup), rig, log)
        assert run_id is not None
        _, beside, lost = export(log, run_id, tmp_path / "again.csv")
    then = rig_to_replay(beside, None, None, None)
    exported = (tmp_path / "again.csv").read_text()

    assert lost == ()
    (heading,) = (line for line in exported.splitlines() if line.startswith("time_s"))
    assert set(FURTHER) <= set(heading.split(","))
    assert said_of(read_run(tmp_path / "again.csv", then.setup), then)[0] == first


def test_probes_that_nobody_configured_are_known_by_their_columns(further: str) -> None:
    """Without a configuration each is judged where its heading says that it sits."""
    rig = rig_to_replay(None, None, None, None)
    said, _ = said_of(parse_run(further.encode(), "run.csv", rig.setup), rig)
    *_, last = (one for line in said.splitlines() if (one := json.loads(line))["type"] == "state")

    assert set(last["quality"]) >= {"bath", "bath_2", "mix", "mix_2", "wall", "room"}
