"""How far the clock had gone is written down where it matters, and only there."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import assume, given
from hypothesis import strategies as st

from rigmon.records import Item, Mark, MarkWord, Reading, RigSetup
from rigmon.store import ClockRow, Step, clocked, read_run, write_run


class Ticker:
    """The clock of a monitor: it ticks at every whole second that time has gone past."""

    def __init__(self) -> None:
        """Stand at the start of a run."""
        self.clock = 0.0
        self.heard: list[object] = []

    def advance(self, t: float) -> None:
        """Go on to a time."""
        self.heard += [s for s in range(int(t) + 1) if self.clock <= s < t]
        self.clock = max(self.clock, t)

    def feed(self, item: Item) -> None:
        """Go on to an item's time and take it."""
        self.advance(item.t)
        self.heard.append(item)

    def take(self, step: Step) -> None:
        """Do what a step says."""
        if isinstance(step, ClockRow):
            self.advance(step.t)
        else:
            self.feed(step)


times = st.integers(0, 9000).map(lambda ms: ms / 1000) | st.integers(0, 9).map(float)
moves = st.lists(st.tuples(st.sampled_from(["feed", "advance"]), times), max_size=30)


def live_run(moved: list[tuple[str, float]]) -> tuple[Ticker, list[tuple[float, Item]]]:
    """A clock moved live, and what the log keeps of it."""
    live = Ticker()
    fed: list[tuple[float, Item]] = []
    for what, t in moved:
        if what == "feed":
            reading = Reading(t, "bath", -15.0)
            fed.append((live.clock, reading))
            live.feed(reading)
        else:
            live.advance(t)
    return live, fed


@given(moves)
def test_replaying_the_steps_ticks_as_live(moved: list[tuple[str, float]]) -> None:
    """A fresh clock moved by the steps ticks between the same items as the live one did."""
    live, fed = live_run(moved)
    replay = Ticker()
    for step in clocked(fed, live.clock):
        replay.take(step)
    assert replay.heard == live.heard


@given(moves)
def test_replaying_an_exported_file_ticks_as_live(moved: list[tuple[str, float]]) -> None:
    """The same holds when the steps have gone through a run file."""
    live, fed = live_run(moved)
    assume(moved)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "run.csv"
        write_run(path, RigSetup(), fed, live.clock, as_celsius=lambda reading: reading.value)
        run = read_run(path, RigSetup())
    replay = Ticker()
    for step in run.items:
        replay.take(step)
    assert replay.heard == live.heard


def test_items_in_time_need_no_clock_rows() -> None:
    """A run in which nothing came late is written as its items and nothing else."""
    fed: list[tuple[float, Item]] = [
        (0.0, Mark(0.0, MarkWord.START)),
        (0.0, Reading(1.0, "bath", -15.0)),
        (1.0, Reading(1.0, "mix", 4.0)),
        (1.7, Reading(2.0, "bath", -15.1)),
    ]
    assert list(clocked(fed, 2.0)) == [item for _, item in fed]


def test_a_run_that_goes_on_past_its_last_item_ends_with_a_clock_row() -> None:
    """The end of the run is kept even if nothing came in at it."""
    assert list(clocked([], 3.5)) == [ClockRow(3.5)]
    assert list(clocked([], None)) == []
