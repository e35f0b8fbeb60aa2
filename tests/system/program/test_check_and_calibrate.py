"""`rigmon check` and `rigmon calibrate` as programs, on a board at a pseudo-terminal."""

from __future__ import annotations

import json
import signal
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start

PROBES = "".join(
    f'\n[[rigs.kitchen.probe]]\nname = "{name}"\ntype = "T"' for name in ("bath", "mix")
)
SERIAL = 'source = "serial"\nport = "{port}"' + PROBES


def test_a_rig_is_checked(
    board: Board,
    make_kitchen: Callable[[Board], Kitchen],
    configure: Configure,
    start: Start,
) -> None:
    """One line a finding, each with its sign and word; nothing is wrong, so it ends with 0."""
    make_kitchen(board)
    path = configure(kitchen=SERIAL.format(port=board.port))
    program = start("check", "--config", path, "--seconds", "2", "--log", "runs.sqlite")
    assert program.end() == 0
    lines = program.out.rest()
    assert all(line.split(maxsplit=2)[:2] in (["+", "ok"], ["~", "look"]) for line in lines)
    text = "\n".join(lines)
    for found in ("can be opened", "bath −1", "begins to freeze at", "GB free"):
        assert found in text


def test_an_ice_point_corrects_the_next_watch(
    board: Board, configure: Configure, start: Start
) -> None:
    """Kept samples of two minutes come at once; the watch that follows says what it corrects."""
    path = configure(kitchen=SERIAL.format(port=board.port))
    given = ("--config", path, "--log", "runs.sqlite")

    def sends() -> None:
        assert board.heard(b"ping")
        for first in range(-125, 0, 5):
            pack: list[dict[str, object]] = []
            for t in range(first, first + 5):
                bath, mix = 0.4 + 0.0625 * (t % 2), -0.25 + 0.0625 * (t % 3)
                pack += [{"n": "bath", "t": t, "v": bath}, {"n": "mix", "t": t, "v": mix}]
            pack[0] |= {"bu": "Cel"}
            board.send(json.dumps(pack).encode() + b"\n")

    thread = threading.Thread(target=sends)
    thread.start()
    program = start("calibrate", "ice", *given, "--wait", "20")
    assert program.end() == 0
    thread.join(5.0)
    text = "\n".join(program.out.rest())
    assert "bath reads 0.43 °C where it is 0.00 °C: corrected by −0.43 K" in text
    assert "Kept in runs.sqlite" in text
    watch = start("watch", *given, "--plain", "--no-page")
    watch.err.until(lambda line: "kitchen: bath is corrected by −0.43 K" in line)
    watch.err.until(lambda line: "kitchen: mix is corrected by +0.19 K" in line)
    watch.err.until(lambda line: "Ctrl-C stops" in line)
    watch.out.until(lambda line: "listening on" in line)
    assert watch.end(signal.SIGINT) == 130
