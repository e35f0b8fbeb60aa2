"""The page of the program as it is started: killed, started again, in the way of another."""

from __future__ import annotations

import http.client
import json
import re
import signal
import socket
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.waiting import until

if TYPE_CHECKING:
    from tests.system.conftest import Board
    from tests.system.program.conftest import Configure, Kitchen, Start

WAIT_S = 15.0


def asked(port: int, path: str, mark: str | None = None) -> Any:
    """What the page answers; None while nobody does."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    body = None if mark is None else json.dumps({"mark": mark})
    try:
        method = "GET" if mark is None else "POST"
        connection.request(method, path, body, {"content-type": "application/json"})
        answer = connection.getresponse()
        said = answer.read()
        return json.loads(said) if said.startswith(b"{") else (answer.status, said)
    except ConnectionError:
        return None
    finally:
        connection.close()


def missed(port: int, since: str, enough: Callable[[list[float]], bool]) -> list[float]:
    """Run times of the rows that a page gets which comes back with its last number."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    connection.request("GET", "/api/v1/stream", headers={"last-event-id": since})
    answer, times, name = connection.getresponse(), list[float](), b""
    while not enough(times):
        line = answer.readline()
        assert line, times
        if line.startswith(b"event: "):
            name = line[7:].strip()
        elif line.startswith(b"data: ") and name == b"row":
            times += [row["at"] for row in json.loads(line[6:])["rows"]]
    connection.sock.close()
    answer.close()
    connection.close()
    return times


def free_port() -> int:
    """A port that nobody has."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_killed_in_the_middle_of_a_run_the_page_has_all_of_it_again(
    board: Board,
    make_kitchen: Callable[[Board], Kitchen],
    configure: Configure,
    start: Start,
    tmp_path: Path,
) -> None:
    """A page that waits at the address gets every second since the one it knew, from both lives."""
    config = configure(kitchen=f'source = "serial"\nport = "{board.port}"')
    port, log_path = free_port(), tmp_path / "runs.sqlite"
    words = ("watch", "--config", config, "--plain", "--log", log_path, "--port", str(port))
    first = start(*words)
    assert board.heard(b"ping")
    make_kitchen(board)
    path = "/api/v1/rigs/kitchen/trend"
    until(lambda: (asked(port, path) or {"seq": 0})["seq"])
    assert asked(port, "/api/v1/rigs/kitchen/marks", "pour mix_g=1000")["ok"]
    poured = asked(port, path)["seq"]
    until(lambda: asked(port, path)["seq"] >= poured + 3)
    before = asked(port, path)
    first.process.send_signal(signal.SIGKILL)
    first.process.wait(WAIT_S)
    start(*words)
    until(lambda: asked(port, path))
    known_s = before["columns"]["at"][-1]
    times = missed(port, str(before["seq"]), lambda got: bool(got) and got[-1] > known_s + 3)
    after = asked(port, path)

    assert after["run"] == before["run"]
    assert after["marks"][0]["word"] == "pour"
    # Numbers of another life are all new: what was before the kill comes as well.
    assert set(before["columns"]["at"]) <= set(times)
    assert {later - one for one, later in pairwise(times)} == {1.0}


def test_where_the_page_is_and_where_it_cannot_be(start: Start) -> None:
    """A port that is meant and taken ends the program with a sentence; --no-page asks for none."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = str(other.getsockname()[1])
        refused = start("demo", "--port", taken)
        without = start("demo", "--plain", "--no-page", "--port", taken)
        open_to_all = start("demo", "--plain", "--guests", "--port", str(free_port()))
        assert refused.end() == 3
        assert refused.err.seen[-1].startswith(f"rigmon: Port {taken} is taken by another program:")
        told = open_to_all.err.until(lambda line: line.startswith("The page, for looking only: "))
        found = re.fullmatch(r".*: http://[^/]+:(\d+)/([a-z2-9-]{19})/", told)
        assert found
        port, key = int(found[1]), found[2]
        until(lambda: asked(port, f"/{key}/api/v1/hello"))
        assert asked(port, f"/{key}/api/v1/hello")["rights"] == "guest"
        assert asked(port, "/api/v1/hello") == (404, b"Not found.\n")
        for program in (without, open_to_all):
            assert program.end(signal.SIGINT) == 130
        assert not any("page" in line for line in without.err.seen)
