"""Keys of a terminal, read one by one on a thread; the terminal is left as it was found."""

from __future__ import annotations

import atexit
import codecs
import os
import select
import termios
import threading
from collections.abc import Callable
from contextlib import suppress

IDLE_S = 0.25
_IFLAG, _LFLAG, _CC = 0, 3, 6
_JOIN_S = 1.0


class Keys:
    """Reads keys as they are pressed: no line end is waited for, nothing is echoed.

    Ctrl-C and Ctrl-Z keep their meaning; Ctrl-S does not, which would hold up more than the
    picture. A program in the background neither reads nor changes the terminal.

    Args:
        terminal: file descriptor of the terminal.
        pressed: takes what came at once: mostly one character.
        idle: called about four times a second while no key comes.
    """

    def __init__(
        self, terminal: int, pressed: Callable[[str], None], idle: Callable[[], None]
    ) -> None:
        self._terminal = terminal
        self._pressed = pressed
        self._idle = idle
        self._found = termios.tcgetattr(terminal)
        self._ended, self._end = os.pipe()
        self._closing = threading.Lock()
        self._closed = False
        self._thread = threading.Thread(target=self._read, name="keys", daemon=True)
        # A last resort, should nobody get to close it.
        atexit.register(self.close)
        self._thread.start()

    def close(self) -> None:
        """Read no more, and put the terminal back as it was."""
        atexit.unregister(self.close)
        with self._closing:
            if self._closed:
                return
            self._closed = True
            os.write(self._end, b"x")
        if threading.current_thread() is not self._thread:
            self._thread.join(_JOIN_S)
        self._give_back()
        if not self._thread.is_alive():
            os.close(self._ended)
        os.close(self._end)

    def _read(self) -> None:
        decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        while not self._closed:
            try:
                wanted = [self._terminal] if self._claim() else []
                ready, _, _ = select.select([*wanted, self._ended], [], [], IDLE_S)
                if self._ended in ready:
                    return
                came = os.read(self._terminal, 256) if ready else b""
            except (OSError, termios.error):
                return  # The terminal has gone; the view finds that out for itself.
            if ready and not came:
                return
            text = decode(came)
            if text:
                self._pressed(text)
            elif not ready:
                self._idle()

    def _is_ours(self) -> bool:
        """Whether the terminal is this program's just now, and no shell's that it waits behind."""
        try:
            return os.tcgetpgrp(self._terminal) == os.getpgrp()
        except OSError:
            # A terminal that nobody's session owns, as a test's, cannot be in the background.
            return True

    def _claim(self) -> bool:
        """Have keys come one by one; again after a shell had it in between."""
        if not self._is_ours():
            return False
        now = termios.tcgetattr(self._terminal)
        wanted = now[_IFLAG] & ~termios.IXON, now[_LFLAG] & ~(termios.ICANON | termios.ECHO)
        if (now[_IFLAG], now[_LFLAG]) != wanted:
            now[_IFLAG], now[_LFLAG] = wanted
            now[_CC][termios.VMIN], now[_CC][termios.VTIME] = 1, 0
            termios.tcsetattr(self._terminal, termios.TCSANOW, now)
        return True

    def _give_back(self) -> None:
        with suppress(OSError, termios.error):
            if self._is_ours():
                termios.tcsetattr(self._terminal, termios.TCSADRAIN, self._found)
