"""Outlets that reach out: each in its own time, none in the way of the watching."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.config import Command, Outlets
from rigmon.errors import DeviceError, RigmonError
from rigmon.outlets.message import Message
from rigmon.records import Alarm, AlarmSetting, AlarmState, Priority, Said, State
from rigmon.service import posts as posts_module
from rigmon.service.daemon import Daemon
from rigmon.service.doors import ask_outlets, send_mark
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.posts import KEPT, Post, Posts
from rigmon.service.prepare import Rig
from rigmon.service.trying import last_results
from rigmon.store import RunLog

if TYPE_CHECKING:
    from tests.service.conftest import Handy

WAIT_S = 10.0


def message(code: str = "ice-gone", state: AlarmState = AlarmState.UNACKNOWLEDGED) -> Message:
    """An alarm on its way."""
    return Message("slip", "slip-1", False, Alarm(1.0, code, Priority.LOW, state, f"Do {code}."))


class Planned:
    """A sender that fails as planned, and then sends."""

    name = "webhook x"

    def __init__(self, *plan: RigmonError | Exception) -> None:
        self.sent: list[str] = []
        self.tries = 0
        self.let_go = threading.Event()
        self.let_go.set()
        self.busy = threading.Event()
        self._plan = list(plan)
        self._news = threading.Condition()

    def wants(self, message: Message) -> bool:
        """All that sound."""
        return message.alarm.state is AlarmState.UNACKNOWLEDGED

    def send(self, message: Message) -> str:
        """Fail or send, once it is let go."""
        self.busy.set()
        self.let_go.wait(WAIT_S)
        self.tries += 1
        if self._plan:
            raise self._plan.pop(0)
        with self._news:
            self.sent.append(message.alarm.code)
            self._news.notify_all()
        return "sent"

    def until(self, n: int) -> list[str]:
        """What was sent, once it is so many."""
        with self._news:
            assert self._news.wait_for(lambda: len(self.sent) >= n, WAIT_S), self.sent
            return self.sent


Made = Callable[[Planned], tuple[Post, list[tuple[bool, str]]]]


@pytest.fixture
def make() -> Iterator[Made]:
    """Makes the thread of a sender; with what it reports."""
    made: list[tuple[Post, Planned]] = []

    def start(sender: Planned) -> tuple[Post, list[tuple[bool, str]]]:
        told: list[tuple[bool, str]] = []
        post = Post(sender, lambda _name, ok, text: told.append((ok, text)), 0.001)
        made.append((post, sender))
        return post, told

    yield start
    for post, sender in made:
        sender.let_go.set()
        post.close()


def test_an_alarm_is_tried_until_it_has_gone(make: Made) -> None:
    """In their order; from the third failure on the outlet counts as failed, until one goes."""
    sender = Planned(*[DeviceError("Nobody there.")] * 4)
    post, told = make(sender)
    post.put(message("a"))
    post.put(message("b", AlarmState.RETURNED))
    post.put(message("c"))
    assert sender.until(2) == ["a", "c"]
    assert sender.tries == 6
    post.close()
    assert told == [(False, "Nobody there. Trying on.")] * 2 + [(True, "sent.")] * 2


@pytest.mark.parametrize(
    ("why", "says"),
    [
        (RigmonError("No such page."), "No such page."),
        (ValueError("oops"), "a fault of its own: ValueError: oops."),
    ],
)
def test_what_no_other_try_would_help_is_not_tried_again(
    make: Made, why: Exception, says: str
) -> None:
    """The next alarm is."""
    sender = Planned(why)
    post, told = make(sender)
    post.put(message("a"))
    post.put(message("b"))
    assert sender.until(1) == ["b"]
    post.close()
    assert told == [(False, says), (True, "sent.")]


def test_so_many_alarms_wait_and_no_more(make: Made) -> None:
    """The oldest give way, and it is said how many."""
    sender = Planned()
    sender.let_go.clear()
    post, told = make(sender)
    post.put(message("first"))
    assert sender.busy.wait(WAIT_S)
    for n in range(KEPT + 3):
        post.put(message(str(n)))
    sender.let_go.set()
    assert sender.until(1 + KEPT)[:2] == ["first", "3"]
    post.close()
    assert told[-1] == (True, "sent. 3 older alarms gave way.")


def test_what_waits_is_sent_before_the_end_and_not_waited_for(make: Made) -> None:
    """A sender that works sends on; one that does not is left after its next try."""
    works, fails = Planned(), Planned(*[DeviceError("Nobody there.")] * 1000)
    for sender in (works, fails):
        post, _ = make(sender)
        for n in range(20):
            post.put(message(str(n)))
        post.close()
    assert len(works.sent) == 20
    assert fails.sent == []


class Waiting:
    """An outlet on the screen that waits for what is wanted."""

    def __init__(self) -> None:
        self._heard: list[Said] = []
        self._news = threading.Condition()

    def tell(self, _rig_id: str, said: Said) -> None:
        """Remember, and wake who waits."""
        with self._news:
            self._heard.append(said)
            self._news.notify_all()

    def close(self) -> None:
        """Nothing to do."""

    def until(self, wanted: Callable[[Said], bool]) -> Said:
        """The first thing said that is wanted."""
        with self._news:
            assert self._news.wait_for(lambda: any(map(wanted, self._heard)), WAIT_S)
            return next(filter(wanted, self._heard))


@contextmanager
def watching(daemon: Daemon, source: Handy) -> Iterator[None]:
    """The daemon in a thread, from when its sources run."""
    thread = threading.Thread(target=daemon.run, daemon=True)
    thread.start()
    try:
        assert source.started.wait(WAIT_S)
        yield
    finally:
        daemon.stop()
        thread.join(WAIT_S)
    assert not thread.is_alive()


def is_alarm(code: str) -> Callable[[Said], bool]:
    """Whether it is an alarm of that code."""
    return lambda said: isinstance(said, Alarm) and said.code == code


def test_an_outlet_that_hangs_delays_nothing(
    monkeypatch: pytest.MonkeyPatch, rig: Rig, source: Handy, keeper: LogKeeper
) -> None:
    """States go on each second while it hangs with an alarm."""
    sender, face = Planned(), Waiting()
    sender.let_go.clear()
    monkeypatch.setattr(posts_module, "senders", lambda _outlets: [sender])
    posts = Posts(Outlets(), [rig])
    with watching(Daemon([rig], [source], [face], keeper, posts=posts), source):
        assert send_mark("pour")["ok"]
        posts.tell("slip", "slip-1", message().alarm)
        assert sender.busy.wait(WAIT_S)
        first = face.until(lambda said: isinstance(said, State))
        face.until(lambda said: isinstance(said, State) and said.at >= first.at + 2.0)
        assert sender.sent == []
        sender.let_go.set()


def test_an_outlet_that_fails_is_an_alarm_and_its_result_is_kept(
    rig: Rig, source: Handy, keeper: LogKeeper, log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of low priority; whoever asks is told by the running program, and later by the log."""
    face = Waiting()
    at_once = replace(rig.setup, alarms={"outlet-failed": AlarmSetting(on_delay_s=0.0)})
    rig = replace(rig, setup=at_once)
    posts = Posts(Outlets(commands=(Command("lamp", ("/nowhere/lamp",)),)), [rig])
    with watching(Daemon([rig], [source], [face], keeper, posts=posts), source):
        assert send_mark("pour")["ok"]
        posts.tell("slip", "slip-1", message().alarm)
        alarm = face.until(is_alarm("outlet-failed"))
        assert isinstance(alarm, Alarm)
        assert alarm.priority is Priority.LOW
        assert "command lamp: /nowhere/lamp cannot be run" in alarm.text
        (told,) = ask_outlets()
        assert (told["outlet"], told["ok"]) == ("command lamp", False)
    assert ask_outlets() == []
    kept = last_results(Path(log.path))["command lamp"]
    assert (kept["ok"], kept["text"]) == (False, told["text"])
    with RunLog(log.path) as again:
        (row,) = again.runs()
        lines = [json.loads(line) for line in again.said(row.header.id)]
    assert {"outlet"} <= {line["type"] for line in lines}
