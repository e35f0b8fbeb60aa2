"""Tells systemd how the daemon is, if systemd started it (sd_notify)."""

from __future__ import annotations

import os
import socket


def notify(text: str) -> None:
    """Send a state such as `READY=1` or `WATCHDOG=1`; does nothing without systemd."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as datagram:
        try:
            datagram.sendto(text.encode(), address)
        except OSError:
            return
