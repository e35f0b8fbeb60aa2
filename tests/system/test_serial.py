"""A serial source on real pseudo-terminals, with all that boards and cables do to it."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest

from rigmon.records import ChecksumRule, Fault, LineForm, Mark, Reading, SerialLink, SourceNews
from rigmon.sources import SerialSource, checksum
from rigmon.sources.serial_port import open_port

if TYPE_CHECKING:
    from tests.system.conftest import Board

WAIT_S = 10.0
LINE = b'[{"bn":"rig-a/","bu":"Cel","n":"bath","v":-14.25},{"n":"mix","v":3.5}]\n'

Item = Reading | Mark | SourceNews


class Watcher:
    """Takes what a source puts, and waits for what is expected."""

    def __init__(self) -> None:
        self.items: list[Item] = []
        self._queue: queue.Queue[Item] = queue.Queue()

    def put(self, rig: str, item: Item) -> None:
        """Take an item."""
        assert rig == "rig-a"
        self._queue.put(item)

    def until(self, wanted: Callable[[Item], bool]) -> Item:
        """The next item that is wanted."""
        while True:
            item = self._queue.get(timeout=WAIT_S)
            self.items.append(item)
            if wanted(item):
                return item

    def news(self, what: str) -> SourceNews:
        """The next news of a kind."""
        item = self.until(lambda item: isinstance(item, SourceNews) and item.what == what)
        assert isinstance(item, SourceNews)
        return item

    def reading(self, probe: str) -> Reading:
        """The next reading of a probe."""
        item = self.until(lambda item: isinstance(item, Reading) and item.probe == probe)
        assert isinstance(item, Reading)
        return item

    def nothing_more(self) -> bool:
        """Whether nothing was put since the last item."""
        return self._queue.empty()


@pytest.fixture
def watcher() -> Watcher:
    """What watches the source."""
    return Watcher()


Watch = Callable[[SerialLink], SerialSource]


@pytest.fixture
def watch(watcher: Watcher) -> Iterator[Watch]:
    """Starts a source and has it stopped."""
    sources: list[SerialSource] = []

    def start(link: SerialLink) -> SerialSource:
        source = SerialSource("rig-a", link)
        sources.append(source)
        source.start(watcher.put, time.time)
        return source

    yield start
    for source in sources:
        source.stop()


@pytest.mark.parametrize(
    ("form", "columns", "line"),
    [
        (LineForm.SENML, (), LINE),
        (LineForm.COLUMNS, ("ms", "bath", "mix"), b"2500,-14.25,3.5\r\n"),
        (LineForm.FRAMES, ("bath", "mix"), b"FF1C1900 00381900\n"),
    ],
)
def test_readings_come_through_in_every_form(
    board: Board,
    watcher: Watcher,
    watch: Watch,
    form: LineForm,
    columns: tuple[str, ...],
    line: bytes,
) -> None:
    """Each reading is stamped with the time of its arrival."""
    watch(SerialLink(board.port, format=form, columns=columns))
    watcher.news("online")
    before = time.time()
    board.send(line)
    bath, mix = watcher.reading("bath"), watcher.reading("mix")
    assert (bath.value, mix.value) == (-14.25, 3.5)
    assert before <= bath.t == mix.t <= time.time()


def test_trouble_on_the_line_is_counted_and_ends_nothing(
    board: Board, watcher: Watcher, watch: Watch
) -> None:
    """Half a line, a banner, garbage, merged lines, a line too long and an open circuit."""
    source = watch(SerialLink(board.port))
    watcher.news("online")
    board.send(LINE[30:] + b"ets Jun  8 2016 00:22:57\r\n" + LINE)
    watcher.reading("mix")
    board.send(b"\xff\x00\x80garbage\n" + LINE[:-1] + LINE + b"z" * 3000 + b"\n")
    board.send(b'[{"n":"mix","vs":"open"}]\n')
    assert watcher.reading("mix").fault is Fault.OPEN
    board.send(LINE[:7])
    board.send(LINE[7:])
    watcher.reading("mix")
    counts = source.counts()
    assert (counts.lines, counts.readings, counts.bad_lines) == (8, 5, 5)
    assert len(counts.last_bad) == 5


def test_required_checksum(board: Board, watcher: Watcher, watch: Watch) -> None:
    """Lines with a wrong one or none are dropped and told; those with a right one are read."""
    source = watch(SerialLink(board.port, checksum=ChecksumRule.REQUIRED))
    watcher.news("online")
    body = LINE.strip()
    good = body + f"*{checksum(body):02X}\r\n".encode()
    board.send(good + LINE + body + b"*00\n" + good)
    watcher.reading("mix")
    assert "checksum" in watcher.news("bad-checksum").text
    watcher.reading("mix")
    counts = source.counts()
    assert (counts.readings, counts.bad_checksums, counts.bad_lines) == (4, 2, 0)


def test_board_reset_is_told(board: Board, watcher: Watcher, watch: Watch) -> None:
    """A board whose own time falls back has started again."""
    watch(SerialLink(board.port, format=LineForm.COLUMNS, columns=("ms", "bath")))
    watcher.news("online")
    board.send(b"90000,-14\n91000,-14\n350,-14\n")
    assert watcher.news("board-reset").detail == "350,-14"


def test_unplugged_board_is_told_and_found_again(
    board: Board, watcher: Watcher, watch: Watch
) -> None:
    """The same link leads to the board wherever it is plugged in; it hears what sounds now."""
    source = watch(SerialLink(board.port))
    watcher.news("online")
    board.send(LINE + b"half a li")
    watcher.reading("mix")
    board.unplug()
    assert board.port in watcher.news("lost").text
    source.cue("rig-a", "high", "plateau-reached")
    board.plug()
    watcher.news("online")
    assert board.heard(b"cue high plateau-reached")
    board.unplug()
    board.plug()
    assert board.heard(b"cue high plateau-reached")
    board.send(LINE)
    assert watcher.reading("mix").value == 3.5
    counts = source.counts()
    assert (counts.reconnects, counts.readings, counts.bad_lines) == (2, 4, 0)


def test_board_that_is_plugged_in_late_is_found(
    board: Board, watcher: Watcher, watch: Watch
) -> None:
    """A running program waits for its board, and says so once."""
    board.unplug()
    source = watch(SerialLink(board.port))
    watcher.news("lost")
    board.plug()
    watcher.news("online")
    assert [item.what for item in watcher.items if isinstance(item, SourceNews)] == [
        "lost",
        "online",
    ]
    assert source.counts().reconnects == 0


def test_board_is_asked_who_it_is_and_hears_cues(
    board: Board, watcher: Watcher, watch: Watch
) -> None:
    """`ping` after opening, a `cue` line for what sounds, and the answer told."""
    source = watch(SerialLink(board.port))
    assert board.heard(b"ping")
    board.send(b"pong bowl-board 1.2\r\n")
    assert "bowl-board 1.2" in watcher.news("board-says").text
    source.cue("rig-a", "medium", "bath-limit-near")
    assert board.heard(b"cue medium bath-limit-near")
    source.cue("rig-a", "off", "bath-limit-near")
    assert board.heard(b"cue off bath-limit-near")


def test_board_that_never_listens_blocks_nothing(
    board: Board, watcher: Watcher, watch: Watch
) -> None:
    """Its buffer runs full; readings come through all the same, and stopping is as quick."""
    source = watch(SerialLink(board.port))
    watcher.news("online")
    for n in range(200):
        source.cue("rig-a", "low", f"{n}-" + "x" * 1000)
    board.send(LINE)
    assert watcher.reading("mix").value == 3.5
    begun = time.monotonic()
    source.stop()
    assert time.monotonic() - begun < 1.0


@pytest.mark.parametrize("plugged", [True, False])
def test_stop_is_quick_and_final(
    board: Board, watcher: Watcher, watch: Watch, plugged: bool
) -> None:
    """Within a second, with a silent board or none; nothing is put afterwards."""
    if not plugged:
        board.unplug()
    source = watch(SerialLink(board.port))
    watcher.news("online" if plugged else "lost")
    begun = time.monotonic()
    source.stop()
    source.stop()
    assert time.monotonic() - begun < 1.0
    source.cue("rig-a", "low", "probe-silent")
    if plugged:
        open_port(SerialLink(board.port)).close()
        board.send(LINE)
    assert watcher.nothing_more()


def test_port_is_ours_alone(board: Board, watcher: Watcher, watch: Watch) -> None:
    """A second source on the port waits until the first has left it."""
    first = watch(SerialLink(board.port))
    watcher.news("online")
    watch(SerialLink(board.port))
    watcher.news("lost")
    first.stop()
    watcher.news("online")
    board.send(LINE)
    watcher.reading("mix")


def test_dtr_low_keeps_rts_low_too(board: Board) -> None:
    """Either line alone resets some boards."""
    port = open_port(SerialLink(board.port, dtr=False))
    assert (port.dtr, port.rts) == (False, False)
    port.close()
