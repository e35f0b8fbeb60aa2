"""The door for marks: who may come in, what is answered, and what is left behind."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from rigmon.errors import DeviceError, UsageError
from rigmon.service.doors import candidates, send_mark
from rigmon.service.inbox import Inbox

Answer = dict[str, Any]


@pytest.fixture
def asked() -> list[tuple[str | None, str]]:
    """What the inbox was asked."""
    return []


@pytest.fixture
def inbox(asked: list[tuple[str | None, str]]) -> Iterator[Inbox]:
    """An inbox for the rigs a and b."""

    def answer(rig: str | None, mark: str) -> Answer:
        asked.append((rig, mark))
        return {"ok": True, "rig": rig, "run": None, "text": "Understood."}

    opened = Inbox(["a", "b"], answer)
    yield opened
    opened.close()


def call(path: Path, data: bytes) -> bytes:
    """Send bytes to a door; gives what came back until it was closed."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as peer:
        peer.settimeout(10.0)
        peer.connect(str(path))
        peer.sendall(data)
        peer.shutdown(socket.SHUT_WR)
        return peer.makefile("rb").read()


def test_a_mark_goes_in_and_its_answer_comes_out(
    inbox: Inbox, asked: list[tuple[str | None, str]]
) -> None:
    """The text arrives as it was said, and so does the answer."""
    answer = send_mark('note note="crème, 5 °C"', "b")
    assert asked == [("b", 'note note="crème, 5 °C"')]
    assert answer == {"ok": True, "rig": "b", "run": None, "text": "Understood."}


def test_one_of_several_rigs_must_be_named(inbox: Inbox) -> None:
    """A mark for the wrong rig would be worse than none."""
    with pytest.raises(UsageError, match=r"Several rigs are watched \(a, b\): say which"):
        send_mark("pour")
    with pytest.raises(UsageError, match=r"No rig 'c' is watched; watched are: a, b\."):
        send_mark("pour", "c")


@pytest.mark.parametrize(
    "request_line",
    [
        b"\n",
        b"pour\n",
        b"\xff\n",
        b"[" * 9000 + b"\n",
        b"[]\n",
        b"{}\n",
        b'{"mark": 3, "rig": null}\n',
        b'{"mark": "pour", "rig": 3}\n',
        b'{"mark": "pour"}' + b" " * 20_000,
        b'{"mark": "pour", "rig": null}',
    ],
)
def test_odd_requests_are_answered_and_change_nothing(
    inbox: Inbox, asked: list[tuple[str | None, str]], request_line: bytes
) -> None:
    """Whatever comes in, the door stays open, and only a whole request is a mark."""
    assert json.loads(call(inbox.path, request_line)) == {
        "ok": False,
        "text": "The request was not understood.",
    }
    assert asked == []
    assert send_mark("pour", "a")["ok"]


def test_a_caller_who_says_nothing_holds_up_nobody_for_long(inbox: Inbox) -> None:
    """A shell that was stopped in the middle of a mark does not lock the others out."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as silent:
        silent.connect(str(inbox.path))
        assert send_mark("pour", "a")["ok"]


def test_only_its_owner_gets_in(inbox: Inbox) -> None:
    """Directory and socket are closed to others."""
    assert inbox.path.parent.stat().st_mode & 0o777 == 0o700
    assert inbox.path.stat().st_mode & 0o777 == 0o600


STRANGER = """
import os, socket, sys
os.setgroups([]); os.setgid(65534); os.setuid(65534)
peer = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
peer.connect(sys.argv[1])
try:
    peer.sendall(b'{"mark": "end", "rig": "a"}\\n')
    print(peer.recv(100))
except OSError as why:
    print(type(why).__name__)
"""


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become another user to try it")
def test_another_user_is_turned_away_even_at_an_open_door(
    inbox: Inbox, asked: list[tuple[str | None, str]]
) -> None:
    """Should the permissions be loosened, the kernel's word on who calls still counts."""
    for path in (inbox.path.parent.parent, inbox.path.parent, inbox.path):
        path.chmod(0o777)
    stranger = subprocess.run(
        [sys.executable, "-c", STRANGER, inbox.path], capture_output=True, text=True, check=True
    )
    assert stranger.stdout.strip() in {"b''", "ConnectionResetError", "BrokenPipeError"}
    assert asked == []
    inbox.path.parent.chmod(0o700)
    assert send_mark("pour", "a")["ok"]


