"""The page's server, in a thread of its own: nothing that goes wrong in it reaches the watching."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import logging
import socket
import threading
from collections import Counter
from collections.abc import Callable
from typing import TYPE_CHECKING

from rigmon.errors import DeviceError

if TYPE_CHECKING:
    from starlette.types import ASGIApp
    from uvicorn import Server
    from uvicorn.protocols.http.h11_impl import H11Protocol

DEFAULT_PORT = 8466
"""Not among the well-known ones, and easily typed."""
_OTHERS = 9
"""So many ports above the usual one are tried where somebody else has that."""
STOP_WITHIN_S = 1
MOST_CONNECTIONS, MOST_OF_ONE = 256, 40
"""Connections in all, and of one address: more would take files from the log and the ports."""
_ASKS_WITHIN_S = 10.0
"""Whoever connects and asks nothing is sent away after this long [s]."""
_QUIET = ("uvicorn", "uvicorn.error", "uvicorn.asgi", "asyncio")


def door(host: str, port: int | None) -> socket.socket:
    """A socket for the page; for no port in particular the usual one, or one of the next.

    Raises:
        DeviceError: there is none.
    """
    tried = range(DEFAULT_PORT, DEFAULT_PORT + _OTHERS + 1) if port is None else (port,)
    for number in tried:
        try:
            return _bound(host, number)
        except OSError as why:
            failed = why
    named = f"{tried[0]}" if len(tried) == 1 else f"{tried[0]} to {tried[-1]}"
    taken = "is taken" if len(tried) == 1 else "are all taken"
    if failed.errno != errno.EADDRINUSE:
        raise DeviceError(f"The page cannot be served at {host}, port {named}: {failed.strerror}.")
    raise DeviceError(
        f"Port {named} {taken} by another program: give another one for the page with --port, or "
        "leave it out with --no-page."
    )


def _bound(host: str, port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    try:
        # A port that was just left can be had again: the pages wait there.
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(64)
    except OSError:
        made.close()
        raise
    return made


class PageServer:
    """Serves an application until it is closed.

    Args:
        listening: the socket; closed with the server.
        make: makes the application, in the server's thread.
        attach: called there once its loop runs.
        failed: told, in a sentence, if the server comes to an end by itself.
    """

    def __init__(
        self,
        listening: socket.socket,
        make: Callable[[], ASGIApp],
        attach: Callable[[asyncio.AbstractEventLoop], None],
        failed: Callable[[str], None],
    ) -> None:
        self._socket = listening
        self._make = make
        self._attach = attach
        self._failed = failed
        self._server: Server | None = None
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="rigmon-page", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            with contextlib.suppress(asyncio.CancelledError):
                asyncio.run(self._serve())
        except Exception as why:  # noqa: BLE001 - whatever it is, the watching goes on
            if not self._closing:
                self._failed(f"The page has failed: {type(why).__name__}: {why}.")
        finally:
            self._socket.close()

    async def _serve(self) -> None:
        _hush()
        loop = asyncio.get_running_loop()
        # What it would say goes to the terminal, into the middle of the live view.
        loop.set_exception_handler(lambda *_: None)
        self._attach(loop)
        self._server = _server(self._make())
        if not self._closing:
            await self._server.serve([self._socket])

    def close(self) -> None:
        """End within about a second; pages are to be said goodbye to before."""
        self._closing = True
        if self._server is not None:
            self._server.should_exit = True
        self._thread.join(STOP_WITHIN_S + 1.0)


def _hush() -> None:
    """Keep the libraries' words off the terminal: what matters of them is told in other ways."""
    for name in _QUIET:
        logger = logging.getLogger(name)
        logger.handlers = [logging.NullHandler()]
        logger.propagate = False
        logger.setLevel(logging.CRITICAL)


def _server(app: ASGIApp) -> Server:
    from uvicorn import Config, Server  # noqa: PLC0415 - heavy, and not needed without the page

    return Server(
        Config(
            app,
            http=_patience(),
            loop="asyncio",
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            # Nobody who connects may say by a header that it is somebody else.
            proxy_headers=False,
            server_header=False,
            timeout_graceful_shutdown=STOP_WITHIN_S,
        )
    )


def _patience() -> type[H11Protocol]:
    """Uvicorn's protocol, with an end to its patience."""
    from uvicorn.protocols.http.h11_impl import H11Protocol  # noqa: PLC0415 - as above

    connected: Counter[str] = Counter()

    class Patient(H11Protocol):
        """Sends away who opens too many connections, or asks nothing."""

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            peer = transport.get_extra_info("peername")
            self._from = str(peer[0]) if peer else ""
            connected[self._from] += 1
            if connected.total() > MOST_CONNECTIONS or connected[self._from] > MOST_OF_ONE:
                transport.abort()
            self._late = self.loop.call_later(_ASKS_WITHIN_S, self._send_away)

        def _send_away(self) -> None:
            if self.cycle is None:
                self.transport.abort()

        def connection_lost(self, exc: Exception | None) -> None:
            self._late.cancel()
            connected[self._from] -= 1
            if connected[self._from] <= 0:
                del connected[self._from]
            super().connection_lost(exc)

    return Patient
