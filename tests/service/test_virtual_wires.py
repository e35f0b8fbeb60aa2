"""The virtual rig behind its two wires: no line is lost on the way, and nothing is left open."""

from __future__ import annotations

import json
import queue
import threading
from collections.abc import Callable

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    Mark,
    MarkWord,
    Priority,
    Reading,
    SourceNews,
)
from rigmon.service.clock import Clock
from rigmon.service.virtual_source import VirtualSource
from rigmon.service.virtual_wires import BrokerWire, PtyWire, Wire
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.session import VirtualSession

WAIT_S = 20.0
SPEED = 240.0
"""Twice what `rigmon demo` allows."""

Item = Reading | Mark | SourceNews


class Counting:
    """A wire that counts the readings which go into it, and notices what comes back."""

    def __init__(self, wire: Wire) -> None:
        self.wire = wire
        self.source = wire.source
        self.where = wire.where
        self.sent = 0
        self.came_back = threading.Event()
        self.back: list[bytes] = []

    def send(self, line: bytes) -> None:
        """Count, and send."""
        if line.startswith(b"["):
            self.sent += len(json.loads(line))
        self.wire.send(line)

    def heard(self) -> list[bytes]:
        """What came back."""
        lines = self.wire.heard()
        self.back += [line for line in lines if line != b"ping"]
        if self.back:
            self.came_back.set()
        return lines

    def close(self) -> None:
        """Cut the wire."""
        self.wire.close()


def pty(session: VirtualSession) -> Wire:
    """A pseudo-terminal."""
    return PtyWire("demo", session.board.setup)


def broker(_: VirtualSession) -> Wire:
    """A broker of its own."""
    return BrokerWire("demo")


@pytest.mark.parametrize("lay", [pty, broker])
def test_every_reading_arrives(lay: Callable[[VirtualSession], Wire]) -> None:
    """A batch at twice the greatest speed: what the board wrote is what was heard."""
    session = VirtualSession(demo_scenario(), 7)
    wire = Counting(lay(session))
    came: queue.SimpleQueue[Item] = queue.SimpleQueue()
    source = VirtualSource("demo", session, wire, Clock(SPEED))
    source.start(lambda _rig, item: came.put(item), Clock().now)
    done: list[MarkWord] = []

    def until(word: MarkWord) -> None:
        while word not in done:
            item = came.get(timeout=WAIT_S)
            done.extend([item.word] if isinstance(item, Mark) else [])

    try:
        until(MarkWord.BEAT_START)
        stop = Alarm(0.0, "plateau-reached", Priority.HIGH, AlarmState.UNACKNOWLEDGED, "")
        source.tell("demo", stop)
        until(MarkWord.END)
        while source.counts().readings < wire.sent:
            came.get(timeout=WAIT_S)
    finally:
        source.stop()
    counts = source.counts()
    assert counts.readings == wire.sent > 0
    assert counts.bad_lines == counts.duplicates == 0
    assert [word.value for word in done] == ["ice-in", "pour", "beat-start", "beat-stop", "end"]


@pytest.mark.parametrize("lay", [pty, broker])
def test_a_cue_reaches_the_virtual_board(lay: Callable[[VirtualSession], Wire]) -> None:
    """The buzzer at the bowl is told through the very wire that brings the readings.

    A broker that comes up just then has it told once more.
    """
    session = VirtualSession(demo_scenario(), 7)
    wire = Counting(lay(session))
    source = VirtualSource("demo", session, wire, Clock())
    source.start(lambda _rig, _item: None, Clock().now)
    source.cue("demo", "high", "plateau-reached")
    try:
        assert wire.came_back.wait(WAIT_S)
    finally:
        source.stop()
    assert set(wire.back) == {b"cue high plateau-reached"}


def test_a_second_stop_does_nothing() -> None:
    """Whoever stops last, the wire is cut once."""
    session = VirtualSession(demo_scenario(), 7)
    source = VirtualSource("demo", session, pty(session), Clock())
    source.stop()
    source.stop()
