"""Tells systemd how the daemon is, if systemd started it (sd_notify)."""

from __future__ import annotations

import os
import socket
from contextlib import suppress


def notify(text: str) -> None:
    """Send a state such as `READY=1` or `WATCHDOG=1`; does nothing without systemd."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    # A manager that is gone or does not listen must not hold up the watching.
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as datagram, suppress(OSError):
        datagram.setblocking(False)
        datagram.sendto(text.encode(), address)
