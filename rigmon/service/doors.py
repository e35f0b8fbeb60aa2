"""The doors of running daemons, and how a mark is handed in at the right one."""

from __future__ import annotations

import json
import os
import socket
import stat
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from rigmon.errors import DeviceError, UsageError

ENDING = ".sock"
_LONGEST = 16_384
"""Longest line [bytes]."""
_PATIENCE_S = 8.0
"""A daemon may take this long [s]: it answers once the mark is on the disk."""


def candidates() -> tuple[Path, ...]:
    """Directories in which this user's daemons may have their doors, the usual one first.

    A daemon that the system started has no XDG_RUNTIME_DIR, a shell has; so both are looked at.
    """
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    shared = Path(tempfile.gettempdir()) / f"rigmon-{os.getuid()}"
    return (Path(runtime) / "rigmon", shared) if runtime else (shared,)


def is_private(directory: Path) -> bool:
    """Whether it is a directory of this user's that nobody else may enter."""
    facts = directory.lstat()
    mine = stat.S_ISDIR(facts.st_mode) and facts.st_uid == os.getuid()
    return mine and not facts.st_mode & 0o077


def read_line(peer: socket.socket) -> bytes:
    """One line from the other end.

    Raises:
        ValueError: it hung up before the line's end, or the line is too long.
        OSError: it said nothing for too long.
    """
    data = b""
    while b"\n" not in data:
        part = peer.recv(4096)
        if not part or len(data) > _LONGEST:
            raise ValueError("no whole line")
        data += part
    return data


def send_mark(mark: str, rig: str | None = None) -> dict[str, Any]:
    """Hand a mark to the running daemon that watches a rig.

    Args:
        mark: word and details as text.
        rig: the rig; None for the only one that is watched.

    Returns:
        The answer: `ok`, `text`, `rig`, and `run`, the run it went into.

    Raises:
        DeviceError: no daemon of this user runs, or it does not answer.
        UsageError: several rigs are watched and none was named, or that one is not watched.
    """
    watched = _watched()
    if not watched:
        raise DeviceError(
            "No rigmon is watching: start `rigmon watch` (or `rigmon demo`) in another terminal."
        )
    rigs = [name for name, _ in watched]
    named = ", ".join(sorted(set(rigs)))
    if rig is None and len(set(rigs)) > 1:
        raise UsageError(f"Several rigs are watched ({named}): say which with --rig.")
    rig = rigs[0] if rig is None else rig
    doors = [door for name, door in watched if name == rig]
    if not doors:
        raise UsageError(f"No rig {rig!r} is watched; watched are: {named}.")
    if len(doors) > 1:
        raise UsageError(f"{len(doors)} rigmon watch a rig {rig!r}: stop all of them but one.")
    return _asked(doors[0], {"mark": mark, "rig": rig})


def ask_outlets() -> list[dict[str, Any]]:
    """How it last went with each outlet of this user's running daemons; empty if none runs.

    Raises:
        DeviceError: there is one, but it does not answer.
    """
    found: list[dict[str, Any]] = []
    for door in dict.fromkeys(door for _, door in _watched()):
        with suppress(ConnectionRefusedError, FileNotFoundError):
            found += _asked(door, {"ask": "outlets"}).get("outlets", [])
    return found


def _watched() -> list[tuple[str, Path]]:
    """Every rig that a daemon of this user watches, with its door.

    Raises:
        DeviceError: there is none, but somebody who does not answer, or whom we do not trust.
    """
    watched: list[tuple[str, Path]] = []
    troubles: list[DeviceError] = []
    for directory in candidates():
        try:
            for door in _doors_in(directory):
                watched += _rigs_behind(door)
        except DeviceError as trouble:
            troubles.append(trouble)
    if troubles and not watched:
        raise troubles[0]
    return watched


def _doors_in(directory: Path) -> list[Path]:
    try:
        private = is_private(directory)
    except OSError:
        return []
    if not private:
        raise DeviceError(
            f"{directory} must be a directory that only you can enter; remove it, or set "
            "XDG_RUNTIME_DIR."
        )
    return sorted(directory.glob(f"*{ENDING}"))


def _rigs_behind(door: Path) -> list[tuple[str, Path]]:
    try:
        return [(rig, door) for rig in _asked(door, {"ask": "rigs"})["rigs"]]
    except ConnectionRefusedError:
        # Nobody stands behind it: its daemon was killed.
        door.unlink(missing_ok=True)
    except FileNotFoundError:
        pass
    return []


def _asked(door: Path, request: dict[str, object]) -> dict[str, Any]:
    """The answer to a request.

    Raises:
        ConnectionRefusedError: nobody stands behind the door.
        FileNotFoundError: the door has gone.
        DeviceError: whoever stands there does not answer.
    """
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as peer:
            peer.settimeout(_PATIENCE_S)
            peer.connect(str(door))
            peer.sendall(json.dumps(request).encode() + b"\n")
            answer: dict[str, Any] = json.loads(read_line(peer))
            return answer
    except (ConnectionRefusedError, FileNotFoundError):
        raise
    except (OSError, ValueError):
        raise DeviceError(
            f"The rigmon behind {door} does not answer. Is it stopping, or is its disk busy?"
        ) from None
