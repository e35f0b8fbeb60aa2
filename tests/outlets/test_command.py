"""A program run for each alarm."""

from __future__ import annotations

import json
import os
import select
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rigmon.config import Command
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.command import CommandSender, arguments
from rigmon.outlets.message import Message
from rigmon.records import Alarm, AlarmState, Priority

MakeAlarm = Callable[..., Alarm]

HOSTILE = (
    "; rm -rf ~",
    "$(touch owned) `touch owned`",
    "--option",
    "{rig} {code}",
    "two\nlines \0 and \"quotes' & | > owned",
    "",
    "°C – ice",
)


def message(text: str) -> Message:
    """An alarm that says this."""
    alarm = Alarm(1.0, "ice-gone", Priority.LOW, AlarmState.UNACKNOWLEDGED, text)
    return Message("kitchen", "kitchen-1", False, alarm)


@pytest.mark.parametrize("text", HOSTILE)
def test_words_arrive_as_they_are_and_nothing_is_run_by_them(tmp_path: Path, text: str) -> None:
    """Each argument stays one argument, whatever is in it, and the input is the alarm as JSON."""
    seen = tmp_path / "seen"
    writes = "import json, pathlib, sys; pathlib.Path(sys.argv[1]).write_text(json.dumps("
    run = (sys.executable, "-c", f"{writes}[sys.argv[2:], sys.stdin.read()]))", str(seen))
    said = CommandSender(Command("x", (*run, "{text}", "{code}/{priority}"))).send(message(text))
    words, given = json.loads(seen.read_text())
    assert said == f"{sys.executable} ran"
    assert words == [text.replace("\0", ""), "ice-gone/low"]
    assert json.loads(given) == json.loads(message(text).as_json())
    assert list(tmp_path.iterdir()) == [seen]


def test_a_virtual_rig_is_named_as_one(make_alarm: MakeAlarm) -> None:
    """Whoever hears it knows that it is no kitchen."""
    assert arguments(("{rig}",), Message("demo", None, True, make_alarm())) == ["demo, virtual rig"]


@pytest.mark.parametrize(
    ("run", "says"),
    [
        (("/nowhere/lamp",), "/nowhere/lamp cannot be run: No such file or directory"),
        (("sh", "-c", "echo first >&2; echo no lamp >&2; exit 3"), "exit code 3: no lamp"),
        (("sh", "-c", "kill -9 $$"), "exit code -9"),
    ],
)
def test_a_program_that_fails_is_told_and_not_run_again(run: tuple[str, ...], says: str) -> None:
    """Another try would not help, so it is no matter of reaching a device."""
    with pytest.raises(RigmonError, match=says) as raised:
        CommandSender(Command("x", run), 2.0).send(message("Add ice."))
    assert not isinstance(raised.value, DeviceError)


def test_a_program_that_hangs_is_ended_with_its_children(tmp_path: Path) -> None:
    """None of them lives on: the last that held the pipe has let go of it."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    end = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    run = ("sh", "-c", f"sleep 60 > {pipe} & echo up > {pipe}; sleep 60")
    began = time.monotonic()
    with pytest.raises(RigmonError, match=r"sh did not end within 0.5 s and was ended"):
        CommandSender(Command("x", run), 0.5).send(message("Add ice."))
    assert time.monotonic() - began < 5.0
    assert os.read(end, 100) == b"up\n"
    assert select.select([end], [], [], 5.0)[0] == [end]
    assert os.read(end, 100) == b""
    os.close(end)
