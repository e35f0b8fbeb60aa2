"""`rigmon watch` on real pseudo-terminals: what boards, cables and pipes do to it."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.records import LineForm, Reading
from rigmon.virtual.board import Board as Firmware
from rigmon.virtual.board import BoardSetup

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start

BATH_C, MIX_C = -14.25, 3.5
COLUMNS = 'columns = ["ms", "bath", "mix"]'
FORMS = {
    "senml": (BoardSetup(), 'format = "senml"', 0.01),
    "columns": (
        BoardSetup(form=LineForm.COLUMNS, columns=("ms", "bath", "mix"), checksum=True),
        f'format = "columns"\n{COLUMNS}\nchecksum = "required"',
        0.01,
    ),
    # The chip counts in quarters of a degree, its own temperature in sixteenths.
    "frames": (
        BoardSetup(form=LineForm.FRAMES, columns=("ms", "bath", "mix")),
        f'format = "frames"\n{COLUMNS}',
        0.125 + 0.0625,
    ),
}
GOOD = b'[{"bu":"Cel","n":"bath","v":-14.25},{"n":"mix","v":3.5}]\n'

MakeBoard = Callable[[str], "Board"]
MakeKitchen = Callable[["Board"], "Kitchen"]


def serial(board: Board, *more: str) -> str:
    """The table of a rig on a board's port."""
    return "\n".join(('source = "serial"', f'port = "{board.port}"', *more))


def test_every_form_of_line_gives_the_true_temperatures(
    make_board: MakeBoard, configure: Configure, start: Start
) -> None:
    """What the board measured is what the states say, also behind a chip's straight line."""
    boards = {form: make_board(form) for form in FORMS}
    tables = {form: serial(boards[form], table) for form, (_, table, _) in FORMS.items()}
    config = configure(**tables)
    program = start("watch", "--config", config, "--jsonl", "-", "--no-log")
    firmware = {form: Firmware(setup) for form, (setup, _, _) in FORMS.items()}
    for board in boards.values():
        assert board.heard(b"ping")
    unheard = set(FORMS)
    sampled = 0.0
    while unheard:
        sampled += 1.0
        readings = [Reading(sampled, "bath", BATH_C), Reading(sampled, "mix", MIX_C)]
        for form in FORMS:
            for line in firmware[form].lines(sampled, readings):
                boards[form].send(line)
        state = program.said("state")
        if state["mix_c"] is not None:
            within_k = FORMS[state["rig"]][2]
            assert state["bath_c"] == pytest.approx(BATH_C, abs=within_k)
            assert state["mix_c"] == pytest.approx(MIX_C, abs=within_k)
            unheard.discard(state["rig"])


def test_bad_lines_are_counted_and_end_nothing(
    board: Board, make_kitchen: MakeKitchen, configure: Configure, start: Start
) -> None:
    """Half lines, garbage, wrong checksums, an open circuit and a reset: told, and gone past."""
    config = configure(kitchen=serial(board))
    program = start("watch", "--debug", "--config", config, "--jsonl", "-", "--no-log")
    kitchen = make_kitchen(board)
    program.said("state", quality={"bath": "good", "mix": "good"})
    for line, what in (
        (b'h","v":-14.25}]\n\x1b[2Jgarbage\xff\n', "bad-line"),
        (b'[{"n":"bath","v":-14.25}]*00\n', "bad-checksum"),
        (b"ets Jul 29 2019 12:21:46,rst:0x1 (POWERON)\n", "board-reset"),
    ):
        board.send(line)
        program.said("problem", what=what)
    kitchen.broken = True
    assert program.said("problem", what="probe-fault")["probe"] == "mix"
    assert program.said("state", quality={"bath": "good", "mix": "fault"})["mix_c"] is not None
    kitchen.broken = False
    program.said("state", quality={"bath": "good", "mix": "good"})
    assert program.end(signal.SIGTERM) == 0
    told = "\n".join(program.err.seen)
    assert re.search(r"Heard \d+ lines with \d+ readings; 3 bad lines, 1 bad checksum\.", told)
    assert "not UTF-8 text: \\x1b[2Jgarbage" in told
    assert "\x1b" not in told


