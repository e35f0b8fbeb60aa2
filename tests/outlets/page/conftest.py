"""A served page, and a client for it that is no browser."""

from __future__ import annotations

import http.client
import json
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from rigmon.errors import UsageError
from rigmon.outlets.glance import Glance
from rigmon.outlets.page.app import Asked, Page
from rigmon.outlets.page.hub import Hub
from rigmon.outlets.page.keys import Keys
from rigmon.outlets.page.server import PageServer, door
from rigmon.records import (
    Choice,
    ChoiceField,
    Estimate,
    MarkWord,
    Place,
    ProbeSeen,
    Quality,
    Said,
    Stage,
    State,
    Undoable,
)

WAIT_S = 8.0
RUN = "rig-a-20261130T100000Z"
Told = tuple[int, Mapping[str, str], bytes]
"""Status, headers, body."""


class Stream:
    """Reads server-sent events (WHATWG HTML, section 9.2) over a connection of its own.

    Args:
        port: where.
        path: the stream's address.
        headers: what is said besides.
    """

    def __init__(self, port: int, path: str, headers: Mapping[str, str]) -> None:
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
        self._connection.request("GET", path, headers=dict(headers))
        self.answer = self._connection.getresponse()
        self.last_id = ""

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        """Name and data of each event, until the program ends the stream."""
        name, data = "message", ""
        while line := self.answer.readline().decode():
            line = line.rstrip("\n")
            if not line:
                if data:
                    yield name, json.loads(data)
                name, data = "message", ""
            elif line.startswith("event: "):
                name = line[7:]
            elif line.startswith("id: "):
                self.last_id = line[4:]
            elif line.startswith("data: "):
                data += line[6:]

    def next(self, name: str) -> Any:
        """Data of the next event of a name."""
        return next(data for found, data in self if found == name)

    def close(self) -> None:
        """Go away."""
        if self._connection.sock is not None:
            self._connection.sock.close()
        self._connection.close()


@dataclass
class Served:
    """A page that is served.

    Args:
        hub: what it shows.
        server: its server.
        port: its port.
        marks: what was marked, by rig.
    """

    hub: Hub
    server: PageServer
    port: int
    marks: list[tuple[str, str]] = field(default_factory=list)
    streams: list[Stream] = field(default_factory=list)

    def ask(
        self,
        path: str,
        method: str = "GET",
        body: bytes | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Told:
        """One request and its answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=WAIT_S)
        try:
            connection.request(method, path, body, dict(headers or {}))
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()

    def json(self, path: str) -> Any:
        """An answer as data."""
        status, _, body = self.ask(path)
        assert status == 200, body
        return json.loads(body)

    def mark(
        self, text: str, headers: Mapping[str, str] | None = None, path: str = "/"
    ) -> tuple[int, Any]:
        """Say a mark as the page does."""
        said = json.dumps({"mark": text}).encode()
        given = {"content-type": "application/json", **(headers or {})}
        status, _, body = self.ask(f"{path}api/v1/rigs/rig-a/marks", "POST", said, given)
        return status, json.loads(body) if body.startswith(b"{") else body

    def stream(self, path: str = "/api/v1/stream", **headers: str) -> Stream:
        """Listen."""
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        made = Stream(self.port, path, given)
        self.streams.append(made)
        return made

    def tell(self, *said: Said, rig: str = "rig-a", run: str | None = RUN) -> None:
        """Say something of a rig."""
        for one in said:
            self.hub.tell(rig, run, one)


Serve = Callable[..., Served]


@pytest.fixture
def serve() -> Iterator[Serve]:
    """Serves pages on free ports of this machine."""
    all_served: list[Served] = []

    def make(
        keys: Keys | None = None,
        names: tuple[str, ...] = (),
        rigs: tuple[str, ...] = ("rig-a",),
        report: Callable[[str], str | None] = lambda _: None,
        reported: Callable[[str], bool] = lambda _: False,
    ) -> Served:
        hub = Hub({rig: Glance(rig) for rig in rigs})
        listening = door("127.0.0.1", _free_port())
        ready = threading.Event()
        marks: list[tuple[str, str]] = []

        def mark(rig: str, text: str) -> Mapping[str, Any]:
            marks.append((rig, text))
            ok = not text.startswith("refuse")
            return {"ok": ok, "rig": rig, "text": "Noted." if ok else "Not now."}

        def plan(rig: str) -> Mapping[str, Any]:
            if rig != "rig-a":
                raise UsageError("Without a recipe there is no plan")
            return {"name": "Plain", "ice_g": 2600.0}

        asked = Asked(mark, plan, reported, report)
        page = Page(hub, asked, dict.fromkeys(rigs, False))
        failed: list[str] = []

        def attach(loop: Any) -> None:
            hub.attach(loop)
            ready.set()

        server = PageServer(
            listening, lambda: page.app(keys or Keys(), names), attach, failed.append
        )
        assert ready.wait(WAIT_S)
        served = Served(hub, server, int(listening.getsockname()[1]), marks)
        all_served.append(served)
        return served

    yield make
    for served in all_served:
        for stream in served.streams:
            stream.close()
        served.hub.close()
        served.server.close()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


MakeFull = Callable[..., State]


@pytest.fixture(scope="session")
def full_state() -> MakeFull:
    """Makes a state with all that a page shows."""

    def make(at: float = 312.0, stage: Stage = Stage.BEAT, bath_c: float = -16.75) -> State:
        grams = ChoiceField("ice_g", "ice", "g", None, 0.0, 50_000.0, 50.0)
        return State(
            at=at,
            stage=stage,
            round=1,
            estimate=Estimate(
                at,
                bath_c=-16.8,
                bath_c_sd=0.2,
                mix_c=-2.614,
                mix_c_sd=0.1,
                frozen_pct=6.54,
                frozen_pct_sd=1.21,
                cooling_w=148.0,
                cooling_w_sd=22.0,
                ice_left_g=2010.4,
                ice_left_g_sd=160.2,
                ice_put_g=2600.0,
                brine_pct=21.93,
                brine_pct_sd=0.44,
                wall_g=35.2,
                wall_g_sd=20.1,
            ),
            quality={"bath": Quality.GOOD, "mix": Quality.NOISY},
            probes={
                "bath": ProbeSeen(Place.BATH, bath_c, at - 0.4),
                "mix": ProbeSeen(Place.MIX, -2.6, at - 0.9, "It jumps: look at its plug."),
            },
            choices=(
                Choice("beat-stop", "Beating stopped", "s"),
                Choice("recharge", "Recharged", "r", (grams,)),
            ),
            undo=Undoable(MarkWord.POUR, 180.0),
            stiffening_pct_min=1.84,
            bath_limit_c=-9.5,
            freezing_c=-2.4,
        )

    return make
