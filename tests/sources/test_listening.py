"""What a serial connection is made to mean: lines, bad lines, board talk and resets."""

from __future__ import annotations

import pytest

from rigmon.records import ChecksumRule, LineForm, Mark, Reading, SourceNews
from rigmon.sources import Decoder, SourceCounts
from rigmon.sources.ledger import KEPT_BAD_LINES, Cues, Ledger
from rigmon.sources.lines import UNREADABLE_LINES, LineBuffer, Listener

LINE = b'[{"n":"bath","u":"Cel","v":-14.25}]\n'


class Board:
    """A connection to a board, with a clock that is set by hand."""

    def __init__(self, decoder: Decoder) -> None:
        self.t = 1_785_000_000.0
        self.items: list[Reading | Mark | SourceNews] = []
        self._ledger = Ledger()
        self._ledger.begin(lambda _rig, item: self.items.append(item), lambda: self.t)
        self._listener = Listener("rig-a", decoder, self._ledger, Cues())

    def send(self, data: bytes) -> None:
        """Have bytes arrive."""
        self._listener.feed(data, self.t)

    @property
    def news(self) -> list[str]:
        """The kinds of news so far."""
        return [item.what for item in self.items if isinstance(item, SourceNews)]

    @property
    def readings(self) -> list[float | None]:
        """The values so far."""
        return [item.value for item in self.items if isinstance(item, Reading)]

    @property
    def counts(self) -> SourceCounts:
        """The counts so far."""
        return self._ledger.counts()


@pytest.fixture
def board() -> Board:
    """A board that writes SenML."""
    return Board(Decoder())


@pytest.fixture
def clocked() -> Board:
    """A board that writes its milliseconds and the bath."""
    return Board(Decoder(LineForm.COLUMNS, ("ms", "bath")))


def test_line_is_put_together_from_pieces(board: Board) -> None:
    """Nothing is read before its LF is there."""
    board.send(LINE[:10])
    board.send(LINE[10:-1])
    assert board.readings == []
    board.send(LINE[-1:] + LINE)
    assert board.readings == [-14.25, -14.25]
    assert board.counts == SourceCounts(lines=2, readings=2)


def test_banner_and_half_first_line_are_counted_and_not_told(board: Board) -> None:
    """Opening a port resets many boards, and begins in the middle of a line."""
    board.send(
        LINE[20:] + b"\x00\xf8\x80 ets Jun  8 2016\r\nrst cause:2, boot mode:(3,6)\r\n" + LINE
    )
    assert board.news == []
    assert board.readings == [-14.25]
    assert board.counts.bad_lines == 3


def test_port_that_never_says_a_good_line_is_told(board: Board) -> None:
    """A wrong speed or form shows as nothing but bad lines."""
    board.send(b"\x80\x00\xf8\n" * UNREADABLE_LINES)
    assert board.news == ["bad-line"]


def test_bad_lines_are_told_at_a_bearable_rate(board: Board) -> None:
    """Once in 10 s; the counts tell the rest, and the last ones are kept to look at."""
    board.send(LINE)
    for _ in range(30):
        board.send(b"[half a line\n")
        board.t += 1.0
    assert board.news == ["bad-line"] * 3
    assert board.counts.bad_lines == 30
    assert board.counts.last_bad[-1] == "not JSON: [half a line"


def test_only_the_last_bad_lines_are_kept(board: Board) -> None:
    """The ring holds 50."""
    board.send(b"".join(b"bad %d\n" % n for n in range(200)))
    assert len(board.counts.last_bad) == KEPT_BAD_LINES
    assert board.counts.last_bad[0] == "not JSON: bad 150"


def test_two_lines_merged_are_one_bad_line(board: Board) -> None:
    """A lost LF costs two lines and no more."""
    board.send(LINE + LINE[:-1] + LINE + LINE)
    assert board.readings == [-14.25, -14.25]
    assert board.counts.bad_lines == 1


def test_overlong_line_is_dropped_to_its_end(board: Board) -> None:
    """However long, it is one bad line, and the next one is read."""
    board.send(LINE)
    for _ in range(100):
        board.send(b"x" * 100)
    assert board.counts.bad_lines == 1
    board.send(b"\n" + LINE)
    assert board.readings == [-14.25, -14.25]
    assert board.counts.bad_lines == 1
    assert board.counts.last_bad[0].startswith("longer than 1024 bytes: xxx")


def test_buffer_keeps_no_more_than_a_line() -> None:
    """A stream without line ends does not fill the memory."""
    buffer = LineBuffer(max_bytes=100)
    lines = [line for _ in range(1000) for line in buffer.feed(b"y" * 99)]
    assert [len(line) for line in lines] == [104]


def test_empty_lines_mean_nothing(board: Board) -> None:
    """Some boards end a line with CR LF CR LF."""
    board.send(b"\r\n\r\n \n" + LINE)
    assert board.counts == SourceCounts(lines=1, readings=1)


