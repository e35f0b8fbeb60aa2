"""An answer that goes on for as long as the page is open."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import aclosing

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

STUCK_S = 20.0
"""A page that takes nothing for so long is gone, whatever its connection says [s]."""


class EventStream(Response):
    """Server-sent events.

    Args:
        events: what is sent, each piece as soon as it is there.
    """

    media_type = "text/event-stream"

    def __init__(self, events: AsyncIterator[bytes]) -> None:
        self.status_code = 200
        self.background = None
        self.body = b""
        # Proxies that gather what they pass on are asked not to.
        self.init_headers({"x-accel-buffering": "no"})
        del self.headers["content-length"]
        self._events = events

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send events until the program ends or the page goes."""
        start = {"type": "http.response.start", "status": 200, "headers": self.raw_headers}
        await send(start)
        if scope["method"] == "HEAD":
            await send({"type": "http.response.body", "body": b"", "more_body": False})
            return
        gone = asyncio.create_task(_gone(receive))
        sending = asyncio.create_task(self._send_all(send))
        try:
            await asyncio.wait((gone, sending), return_when=asyncio.FIRST_COMPLETED)
        finally:
            gone.cancel()
            sending.cancel()
            await asyncio.gather(gone, sending, return_exceptions=True)

    async def _send_all(self, send: Send) -> None:
        async with aclosing(self._events) as events:  # type: ignore[type-var]
            async for event in events:
                await asyncio.wait_for(
                    send({"type": "http.response.body", "body": event, "more_body": True}), STUCK_S
                )
        await send({"type": "http.response.body", "body": b"", "more_body": False})


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
