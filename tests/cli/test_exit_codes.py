"""Whatever is wrong is told in a sentence or two, with the exit code of its kind."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import serial

from rigmon.sources import list_ports_text
from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

RigFile = Callable[[str], Path]
SLIP = data_folder() / "rigs" / "slip.toml"

RUN = """time_s,bath_c,mix_c,mark,by,detail
0,-15,4.0,pour,maker,mix_g=1000
1,-15,cold,,,
2,-15,3.9,,,
"""


@pytest.fixture
def port() -> Iterator[str]:
    """A port that is there."""
    ends = os.openpty()
    yield os.ttyname(ends[1])
    for end in ends:
        os.close(end)


def test_watch_without_a_rig_lists_the_ports(rigmon: Rigmon) -> None:
    """It says what it needs, and what there is to be watched."""
    told = rigmon("watch")
    assert told.code == 2
    assert told.err.startswith("rigmon: watch needs a rig: give --config RIG.toml, or try")
    assert told.err.endswith(f"{list_ports_text()}\n")


def test_a_rig_without_a_source_lists_the_ports(rigmon: Rigmon, tmp_path: Path) -> None:
    """A configuration that names no source is half a configuration."""
    (tmp_path / "rig.toml").write_text('[rigs.kitchen]\nmixer = "old"\n')
    told = rigmon("watch", "--config", "rig.toml")
    assert told.code == 2
    assert told.err.startswith("rigmon: rig.toml: rigs.kitchen has no source: write source = ")
    assert told.err.endswith(f"{list_ports_text()}\n")


def test_a_configuration_without_a_rig_says_so(rigmon: Rigmon, tmp_path: Path) -> None:
    """An empty file is no rig."""
    (tmp_path / "rig.toml").write_text("")
    told = rigmon("watch", "--config", "rig.toml")
    assert told.code == 2
    assert "The configuration has no rig: add a table [rigs.kitchen]" in told.err


def test_a_missing_port_lists_those_that_exist(rigmon: Rigmon, rig_file: RigFile) -> None:
    """The board may just hang on another name."""
    told = rigmon("watch", "--config", rig_file("/dev/no-such-port"), "--no-log")
    assert told.code == 3
    assert told.err == f"rigmon: There is no port /dev/no-such-port. {list_ports_text()}\n"


def test_a_busy_port_names_who_holds_it(rigmon: Rigmon, rig_file: RigFile, port: str) -> None:
    """Here it is the test's own process."""
    with serial.Serial(port, exclusive=True):
        told = rigmon("watch", "--config", rig_file(port), "--no-log")
    assert told.code == 3
    assert f"{port} is held by" in told.err
    assert f"(process {os.getpid()})" in told.err


def test_a_broker_that_is_not_there_is_told(rigmon: Rigmon, tmp_path: Path) -> None:
    """Nobody listens on that port."""
    with closing(socket.create_server(("127.0.0.1", 0))) as server:
        number = server.getsockname()[1]
    broker = f'source = "mqtt"\nbroker = "127.0.0.1:{number}"'
    (tmp_path / "rig.toml").write_text(f"[rigs.kitchen]\n{broker}\n")
    told = rigmon("watch", "--config", "rig.toml", "--no-log")
    assert told.code == 3
    assert told.err == (
        f"rigmon: No broker answers at 127.0.0.1:{number}: the connection was refused. "
        "Is it running there?\n"
    )


def test_a_wrong_key_is_told_by_line_and_nearest_name(rigmon: Rigmon, tmp_path: Path) -> None:
    """A slip of the pen is found at once."""
    (tmp_path / "rig.toml").write_text('[rigs.kitchen]\nsource = "serial"\nprot = "/dev/x"\n')
    told = rigmon("watch", "--config", "rig.toml")
    assert told.code == 2
    assert "rig.toml:3 rigs.kitchen.prot" in told.err
    assert "port" in told.err


def test_an_unknown_alarm_is_told_by_its_nearest_name(rigmon: Rigmon, tmp_path: Path) -> None:
    """The table of alarms is the program's, not the configuration's."""
    (tmp_path / "rig.toml").write_text("[rigs.kitchen]\n[alarms.plateau-reachd]\nenabled = false\n")
    told = rigmon("watch", "--config", "rig.toml")
    assert told.code == 2
    assert "plateau-reached" in told.err


def test_an_unknown_ingredient_is_told_with_the_nearest_three(
    rigmon: Rigmon, rig_file: RigFile, port: str, tmp_path: Path
) -> None:
    """File and line of the slip, and what may have been meant."""
    recipe = tmp_path / "plum.toml"
    lines = ("[[ingredient]]", 'name = "sugar"', "grams = 100", 'name = "hole milk"')
    recipe.write_text("\n".join((*lines[:3], lines[0], lines[3], lines[2])))
    told = rigmon("watch", "--config", rig_file(port), "--recipe", recipe)
    assert told.code == 2
    assert "plum.toml:5" in told.err
    assert "unknown ingredient 'hole milk'; the nearest are 'whole milk', " in told.err
    assert told.err.partition("the nearest are ")[2].count("'") == 6


