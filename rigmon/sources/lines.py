"""What comes down one serial connection, byte by byte, as readings and news of the board."""

from __future__ import annotations

import re
from collections.abc import Iterator

from rigmon.sources.decoded import BadLine, Decoded
from rigmon.sources.ledger import Cues, Ledger
from rigmon.sources.wire import MAX_LINE_BYTES, Decoder
from rigmon.texts import Sentence, marked

UNREADABLE_LINES = 10
"""A boot banner and the half line after opening are expected; this many bad lines are not."""

TALK = (b"# ", b"pong", b"rigmon-board")
_BANNER = re.compile(rb"\bets [A-Z]|\b(rst|boot|reset|reboot)\b|micropython v", re.IGNORECASE)
_UPTIME_BELOW_S = 2.0**28
_WRAP_S = 2.0**32 / 1000.0
_WRAP_ROOM_S = 60.0


class LineBuffer:
    """Parts a stream of bytes into lines, however the bytes arrive.

    A line that grows past the limit is given up at once, cut just past it so that whoever reads it
    sees that it is too long; the rest of it is dropped.
    """

    def __init__(self, max_bytes: int = MAX_LINE_BYTES) -> None:
        self._cut = max_bytes + 4
        self._kept = b""
        self._dropping = False

    def feed(self, data: bytes) -> Iterator[bytes]:
        """The lines that these bytes complete, without their LF."""
        *ended, self._kept = (self._kept + data).split(b"\n")
        for line in ended:
            if not self._dropping:
                yield line[: self._cut]
            self._dropping = False
        if self._dropping:
            self._kept = b""
        elif len(self._kept) >= self._cut:
            yield self._kept[: self._cut]
            self._kept = b""
            self._dropping = True


class Listener:
    """Makes sense of the lines of one connection, from its opening to its loss."""

    def __init__(self, rig: str, decoder: Decoder, ledger: Ledger, cues: Cues) -> None:
        self._rig = rig
        self._cues = cues
        self._decoder = decoder
        self._ledger = ledger
        self._buffer = LineBuffer()
        self._introduced = False
        self._bad_in_a_row = 0
        self._running = False
        self._board_s = 0.0

    def feed(self, data: bytes, now: float) -> None:
        """Take bytes that arrived at `now` [s, Unix]."""
        for raw in self._buffer.feed(data):
            line = raw.strip()
            if line.startswith(TALK):
                self._talk(line)
            elif line:
                self._data(raw, now)

    def _talk(self, line: bytes) -> None:
        if not self._introduced:
            self._introduced = True
            # A board that the opening of its port has reset heard nothing until now.
            self._cues.repeat(self._rig)
            shown = line.decode(errors="backslashreplace")
            text = Sentence(marked("{rig}: the board says: {said}"), rig=self._rig, said=shown)
            self._ledger.news(self._rig, "board-says", text)

    def _data(self, raw: bytes, now: float) -> None:
        self._ledger.add("lines")
        try:
            decoded = self._decoder.line(raw, now)
        except BadLine as why:
            self._bad_in_a_row += 1
            if self._running and _BANNER.search(raw):
                self._reset(raw)
                self._running = False
                self._bad_in_a_row = 1
            tell = self._running or self._bad_in_a_row >= UNREADABLE_LINES
            self._ledger.bad(self._rig, why, raw, tell)
            return
        self._running = True
        self._bad_in_a_row = 0
        self._watch_clock(decoded, raw)
        shown = raw.decode(errors="backslashreplace") if decoded.faults else ""
        self._ledger.decoded(self._rig, decoded, shown)

    def _watch_clock(self, decoded: Decoded, raw: bytes) -> None:
        """Tell of a reset when the board's time since its start falls back, but for its wrap."""
        board_s = max((r.board_s for r in decoded.readings if r.board_s is not None), default=None)
        if board_s is None:
            return
        wrapped = board_s < _WRAP_ROOM_S and _WRAP_S - _WRAP_ROOM_S < self._board_s <= _WRAP_S
        if board_s < _UPTIME_BELOW_S and board_s < self._board_s - 1.0 and not wrapped:
            self._reset(raw)
        self._board_s = board_s

    def _reset(self, raw: bytes) -> None:
        self._board_s = 0.0
        self._cues.repeat(self._rig)
        text = Sentence(marked("{rig}: the board has started again."), rig=self._rig)
        self._ledger.news(
            self._rig, "board-reset", text, raw.decode(errors="backslashreplace").strip()
        )
