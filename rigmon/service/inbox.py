"""The daemon's door for other programs of the same user: a local socket for marks.

One line of JSON in, one line out: `{"mark": "recharge ice_g=900", "rig": null}` is answered by
`{"ok": true, "rig": "...", "text": "..."}`. The socket lies in a directory that only its owner can
enter, and the kernel is asked who is at the other end.
"""

from __future__ import annotations

import json
import os
import socket
import stat
import struct
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from rigmon.errors import DeviceError, UsageError

_LONGEST = 16_384
"""Longest request [bytes]."""
_PATIENCE_S = 5.0

Answer = dict[str, Any]
Ask = Callable[[str | None, str], Answer]
"""Takes a rig's id (None for the only one) and a mark as text; gives the answer."""


def socket_directory() -> Path:
    """Where this user's daemons have their doors.

    Raises:
        DeviceError: the directory belongs to somebody else or others may enter it.
    """
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    base = Path(runtime) / "rigmon" if runtime else Path(f"/tmp/rigmon-{os.getuid()}")  # noqa: S108 - checked below
    base.mkdir(mode=0o700, parents=True, exist_ok=True)
    facts = base.lstat()
    mine = stat.S_ISDIR(facts.st_mode) and facts.st_uid == os.getuid()
    if not mine or facts.st_mode & 0o077:
        raise DeviceError(
            f"{base} must be a directory that only you can enter; remove it, or set XDG_RUNTIME_DIR"
        )
    return base


class Inbox:
    """Listens for marks on a thread of its own.

    Args:
        ask: takes each mark and gives its answer; may take a while.
    """

    def __init__(self, ask: Ask) -> None:
        self._ask = ask
        self.path = socket_directory() / f"{os.getpid()}.sock"
        self.path.unlink(missing_ok=True)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.bind(str(self.path))
        self.path.chmod(0o600)
        self._socket.listen(4)
        self._thread = threading.Thread(target=self._serve, name="rigmon-inbox", daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        while True:
            try:
                caller, _ = self._socket.accept()
            except OSError:
                return
            with caller:
                caller.settimeout(_PATIENCE_S)
                with suppress(OSError):
                    self._answer(caller)

    def _answer(self, caller: socket.socket) -> None:
        credentials = caller.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, 12)
        _, uid, _ = struct.unpack("3i", credentials)
        if uid != os.getuid():
            return
        answer: Answer
        try:
            request = json.loads(_line(caller))
            rig = request.get("rig")
            answer = self._ask(None if rig is None else str(rig), str(request["mark"]))
        except (ValueError, KeyError, TypeError, AttributeError):
            answer = {"ok": False, "text": "The request was not understood."}
        caller.sendall(json.dumps(answer).encode() + b"\n")

    def close(self) -> None:
        """Stop listening and remove the door."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._thread.join(1.0)
        self.path.unlink(missing_ok=True)


def _line(peer: socket.socket) -> bytes:
    data = b""
    while b"\n" not in data:
        part = peer.recv(4096)
        if not part or len(data) > _LONGEST:
            raise ValueError
        data += part
    return data


def _doors() -> Iterator[socket.socket]:
    """A connection to every daemon of this user; doors that nobody stands behind are removed."""
    for path in sorted(socket_directory().glob("*.sock")):
        peer = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        peer.settimeout(_PATIENCE_S)
        try:
            peer.connect(str(path))
        except ConnectionRefusedError:
            path.unlink(missing_ok=True)
            peer.close()
        except OSError:
            peer.close()
        else:
            yield peer


def send_mark(mark: str, rig: str | None = None) -> Answer:
    """Hand a mark to the running daemon.

    Args:
        mark: word and details as text.
        rig: the rig; None for the only one that is watched.

    Raises:
        DeviceError: no daemon of this user runs, or it does not answer.
        UsageError: several run and none was named, or none watches that rig.
    """
    answers: list[Answer] = []
    doors = list(_doors())
    if not doors:
        raise DeviceError(
            "No rigmon is watching: start `rigmon watch` (or `rigmon demo`) in another terminal."
        )
    if len(doors) > 1 and rig is None:
        for door in doors:
            door.close()
        raise UsageError(f"{len(doors)} rigmon are watching: say which rig with --rig.")
    for door in doors:
        with door:
            try:
                door.sendall(json.dumps({"mark": mark, "rig": rig}).encode() + b"\n")
                answers.append(json.loads(_line(door)))
            except (OSError, ValueError):
                raise DeviceError(
                    f"The rigmon behind {door.getpeername()} does not answer."
                ) from None
    known = [answer for answer in answers if not answer.get("unknown_rig")]
    return known[0] if known else answers[0]
