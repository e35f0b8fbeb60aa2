"""What commands write, and that any terminal and any pipe can take it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import rigmon as package
from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

RIG = data_folder() / "rigs" / "slip.toml"


def in_a_shell(line: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """Run a line of shell in which $RIGMON is the program."""
    mine = {
        **os.environ,
        "PYTHONPATH": str(Path(package.__file__).parents[1]),
        "PYTHONWARNINGS": "error",
        "RIGMON": f"{sys.executable} -m rigmon",
    }
    return subprocess.run(["bash", "-c", line], env=mine | env, capture_output=True, check=False)


def test_runs_are_listed_with_what_tells_them_apart(rigmon: Rigmon, run_file: Path) -> None:
    """The newest first, and only those of a rig if it is named."""
    assert rigmon("replay", run_file, "--config", RIG, "--log", "a.sqlite").code == 0
    told = rigmon("runs", "--log", "a.sqlite")
    head, row, _, where = told.out.splitlines()
    assert head.split() == ["run", "started", "lasted", "recipe", "readings", "marks", "state"]
    assert row.startswith("slip-")
    assert row.endswith("ended")
    assert where == "a.sqlite"
    assert (
        rigmon("runs", "--log", "a.sqlite", "--rig", "loft").out
        == "No runs like that in a.sqlite.\n"
    )


def test_the_alarms_of_a_run_are_shown(rigmon: Rigmon, tmp_path: Path) -> None:
    """How many, how long each stood, who answered it and after how long; a quiet run says so."""
    rows = ["time_s,room_c,mark,by,detail", "0,20,ice-in,maker,"]
    rows += [f"{t},20,," for t in range(1, 20)]
    rows += ["60,20,ack,hand,", "70,20,end,maker,"]
    run = tmp_path / "silent.csv"
    run.write_text("\n".join(row.ljust(1) for row in rows) + "\n", "utf-8")
    assert rigmon("replay", run, "--config", RIG, "--log", "a.sqlite").code == 0
    head, columns, row = rigmon("runs", "show", "last", "--log", "a.sqlite").out.splitlines()

    assert head.startswith("slip-")
    assert columns.split()[:3] == ["alarm", "priority", "raised"]
    assert row.split()[:3] == ["probe-silent", "medium", "1"]
    assert row.endswith("by hand  no")


def test_an_export_says_how_to_replay_it(rigmon: Rigmon, run_file: Path) -> None:
    """The command can be copied, whatever the file is called."""
    assert rigmon("replay", run_file, "--config", RIG, "--log", "a.sqlite").code == 0
    told = rigmon("export", "last", "an evening.csv", "--log", "a.sqlite")
    assert told.out.splitlines()[-1] == (
        "Replay it: rigmon replay 'an evening.csv' --config 'an evening.toml'"
    )


@pytest.mark.parametrize(
    ("words", "mark"),
    [
        (("pour",), "pour"),
        (("note", "second bag"), "note 'second bag'"),
        (
            ("recharge", "ice_g=900", "note=from the shop"),
            "recharge ice_g=900 note='from the shop'",
        ),
        (("note", "it's cold"), "note 'it'\"'\"'s cold'"),
    ],
)
def test_a_mark_keeps_its_words_together(
    rigmon: Rigmon, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], mark: str
) -> None:
    """What the shell kept together arrives together."""
    sent: list[str] = []

    def take(text: str, rig: str | None) -> dict[str, Any]:
        sent.append(text)
        return {"ok": True, "rig": rig or "kitchen", "run": "kitchen-1", "text": "Noted."}

    monkeypatch.setattr("rigmon.service.doors.send_mark", take)
    assert rigmon("mark", *words).out == "kitchen: Noted.\n"
    assert sent == [mark]


def test_start_names_the_recipe_by_its_whole_path(
    rigmon: Rigmon, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The daemon may stand in another directory."""
    sent: list[str] = []

    def take(text: str, rig: str | None) -> dict[str, Any]:
        sent.append(text)
        return {"ok": True, "rig": rig, "run": "kitchen-1", "text": "Run kitchen-1 has begun."}

    monkeypatch.setattr("rigmon.service.doors.send_mark", take)
    told = rigmon("start", "kitchen", "--recipe", "my plum.toml")
    assert told.out == "kitchen: Run kitchen-1 has begun.\n"
    assert sent == [f"start recipe='{tmp_path / 'my plum.toml'}'"]


@pytest.mark.parametrize("command", ["--help", "replay {run} --config {rig} --jsonl -"])
def test_a_pipe_that_is_closed_early_is_no_error(command: str, run_file: Path) -> None:
    """`| head -1` ends it without a word."""
    line = command.format(run=run_file, rig=RIG)
    done = in_a_shell(f"$RIGMON {line} | head -1; exit ${{PIPESTATUS[0]}}")
    assert (done.returncode, done.stderr) == (0, b"")
    assert len(done.stdout.splitlines()) == 1


def test_a_terminal_without_the_degree_sign_shows_something(run_file: Path) -> None:
    """A question mark in its place, rather than an end."""
    done = in_a_shell(f"$RIGMON replay {run_file} --config {RIG}", PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"bath at best ?15.5 ?C" in done.stdout


def test_json_lines_are_utf_8_everywhere(run_file: Path) -> None:
    """JSON is read by programs, which expect nothing else."""
    line = f"$RIGMON replay {run_file} --config {RIG} --jsonl -"
    done = in_a_shell(line, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert '"note":"crème"' in done.stdout.decode()


def test_without_anywhere_to_write_it_still_does_its_work(run_file: Path, tmp_path: Path) -> None:
    """A service manager may have closed standard output."""
    log = tmp_path / "a.sqlite"
    done = in_a_shell(f"$RIGMON replay {run_file} --config {RIG} --log {log} >&-")
    assert done.returncode == 0
    assert log.exists()
