"""The virtual rig behind its two wires: no line is lost on the way, and nothing is left open."""

from __future__ import annotations

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
    """A wire that counts the lines of readings which go into it."""

    def __init__(self, wire: Wire) -> None:
        self.wire = wire
        self.source = wire.source
        self.where = wire.where
        self.sent = 0

    def send(self, line: bytes) -> None:
        """Count, and send."""
        self.sent += line.startswith(b"[")
        self.wire.send(line)

    def heard(self) -> list[bytes]:
        """What came back."""
        return self.wire.heard()

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
def test_every_line_arrives(lay: Callable[[VirtualSession], Wire]) -> None:
    """The whole of round 1 at twice the greatest speed: what the board wrote is what was heard."""
    session = VirtualSession(demo_scenario(), 7)
    wire = Counting(lay(session))
    came: queue.SimpleQueue[Item] = queue.SimpleQueue()
    source = VirtualSource("demo", session, wire, Clock(SPEED))
    source.start(lambda _rig, item: came.put(item), Clock().now)
    marks: list[MarkWord] = []
    try:
        while not marks or marks[-1] is not MarkWord.BEAT_START:
            item = came.get(timeout=WAIT_S)
            if isinstance(item, Mark):
                marks.append(item.word)
        source.tell("demo", Alarm(0.0, "plateau-reached", Priority.HIGH, AlarmState.UNACKNOWLEDGED, ""))
        while marks[-1] is not MarkWord.END:
            item = came.get(timeout=WAIT_S)
            if isinstance(item, Mark):
                marks.append(item.word)
        while source.counts().readings < 2 * wire.sent - 5 or source.counts().lines < wire.sent:
            came.get(timeout=WAIT_S)
    finally:
        source.stop()
    counts = source.counts()
    assert counts.bad_lines == counts.duplicates == 0
    # The broker's own note on the board's state is a message as well.
    assert counts.lines - wire.sent in {0, 1}
    assert marks == [
        MarkWord.ICE_IN,
        MarkWord.POUR,
        MarkWord.BEAT_START,
        MarkWord.BEAT_STOP,
        MarkWord.END,
    ]


def test_a_cue_reaches_the_virtual_board() -> None:
    """The buzzer at the bowl is told through the very wire that brings the readings."""
    for lay in (pty, broker):
        session = VirtualSession(demo_scenario(), 7)
        online = threading.Event()
        source = VirtualSource("demo", session, lay(session), Clock())
        source.start(lambda _rig, _item: online.set(), Clock().now)
        try:
            assert online.wait(WAIT_S)
            source.cue("demo", "high", "plateau-reached")
            heard = threading.Event()
            for _ in range(200):
                if session.board.cues or heard.wait(0.05):
                    break
        finally:
            source.stop()
        assert session.board.cues == ["high plateau-reached"]


def test_a_second_stop_does_nothing() -> None:
    """Whoever stops last, the wire is cut once."""
    session = VirtualSession(demo_scenario(), 7)
    source = VirtualSource("demo", session, pty(session), Clock())
    source.stop()
    source.stop()
