"""The signals that ask the daemon to end, also those that come while it is still being set up."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def noting() -> Iterator[list[bool]]:
    """While this lasts signals that ask to end are kept for later: whether each was SIGINT.

    A KeyboardInterrupt may get lost in code that cannot raise it. A second SIGINT does raise one:
    what is being set up may hang.
    """
    noted: list[bool] = []

    def note(interrupted: bool) -> None:
        if interrupted and any(noted):
            raise KeyboardInterrupt
        noted.append(interrupted)

    with ending(note):
        yield noted


@contextmanager
def ending(end: Callable[[bool], None]) -> Iterator[None]:
    """While this lasts SIGINT, SIGTERM and SIGHUP call `end`; only the main thread can ask for it.

    Args:
        end: takes whether it was SIGINT.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def heard(number: int, _: FrameType | None) -> None:
        end(number == signal.SIGINT)

    numbers = [signal.SIGINT, signal.SIGTERM]
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        # Under nohup it is ignored: there a closed terminal is to end nothing.
        numbers.append(signal.SIGHUP)
    before = {number: signal.signal(number, heard) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