def test_nothing_is_left_behind(private_doors: Path) -> None:
    """With the last door its directory goes too, in either place."""
    inbox = Inbox(["a"], lambda _rig, _mark: {})
    assert inbox.path.exists()
    inbox.close()
    assert list(private_doors.iterdir()) == []


def loosened(directory: Path) -> None:
    """Others may enter."""
    directory.mkdir()
    directory.chmod(0o755)


def not_a_directory(directory: Path) -> None:
    """A file stands there."""
    directory.write_text("mine")


def elsewhere(directory: Path) -> None:
    """A link leads away."""
    (directory.parent / "far").mkdir(mode=0o700, exist_ok=True)
    directory.symlink_to(directory.parent / "far")


def another_owner(directory: Path) -> None:
    """It belongs to somebody else."""
    directory.mkdir(mode=0o700)
    os.chown(directory, 65534, 65534)


@pytest.mark.parametrize(
    "spoil",
    [
        loosened,
        not_a_directory,
        elsewhere,
        pytest.param(
            another_owner,
            marks=pytest.mark.skipif(os.getuid() != 0, reason="only root can give a file away"),
        ),
    ],
)
def test_a_directory_that_others_could_use_is_refused(spoil: Callable[[Path], None]) -> None:
    """Neither the daemon nor a mark trusts it; the sentence says what to do."""
    for directory in candidates():
        spoil(directory)
    with pytest.raises(DeviceError, match=r"only you can enter; remove it, or set XDG_RUNTIME_DIR"):
        Inbox(["a"], lambda _rig, _mark: {})
    with pytest.raises(DeviceError, match=r"only you can enter; remove it, or set XDG_RUNTIME_DIR"):
        send_mark("pour")


def test_one_spoilt_directory_is_passed_over(asked: list[tuple[str | None, str]]) -> None:
    """The other place serves as well, for the daemon and for the mark."""
    loosened(candidates()[0])
    inbox = Inbox(["a"], lambda rig, _mark: {"ok": True, "rig": rig})
    try:
        assert inbox.path.parent == candidates()[1]
        assert send_mark("pour") == {"ok": True, "rig": "a"}
    finally:
        inbox.close()


def test_the_door_of_a_daemon_that_was_killed_is_taken_away(private_doors: Path) -> None:
    """Nobody stands behind it, so it is no reason to wait, nor to ask which rig."""
    directory = candidates()[0]
    directory.mkdir(mode=0o700)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as dead:
        dead.bind(str(directory / "1.sock"))
    with pytest.raises(DeviceError, match=r"No rigmon is watching"):
        send_mark("pour")
    assert list(directory.iterdir()) == []


def test_a_daemon_that_does_not_answer_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """It may be stopping, or its disk may be busy; that is not the same as nobody watching."""
    monkeypatch.setattr("rigmon.service.doors._PATIENCE_S", 0.2)
    directory = candidates()[0]
    directory.mkdir(mode=0o700)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as deaf:
        deaf.bind(str(directory / "1.sock"))
        deaf.listen()
        with pytest.raises(DeviceError, match=r"1\.sock does not answer"):
            send_mark("pour")


def test_many_marks_at_once_are_all_answered(
    inbox: Inbox, asked: list[tuple[str | None, str]]
) -> None:
    """Several shells may speak at the same moment."""
    answers: list[Answer] = []
    shells = [
        threading.Thread(target=lambda n=n: answers.append(send_mark(f"note {n}", "a")))
        for n in range(8)
    ]
    for shell in shells:
        shell.start()
    for shell in shells:
        shell.join()
    assert [answer["ok"] for answer in answers] == [True] * 8
    assert sorted(mark for _, mark in asked) == [f"note {n}" for n in range(8)]
