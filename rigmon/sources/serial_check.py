"""First contact with a serial port: what there is to open, and why one cannot be opened."""

from __future__ import annotations

import errno
import grp
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports as _listing

from rigmon.errors import DeviceError
from rigmon.records import SerialLink
from rigmon.sources.serial_port import PORT_ERRORS, open_port

_TAKEN = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port of this machine.

    Args:
        device: its path.
        text: what hangs on it, or "".
        group: the group that owns it.
        likely: whether a board may hang on it: it came over USB, or is a link to one that did.
    """

    device: str
    text: str
    group: str
    likely: bool


def list_ports() -> tuple[Port, ...]:
    """The serial ports of this machine, by their paths."""
    found = sorted(
        (port.device, port.description) for port in _listing.comports(include_links=True)
    )
    return tuple(
        Port(
            device,
            "" if text == "n/a" else text,
            _group_of(device),
            any(word in device for word in ("ttyUSB", "ttyACM", "/by-id/")),
        )
        for device, text in found
    )


def list_ports_text() -> str:
    """The serial ports of this machine, one a line with what hangs on it."""
    ports = list_ports()
    if not ports:
        return "There is no serial port on this machine; plug the board in."
    lines = [f"  {port.device}  {port.text}".rstrip() for port in ports]
    return "\n".join(["Serial ports of this machine:", *lines])


def check_port(link: SerialLink) -> None:
    """See that the port can be opened, once, before watching begins.

    Raises:
        DeviceError: it cannot; the message says why and what to do.
    """
    try:
        open_port(link).close()
    except PORT_ERRORS as why:
        raise DeviceError(_sentence(link, why)) from why


def _sentence(link: SerialLink, why: Exception) -> str:
    port = link.port
    number = why.errno if isinstance(why, OSError) else None
    if number in {errno.ENOENT, errno.ENXIO, errno.ENODEV}:
        return f"There is no port {port}. {list_ports_text()}"
    if number in {errno.EACCES, errno.EPERM}:
        group = _group_of(port)
        return (
            f"This user may not open {port}; it belongs to the group {group}. "
            f"Join it with `sudo usermod -aG {group} $USER`, then log in again."
        )
    if number in _TAKEN:
        by = ", ".join(f"{command} (process {pid})" for pid, command in holders(port))
        return f"{port} is held by {by or 'another program'}. Close that program, then try again."
    if isinstance(why, ValueError):
        return f"{port} cannot be set to {link.baud} baud. Give the speed of the board as baud."
    reason = os.strerror(number) if number else why
    return f"{port} cannot be opened as a serial port ({reason}). {list_ports_text()}"


def _group_of(port: str) -> str:
    try:
        return grp.getgrgid(Path(port).stat().st_gid).gr_name
    except (OSError, KeyError):
        return "dialout"


def holders(port: str) -> tuple[tuple[int, str], ...]:
    """The processes that hold a port open, with their commands, as far as we may look."""
    device = os.path.realpath(port)
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        if device in _open_files(process):
            try:
                command = (process / "comm").read_text().strip()
            except OSError:
                command = "a program"
            found.append((int(process.name), command))
    return tuple(sorted(found))


def _open_files(process: Path) -> Iterator[str]:
    try:
        for link in (process / "fd").iterdir():
            yield str(link.readlink())
    except OSError:
        return
