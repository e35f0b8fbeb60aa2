"""The daemon's door for other programs of the same user: a local socket for marks.

One line of JSON in, one line out: `{"mark": "recharge ice_g=900", "rig": null}` is answered by
`{"ok": true, "rig": "...", "text": "..."}`, `{"ask": "rigs"}` by the rigs that are watched, and
`{"ask": "outlets"}` by how it last went with each outlet. The socket lies in a directory that only
its owner can enter, and the kernel is asked who is at the other end.
"""

from __future__ import annotations

import json
import os
import socket
import struct
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from rigmon.errors import DeviceError
from rigmon.service.doors import ENDING, candidates, is_private, read_line

_HEAR_OUT_S = 1.0
"""A caller that does not say its line in this time [s] holds up the others no longer."""

Answer = dict[str, Any]
Ask = Callable[[str | None, str], Answer]
"""Takes a rig's id (None for the only one) and a mark as text; gives the answer."""


class Inbox:
    """Listens for marks on a thread of its own.

    Args:
        rigs: the rigs that are watched.
        ask: takes each mark and gives its answer; may take a while.
        outlets: gives the last result of each outlet.

    Raises:
        DeviceError: there is no place for a socket that is this user's alone.
    """

    def __init__(
        self, rigs: Sequence[str], ask: Ask, outlets: Callable[[], list[Answer]] = list
    ) -> None:
        self._rigs = list(rigs)
        self._outlets = outlets
        self._ask = ask
        self._socket, self.path = _listening()
        self._thread = threading.Thread(target=self._serve, name="rigmon-inbox", daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        while True:
            try:
                caller, _ = self._socket.accept()
            except OSError:
                return
            with caller, suppress(OSError):
                caller.settimeout(_HEAR_OUT_S)
                if _uid_of(caller) == os.getuid():
                    caller.sendall(json.dumps(self._answer(caller)).encode() + b"\n")

    def _answer(self, caller: socket.socket) -> Answer:
        try:
            request = json.loads(read_line(caller))
        except (ValueError, RecursionError):
            request = None
        match request:
            case {"ask": "rigs"}:
                return {"ok": True, "rigs": self._rigs}
            case {"ask": "outlets"}:
                return {"ok": True, "outlets": self._outlets()}
            case {"mark": str(mark), "rig": None | str() as rig}:
                return self._ask(rig, mark)
        return {"ok": False, "text": "The request was not understood."}

    def close(self) -> None:
        """Stop listening and remove the door, and its directory with the last one."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._thread.join(_HEAR_OUT_S)
        self.path.unlink(missing_ok=True)
        with suppress(OSError):
            self.path.parent.rmdir()


def _listening() -> tuple[socket.socket, Path]:
    refused: list[str] = []
    for directory in candidates():
        door = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            # Named once it listens, or a caller who comes early would take it for a dead one.
            early = directory / f".{os.getpid()}"
            directory.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not is_private(directory):
                raise PermissionError(0, "others may enter it")
            early.unlink(missing_ok=True)
            door.bind(str(early))
            early.chmod(0o600)
            door.listen(8)
            return door, early.rename(directory / f"{os.getpid()}{ENDING}")
        except OSError as why:
            door.close()
            refused.append(f"{directory} ({why.strerror or why})")
    raise DeviceError(
        f"There is no place for the socket that takes marks: {', '.join(refused)}. Each must be a "
        "directory that only you can enter; remove it, or set XDG_RUNTIME_DIR."
    )


def _uid_of(caller: socket.socket) -> int:
    credentials = caller.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    _, uid, _ = struct.unpack("3i", credentials)
    return int(uid)