def test_a_bad_row_is_told_by_its_line_or_left_out(rigmon: Rigmon, tmp_path: Path) -> None:
    """--skip-bad keeps the rest and says what it left out."""
    (tmp_path / "run.csv").write_text(RUN)
    told = rigmon("replay", "run.csv", "--jsonl", "-")
    assert (told.code, told.out) == (2, "")
    assert told.err == (
        "rigmon: run.csv:3 mix_c: found 'cold', a number, nan or open, short-gnd, short-vcc is "
        "needed\n"
    )
    skipped = rigmon("replay", "run.csv", "--skip-bad", "--jsonl", "-")
    assert skipped.code == 0
    assert skipped.err == told.err.removeprefix("rigmon: ")
    assert skipped.out.splitlines()[-1].startswith('{"type":"summary","at":2.0')


def test_a_run_that_is_not_there_is_told(rigmon: Rigmon, run_file: Path) -> None:
    """No log, no run, or another name."""
    assert rigmon("export", "last", "out.csv").code == 1
    assert rigmon("replay", run_file, "--config", SLIP, "--log", "a.sqlite").code == 0
    told = rigmon("export", "slap", "out.csv", "--log", "a.sqlite")
    assert told.code == 2
    assert told.err.startswith("rigmon: There is no run 'slap' in the log; the nearest are slip-")


def test_an_export_overwrites_nothing_unasked(
    rigmon: Rigmon, run_file: Path, tmp_path: Path
) -> None:
    """Neither the run file nor the configuration beside it."""
    rigmon("replay", run_file, "--config", SLIP, "--log", "a.sqlite")
    (tmp_path / "mine.toml").write_text("mine")
    told = rigmon("export", "last", "mine.csv", "--log", "a.sqlite")
    assert told.code == 2
    assert told.err == "rigmon: mine.toml is there already: name another, or give --overwrite\n"
    assert (tmp_path / "mine.toml").read_text() == "mine"
    assert not (tmp_path / "mine.csv").exists()
    assert rigmon("export", "last", "mine.csv", "--log", "a.sqlite", "--overwrite").code == 0
    assert (tmp_path / "mine.toml").read_text() != "mine"


@pytest.mark.parametrize("words", [("watch", "--plian"), ("wacth",), ("demo", "--speed", "fast")])
def test_an_unknown_option_or_command_is_told(rigmon: Rigmon, words: tuple[str, ...]) -> None:
    """Usage errors have the code of usage errors, and say where help is."""
    told = rigmon(*words)
    assert told.code == 2
    assert told.err.startswith("Usage: rigmon")
    assert "Error: " in told.err


@pytest.mark.parametrize("words", [("pour",), ("recharge", "ice_g=900")])
def test_a_mark_without_a_daemon_cannot_be_delivered(
    rigmon: Rigmon, words: tuple[str, ...]
) -> None:
    """That is a device that cannot be reached."""
    told = rigmon("mark", *words)
    assert told.code == 3
    assert told.err.startswith("rigmon: No rigmon is watching")


def test_a_log_that_cannot_be_written_at_the_start_says_what_to_do(
    rigmon: Rigmon, rig_file: RigFile, port: str, tmp_path: Path
) -> None:
    """The maker is told before the ice melts; demo has no --no-log to offer."""
    (tmp_path / "file").write_text("")
    watch = rigmon("watch", "--config", rig_file(port), "--log", "file/in/runs.sqlite")
    assert watch.code == 1
    assert watch.err == (
        "rigmon: The run log file/in/runs.sqlite cannot be opened: Not a directory. "
        "Give another place with --log, or keep nothing: --no-log.\n"
    )
    demo = rigmon("demo", "--log", "file/in/runs.sqlite")
    assert demo.code == 1
    assert demo.err.endswith("Give another place with --log.\n")


def test_json_lines_that_cannot_be_written_are_refused_at_the_start(
    rigmon: Rigmon, rig_file: RigFile, port: str
) -> None:
    """Not after a run has begun."""
    told = rigmon(
        "watch", "--config", rig_file(port), "--log", "a.sqlite", "--jsonl", "none/words.jsonl"
    )
    assert told.code == 2
    assert told.err == (
        "rigmon: none/words.jsonl cannot be written (No such file or directory): name another "
        "file, or - for the terminal.\n"
    )


def test_a_full_disk_under_a_replays_words_is_told(rigmon: Rigmon, run_file: Path) -> None:
    """Any other fault of a file is a sentence as well."""
    told = rigmon("replay", run_file, "--jsonl", "/dev/full")
    assert told.code == 1
    assert told.err == "rigmon: A file or device failed: No space left on device.\n"


def test_debug_shows_where_it_happened_wherever_it_stands(rigmon: Rigmon) -> None:
    """Before the command or behind it, as it comes to hand."""
    for words in (("--debug", "watch"), ("watch", "--debug")):
        told = rigmon(*words)
        assert told.code == 2
        assert "Traceback" in told.err
        assert "rigmon: watch needs a rig" in told.err


def test_a_fault_of_its_own_is_owned_up_to(rigmon: Rigmon, monkeypatch: pytest.MonkeyPatch) -> None:
    """What nobody foresaw is told without a traceback, and how to get one."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError("ice over salt")

    monkeypatch.setattr("rigmon.store.log.default_log_path", fail)
    told = rigmon("runs")
    assert told.code == 1
    assert told.err == (
        "rigmon: a fault of its own: ZeroDivisionError: ice over salt. The log keeps what was "
        "written; run it again with --debug to see where.\n"
    )