def test_wrong_checksum_is_counted_by_itself() -> None:
    """It speaks of the cable, not of the form."""
    board = Board(Decoder(rule=ChecksumRule.REQUIRED))
    board.send(LINE[:-1] + b"*00\n" + LINE)
    assert (board.counts.bad_checksums, board.counts.bad_lines) == (2, 0)


@pytest.mark.parametrize(
    "talk", [b"# rig board 1.2", b"pong rig-board 1.2", b"rigmon-board bowl 1.2"]
)
def test_board_may_introduce_itself(board: Board, talk: bytes) -> None:
    """Its name is told once, and is no bad line."""
    board.send(talk + b"\r\n" + LINE + talk + b"\r\n")
    assert board.news == ["board-says"]
    assert isinstance(board.items[0], SourceNews)
    assert talk.decode() in board.items[0].text
    assert board.counts == SourceCounts(lines=1, readings=1)


@pytest.mark.parametrize("banner", [b"MPY: soft reboot", b"rst:0x1 (POWERON_RESET),boot:0x13"])
def test_banner_in_mid_run_is_a_reset(board: Board, banner: bytes) -> None:
    """A brown-out beside a mixer is told as such; the rest of the banner is not told as well."""
    board.send(LINE + banner + b"\r\nload:0x3fff0018\r\n" + LINE)
    assert board.news == ["board-reset"]
    assert board.counts.bad_lines == 2
    assert board.readings == [-14.25, -14.25]


def test_board_time_falling_back_is_a_reset(clocked: Board) -> None:
    """Its clock counts from its start."""
    clocked.send(b"50000,1\n51000,1\n400,1\n1400,1\n")
    assert clocked.news == ["board-reset"]
    assert clocked.counts.readings == 4


def test_wrap_of_the_milliseconds_is_no_reset(clocked: Board) -> None:
    """After 49.7 days a 32-bit count of ms begins anew."""
    clocked.send(b"4294967000,1\n4,1\n1004,1\n")
    assert clocked.news == []


def test_real_time_set_back_is_no_reset(board: Board) -> None:
    """A clock put right by the network steps; a clock lost falls to its year zero."""
    at = b'[{"n":"bath","u":"Cel","v":1,"t":%d}]\n'
    board.send(at % 1_784_999_990 + at % 1_784_999_900)
    assert board.news == []
    board.send(at % 3)
    assert board.news == ["board-reset"]


def test_record_that_is_never_a_reading_is_told_once(board: Board) -> None:
    """A humidity beside every temperature is no news after the first."""
    for _ in range(60):
        board.send(b'[{"n":"bath","u":"Cel","v":1},{"n":"air","u":"%RH","v":60}]\n')
        board.t += 1.0
    assert board.news == ["bad-line"]
    assert (board.counts.readings, board.counts.unknown, board.counts.bad_lines) == (60, 60, 0)


def test_receiver_that_fails_silences_no_board() -> None:
    """Its fault is kept to look at, and the next reading is handed on."""
    taken: list[Reading | Mark | SourceNews] = []

    def put(_rig: str, item: Reading | Mark | SourceNews) -> None:
        if not taken and isinstance(item, Reading) and item.value == 1.0:
            raise RuntimeError("the queue is full")
        taken.append(item)

    ledger = Ledger()
    ledger.begin(put, lambda: 0.0)
    listener = Listener("rig-a", Decoder(LineForm.COLUMNS, ("bath",)), ledger, Cues())
    listener.feed(b"1\n2\n", 0.0)
    assert taken == [Reading(0.0, "bath", 2.0)]
    assert "the queue is full" in ledger.counts().last_bad[0]


def test_waiting_cues_say_how_things_stand() -> None:
    """Of each rig the last level waits, until it is taken or its board has come back."""
    cues = Cues()
    cues.repeat("rig-a")
    assert cues.take() == []
    for rig, level, code in [
        ("rig-a", "high", "plateau-reached"),
        ("rig-b", "low", "probe-silent"),
        ("rig-a", "medium", "bath-limit-near"),
    ]:
        cues.set(rig, level, code)
    assert cues.take() == [("rig-a", "medium bath-limit-near"), ("rig-b", "low probe-silent")]
    assert cues.take() == []
    cues.repeat("rig-b")
    assert cues.take() == [("rig-b", "low probe-silent")]


@pytest.mark.parametrize("words", [b"rigmon-board bowl 1.0\n", b"90000,1\n350,1\n"])
def test_a_board_that_came_back_hears_its_cue_again(words: bytes) -> None:
    """Whether it says who it is, or its clock shows that it has started again."""
    cues, ledger = Cues(), Ledger()
    cues.set("rig-a", "high", "plateau-reached")
    cues.take()
    columns = Decoder(LineForm.COLUMNS, ("ms", "bath"))
    Listener("rig-a", columns, ledger, cues).feed(words, 0.0)
    assert cues.take() == [("rig-a", "high plateau-reached")]
