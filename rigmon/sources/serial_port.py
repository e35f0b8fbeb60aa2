"""A board on a serial port: opened, listened to, and found again after every unplugging."""

from __future__ import annotations

import termios
import threading

import serial

from rigmon.records import SerialLink
from rigmon.sources.base import Now, Put, SourceCounts
from rigmon.sources.ledger import Cues, Ledger
from rigmon.sources.lines import Listener
from rigmon.sources.wire import Decoder
from rigmon.texts import Sentence, marked

PORT_ERRORS = (OSError, termios.error, TypeError, ValueError)
"""What pyserial raises for a port that is missing, taken, unplugged or closed in mid-read."""

FIRST_RETRY_S = 0.5
LAST_RETRY_S = 5.0
READ_TIMEOUT_S = 5.0
WRITE_TIMEOUT_S = 0.2
STOP_WITHIN_S = 0.9
_NOT_OPENED = marked("{rig}: {port} cannot be opened ({why}).")
_LISTENING = marked("{rig}: listening on {port}.")
_GONE = marked("{rig}: {port} is gone ({why}); looking for it again.")


def open_port(link: SerialLink) -> serial.Serial:
    """The port, opened for us alone.

    Raises:
        OSError: one of `PORT_ERRORS`.
    """
    port = serial.Serial(
        baudrate=link.baud,
        timeout=READ_TIMEOUT_S,
        write_timeout=WRITE_TIMEOUT_S,
        exclusive=True,
    )
    port.port = link.port
    if not link.dtr:
        # RTS too: boards with the usual pair of transistors are held in reset by RTS alone.
        port.dtr = False
        port.rts = False
    port.open()
    return port


class SerialSource:
    """Readings of one board on one port.

    Args:
        rig_id: the rig that the board sits on.
        link: the port and the form of its lines.
    """

    def __init__(self, rig_id: str, link: SerialLink) -> None:
        self._rig = rig_id
        self._link = link
        self._decoder = Decoder(link.format, link.columns, link.checksum)
        self._ledger = Ledger()
        self._cues = Cues()
        self._ended = threading.Event()
        self._lock = threading.Lock()
        self._port: serial.Serial | None = None
        self._thread = threading.Thread(target=self._run, name=f"serial-{rig_id}", daemon=True)

    def start(self, put: Put, now: Now) -> None:
        """Open the port and listen, for ever."""
        self._ledger.begin(put, now)
        self._thread.start()

    def stop(self) -> None:
        """Close the port."""
        self._ended.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(STOP_WITHIN_S)

    def cue(self, rig_id: str, level: str, code: str) -> None:
        """Have the board sound an alarm as soon as it listens."""
        self._cues.set(rig_id, level, code)
        self._wake()

    def counts(self) -> SourceCounts:
        """What has been seen so far."""
        return self._ledger.counts()

    def _wake(self) -> None:
        with self._lock:
            if self._port is not None:
                self._port.cancel_read()

    def _run(self) -> None:
        retry_s = FIRST_RETRY_S
        told = False
        found_before = False
        while not self._ended.is_set():
            try:
                port = open_port(self._link)
            except PORT_ERRORS as why:
                if not told:
                    self._tell("lost", _NOT_OPENED, why=str(why))
                told = True
            else:
                self._ledger.add("reconnects", int(found_before))
                found_before = True
                self._tell("online", _LISTENING)
                heard, why_lost = self._listen(port)
                self._tell("lost", _GONE, why=why_lost)
                told = True
                retry_s = FIRST_RETRY_S if heard else retry_s
            self._ended.wait(retry_s)
            retry_s = min(2.0 * retry_s, LAST_RETRY_S)

    def _listen(self, port: serial.Serial) -> tuple[bool, str]:
        """Listen until the port is gone; whether anything was heard, and why it went."""
        listener = Listener(self._rig, self._decoder, self._ledger, self._cues)
        heard = False
        with self._lock:
            self._port = port
        self._cues.repeat(self._rig)
        try:
            self._write(port, "ping\n")
            while not self._ended.is_set():
                cues = "".join(f"cue {text}\n" for _, text in self._cues.take())
                if cues:
                    self._write(port, cues)
                data = self._read(port)
                if data:
                    heard = True
                    listener.feed(data, self._ledger.now())
        except serial.SerialException as why:
            return heard, str(why)
        finally:
            with self._lock:
                self._port = None
            port.close()
        return heard, ""

    @staticmethod
    def _read(port: serial.Serial) -> bytes:
        try:
            return port.read(port.in_waiting or 1)
        except PORT_ERRORS as why:
            raise serial.SerialException(str(why)) from why

    @staticmethod
    def _write(port: serial.Serial, text: str) -> None:
        """Write lines; a board that takes none (its buffer is full) misses them."""
        try:
            port.write(text.encode())
        except serial.SerialTimeoutException:
            return
        except PORT_ERRORS as why:
            raise serial.SerialException(str(why)) from why

    def _tell(self, what: str, text: str, **figures: object) -> None:
        if not self._ended.is_set():
            told = Sentence(text, rig=self._rig, port=self._link.port, **figures)
            self._ledger.news(self._rig, what, told)
