"""Waiting for what another thread, program or page brings about."""

from __future__ import annotations

import time
from collections.abc import Callable

_LOOKS_EVERY_S = 0.01


def until(
    holds: Callable[[], object], within_s: float = 15.0, told: Callable[[], object] | None = None
) -> None:
    """Wait until something holds.

    Args:
        holds: whether it does.
        within_s: how long it may take [s].
        told: what the failure tells of it.
    """
    end = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < end, told() if told is not None else f"not in {within_s:g} s"
        time.sleep(_LOOKS_EVERY_S)
