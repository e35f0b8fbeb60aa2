"""Marks from another shell reach the running program, and are logged before they are answered."""

from __future__ import annotations

import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Rigmon, Start

MakeBoard = Callable[[str], "Board"]
MakeKitchen = Callable[["Board"], "Kitchen"]
Say = Callable[..., "Rigmon"]


def serial(board: Board) -> str:
    """The table of a rig on a board's port."""
    return f'source = "serial"\nport = "{board.port}"'


@pytest.fixture
def say(start: Start) -> Say:
    """Says a mark from another shell, and waits for the answer."""

    def mark(*words: str | Path, command: str = "mark") -> Rigmon:
        program = start(command, *words)
        program.end()
        return program

    return mark


def logged(path: Path) -> list[str]:
    """The marks in a log, as another program sees them."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as other:
        return [word for (word,) in other.execute("SELECT word FROM mark ORDER BY seq")]


def test_every_mark_is_answered_once_it_is_in_the_log(
    board: Board,
    make_kitchen: MakeKitchen,
    configure: Configure,
    start: Start,
    say: Say,
    tmp_path: Path,
) -> None:
    """The answer says what was understood; whoever reads it finds the mark in the log."""
    log, config = tmp_path / "runs.sqlite", configure(kitchen=serial(board))
    program = start("watch", "--config", config, "--jsonl", "-", "--log", log)
    assert board.heard(b"ping")
    assert say("note", "before the ice").out.seen == [
        "kitchen: Noted: note. No run is going on, so it is not kept."
    ]
    told: list[str] = []
    for words, facts in (
        (("ice-in", "ice_g=2600", "salt_g=650"), ("Bath",)),
        (("pour", "mix_g=1000"), ("poured", "round 1")),
        (("recharge", "ice_g=900", "salt_g=200"), ("900 g", "200 g")),
        (("undo",), ("Taken back", "recharge")),
        (("reading", "bath_c=-14.5"), ("bath", "14.5 °C")),
        (("note", "second bag of ice"), ("Noted",)),
        (("shelve", "bath-limit-near", "for_min=20"), ("bath-limit-near", "20 min")),
        (("ack",), ()),
    ):
        mark = say(*words)
        (answer,) = mark.out.seen
        assert answer.startswith("kitchen: ")
        assert [fact for fact in facts if fact not in answer] == []
        told.append(words[0])
        assert logged(log) == told
        program.said("mark", mark=words[0])
    begun = say("kitchen", "--recipe", "plain.toml", command="start")
    assert begun.out.seen[0].startswith("kitchen: Run kitchen-")
    assert program.said("mark", mark="start")["at"] == 0.0
    assert program.end(signal.SIGTERM) == 0


def test_a_mark_that_makes_no_sense_is_refused_with_a_sentence(
    board: Board, configure: Configure, start: Start, say: Say
) -> None:
    """Exit code 1 and the reason; a slip in the word or a detail is answered with the nearest."""
    start("watch", "--config", configure(kitchen=serial(board)), "--jsonl", "-", "--no-log")
    assert board.heard(b"ping")
    no_run = "no run is going on. A run begins with ice-in, pour or start."
    silent = "plateau-reached does not sound, so there is nothing to acknowledge."
    for words, sentence in (
        (("beat-stop",), f"The mark beat-stop was not taken: {no_run}"),
        (("undo",), f"The mark undo was not taken: {no_run}"),
        (
            ("poor",),
            "The mark was not taken: unknown mark 'poor'; the nearest known one is 'pour'.",
        ),
        (
            ("ice-in", "ice=3"),
            "The mark was not taken: unknown detail 'ice'; the nearest known one is 'ice_g'.",
        ),
        (
            ("ack", "plateau-reached"),
            f"The mark ack was not taken: {silent}",
        ),
    ):
        mark = say(*words)
        assert (mark.process.returncode, mark.out.seen) == (1, [])
        assert mark.err.seen == [f"rigmon: {sentence}"]
    lost = say("kitchen", "--recipe", "none.toml", command="start")
    assert lost.process.returncode == 1
    assert "The mark start was not taken: " in lost.err.seen[0]
    assert "none.toml" in lost.err.seen[0]


def test_with_nobody_watching_a_mark_has_nowhere_to_go(say: Say) -> None:
    """Exit code 3, and what to start."""
    mark = say("pour")
    assert mark.process.returncode == 3
    (sentence,) = mark.err.seen
    assert sentence.startswith("rigmon: No rigmon is watching: start `rigmon watch`")


def test_with_several_rigs_watched_a_mark_names_its_own(
    make_board: MakeBoard, configure: Configure, start: Start, say: Say, env: dict[str, str]
) -> None:
    """However many programs and rigs there are, a mark goes to the one named, or to none."""
    boards = {name: make_board(name) for name in ("left", "right", "third")}
    two = configure(left=serial(boards["left"]), right=serial(boards["right"]))
    programs = [start("watch", "--config", two, "--jsonl", "-", "--no-log")]
    assert boards["right"].heard(b"ping")
    one = configure(third=serial(boards["third"]))
    # Started by the system rather than from a shell, it has its door elsewhere.
    elsewhere = {"XDG_RUNTIME_DIR": ""}
    programs.append(start("watch", "--config", one, "--jsonl", "-", "--no-log", **elsewhere))
    assert boards["third"].heard(b"ping")
    refused = say("pour")
    assert refused.process.returncode == 2
    assert refused.err.seen == [
        "rigmon: Several rigs are watched (left, right, third): say which with --rig."
    ]
    unknown = say("pour", "--rig", "fourth")
    assert unknown.process.returncode == 2
    assert unknown.err.seen == [
        "rigmon: No rig 'fourth' is watched; watched are: left, right, third."
    ]
    for rig in boards:
        assert say("pour", "--rig", rig).out.seen == [f"{rig}: Mix poured; round 1."]
    assert [program.end(signal.SIGTERM) for program in programs] == [0, 0]
    assert list(Path(env["TMPDIR"]).iterdir()) == []