def test_one_port_is_lost_and_found_while_the_other_rig_goes_on(
    make_board: MakeBoard, make_kitchen: MakeKitchen, configure: Configure, start: Start
) -> None:
    """Unplugged and plugged in again under its name, a board is heard again; others never stop."""
    left, right = make_board("left"), make_board("right")
    config = configure(left=serial(left), right=serial(right))
    program = start("watch", "--config", config, "--jsonl", "-", "--no-log")
    kitchens = [make_kitchen(board) for board in (left, right)]
    program.said("state", rig="left", quality={"bath": "good", "mix": "good"})
    kitchens[0].stop()
    left.unplug()
    assert "looking for it again" in program.said("problem", rig="left", what="lost")["text"]
    program.said("state", rig="right", quality={"bath": "good", "mix": "good"})
    left.plug()
    make_kitchen(left)
    program.said("problem", rig="left", what="online")
    program.said("state", rig="left", quality={"bath": "good", "mix": "good"})
    assert program.end(signal.SIGTERM) == 0
    assert program.err.seen[-1].endswith("readings; 1 reconnect.")


@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 0), (signal.SIGHUP, 0)]
)
def test_it_stops_within_two_seconds(
    board: Board, configure: Configure, start: Start, number: signal.Signals, code: int
) -> None:
    """Ctrl-C, SIGTERM and a closed terminal end it, also while a port is being looked for."""
    program = start(
        "watch", "--config", configure(kitchen=serial(board)), "--jsonl", "-", "--no-log"
    )
    assert board.heard(b"ping")
    board.unplug()
    program.said("problem", what="lost")
    asked = time.monotonic()
    assert program.end(number) == code
    assert time.monotonic() - asked < 2.0


def test_a_reader_who_has_enough_ends_it_quietly(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    env: dict[str, str],
    tmp_path: Path,
) -> None:
    """`rigmon watch --jsonl - | head -2` ends, without a word and without an error."""
    config = configure(kitchen=serial(board))
    watch = '"$0" -m rigmon watch --config "$1" --no-log --no-page --jsonl -'
    pipe = f"{watch} | head -2; exit ${{PIPESTATUS[0]}}"
    with subprocess.Popen(
        ["bash", "-c", pipe, sys.executable, config],
        env=env,
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as shell:
        make_kitchen(board)
        out, err = shell.communicate(timeout=15.0)
    assert len(out.splitlines()) == 2
    assert shell.returncode == 0
    assert err.splitlines()[0] == "Nothing is kept. Ctrl-C stops."
    assert err.splitlines()[1].startswith("Heard ")
    assert len(err.splitlines()) == 2


def test_words_that_cannot_be_written_are_missed_and_the_watching_goes_on(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    start: Start,
    tmp_path: Path,
) -> None:
    """A full disk under the JSON lines is told at the end; the run is in the log all the same."""
    program = start(
        "watch",
        "--config",
        configure(kitchen=serial(board)),
        "--jsonl",
        "/dev/full",
        "--log",
        tmp_path / "runs.sqlite",
    )
    assert board.heard(b"ping")
    make_kitchen(board)
    mark = start("mark", "note", "still here")
    assert mark.end() == 0
    assert program.end(signal.SIGTERM) == 1
    assert program.err.seen[-1] == (
        "rigmon: What was said could not be written: No space left on device."
    )


def test_the_virtual_rig_says_so(configure: Configure, start: Start) -> None:
    """Asked for in a configuration it is watched like any other, and every line owns up to it."""
    config = configure(show='source = "virtual"\nseed = 3')
    program = start("watch", "--config", config, "--no-log", "--jsonl", "-")
    assert program.said("mark", mark="ice-in")["virtual"] is True
    assert program.said("state", stage="ready", round=0)["virtual"] is True
    assert program.end(signal.SIGTERM) == 0
    assert any("virtual rig" in line for line in program.err.seen)
