"""The page belongs to the daemon, and is never its trouble."""

from __future__ import annotations

import http.client
import io
import json
import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigmon.config import PageConfig
from rigmon.errors import DeviceError, UsageError
from rigmon.outlets.page import server as serving
from rigmon.records import Mark, MarkHeard, MarkWord, Problem, Reading, Said, SourceNews
from rigmon.service.clock import Clock
from rigmon.service.daemon import Daemon
from rigmon.service.inbox import Answer
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.pagekeys import kept_keys
from rigmon.service.pageside import (
    EVERYWHERE,
    PAGE_FAILED,
    PageFlags,
    PageSide,
    announced,
    own_address,
)
from rigmon.service.prepare import Rig, header_of
from rigmon.store import RunLog
from tests.waiting import until

if TYPE_CHECKING:
    from tests.service.conftest import Ears, Handy

WAIT_S = 10.0


@pytest.fixture(autouse=True)
def data_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nobody's own keys are touched."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("RIGMON_LOG", raising=False)
    return tmp_path / "data" / "rigmon"


@pytest.fixture
def port() -> int:
    """A free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Told:
    """What the page asks of a daemon, remembered."""

    log_path: Path | None = None

    def __init__(self, rig: Rig) -> None:
        self.news: list[SourceNews] = []
        self._rig = rig

    def ask(self, rig: str | None, text: str) -> Answer:
        """Take everything."""
        return {"ok": True, "text": f"{rig}: {text}"}

    def put(self, _rig: str, item: SourceNews) -> None:
        """Remember."""
        self.news.append(item)

    def rig(self, _rig: str) -> Rig:
        """The one there is."""
        return self._rig


def ask(port: int, path: str, mark: str | None = None, *, method: str = "GET") -> tuple[int, Any]:
    """One question to the page, or one mark."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    body = None if mark is None else json.dumps({"mark": mark})
    method = method if mark is None else "POST"
    connection.request(method, path, body, {"content-type": "application/json"})
    answer = connection.getresponse()
    said = answer.read()
    connection.close()
    return answer.status, json.loads(said) if said[:1] in (b"{", b"[") else said.decode()


@contextmanager
def running(daemon: Daemon, source: Handy) -> Iterator[None]:
    """The daemon in a thread, from when its sources run."""
    thread = threading.Thread(target=daemon.run)
    thread.start()
    try:
        assert source.started.wait(WAIT_S)
        yield
    finally:
        daemon.stop()
        thread.join(WAIT_S)
    assert not thread.is_alive()


def test_a_mark_on_the_page_is_in_the_log(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper, log: RunLog, port: int
) -> None:
    """It is a mark like any other, answered once it is kept; a wrong one is refused in words."""
    page = PageSide([rig], PageConfig(port=port))
    with running(Daemon([rig], [source], [ears], keeper, page=page), source):
        source.give(rig.setup.id, Reading(time.time(), "bath", -15.0))
        where = f"/api/v1/rigs/{rig.setup.id}"
        status, said = ask(port, f"{where}/marks", "pour mix_g=900")
        assert (status, said) == (200, {"ok": True, "text": "Mix poured; round 1."})
        (row,) = log.runs()
        items = [item for _, item in log.items(row.header.id)]
        assert [one.word for one in items if isinstance(one, Mark)] == [MarkWord.POUR]
        status, said = ask(port, f"{where}/marks", "pour")
        assert (status, said["ok"]) == (422, False)
        assert "in the bowl already" in said["text"]
        trend = ask(port, f"{where}/trend")[1]
        assert trend["run"] == row.header.id
        assert [mark["word"] for mark in trend["marks"]] == ["pour"]
        assert ask(port, f"/api/v1/runs/{row.header.id}/report")[0] == 404


def test_a_reading_reaches_the_page_before_its_second_is_over(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper, port: int
) -> None:
    """As it was accepted, at its time of the run; what was rejected is not sent."""
    page = PageSide([rig], PageConfig(port=port))
    with running(Daemon([rig], [source], [ears], keeper, page=page), source):
        assert ask(port, f"/api/v1/rigs/{rig.setup.id}/marks", "pour")[0] == 200
        reader = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
        reader.request("GET", "/api/v1/stream")
        lines = reader.getresponse()
        assert lines.readline() == b"event: picture\n"
        now = time.time()
        for ms, c in ((0, -15.25), (1, -15.25), (2, 900.0)):
            source.give(rig.setup.id, Reading(now + ms / 1000.0, "bath", c))
        events = iter(lines.readline, b"event: bye\n")
        end = time.monotonic() + WAIT_S
        assert any(line == b"event: reading\n" or time.monotonic() > end for line in events)
        told = json.loads(lines.readline().removeprefix(b"data: "))
        reader.sock.close()
        lines.close()
        reader.close()

    assert told.pop("at") == pytest.approx(0.0, abs=2.0)
    assert told == {"rig": rig.setup.id, "probe": "bath", "place": "bath", "c": -15.25}


def test_the_report_of_a_run_is_there_once_it_has_ended(
    rig: Rig, source: Handy, ears: Ears, keeper: LogKeeper, log: RunLog, port: int
) -> None:
    """Whether there is one is answered without making it; of a run that goes on there is none."""
    made: list[str] = []
    making = PageSide._report

    def report(path: Path | None, run: str) -> str | None:
        made.append(run)
        return making(path, run)

    page = PageSide([rig], PageConfig(port=port))
    page._report = report  # type: ignore[method-assign]
    with running(Daemon([rig], [source], [ears], keeper, page=page), source):
        marks = f"/api/v1/rigs/{rig.setup.id}/marks"
        assert ask(port, marks, "pour mix_g=900")[0] == 200
        (row,) = log.runs()
        path = f"/api/v1/runs/{row.header.id}/report"
        assert ask(port, path, method="HEAD")[0] == 404
        assert ask(port, path) == (404, {"text": "There is no such report."})
        source.give(rig.setup.id, Reading(time.time(), "bath", -15.0))
        assert ask(port, marks, "end")[0] == 200
        made.clear()
        assert ask(port, path, method="HEAD")[0] == 200
        assert made == []
        status, text = ask(port, path)
        assert ask(port, path)[1] == text
        assert made == [row.header.id]
        assert ask(port, "/api/v1/runs/none/report", method="HEAD")[0] == 404
        assert ask(port, "/api/v1/runs/none/report")[1]["text"].startswith("There is no run")

    assert status == 200
    assert text.startswith("<!doctype html>")
    assert f"Run {row.header.id}" in text
    assert "900 g of mix poured" in text
    # All that it has it brings along: the policy that it is sent with allows nothing else.
    assert not re.search(r"<(script|img|image|link|iframe|object)\b|\bsrc=|url\((?!#)", text)
    assert set(re.findall(r'href="(.)', text)) <= {"#"}


def test_a_run_that_was_broken_off_is_on_the_page_from_its_beginning(
    rig: Rig,
    source: Handy,
    ears: Ears,
    keeper: LogKeeper,
    log: RunLog,
    port: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Trend and marks begin with the run, not with the program that goes on with it."""
    monkeypatch.setattr("rigmon.store.archive.is_alive", lambda _name: False)
    header = header_of(rig, time.time() - 60.0)
    log.begin(header)
    log.add(header.id, Mark(0.0, MarkWord.ICE_IN), 0.0)
    for t in range(30):
        log.add(header.id, Reading(float(t), "bath", -10.0 - 0.1 * t), float(t))
    log.commit()
    page = PageSide([rig], PageConfig(port=port))
    path = f"/api/v1/rigs/{rig.setup.id}/trend"
    with running(Daemon([rig], [source], [ears], keeper, page=page), source):
        until(lambda: len(ask(port, path)[1]["columns"]["at"]) >= 29)
        trend = ask(port, path)[1]
        # Nothing of it is said a second time to those who only listen.
        assert not ears.of(MarkHeard)

    assert trend["run"] == header.id
    assert trend["columns"]["bath"][5] == -10.5
    assert [mark["word"] for mark in trend["marks"]] == ["ice-in"]


def test_the_plan_is_that_of_the_rigs_recipe(rig: Rig, port: int) -> None:
    """Reckoned once; without a recipe a sentence says what to do."""
    page = PageSide()
    first = page._plan(rig)

    assert rig.recipe is not None
    assert first["name"] == rig.recipe.name
    assert first["ice_g"] == rig.setup.bath.ice_g
    assert page._plan(rig) is first
    with pytest.raises(UsageError, match="Without a recipe there is no plan"):
        page._plan(replace(rig, recipe=None))


def test_what_breaks_in_the_page_stays_there(
    rig: Rig, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever watches is told in a sentence, once, and goes on watching."""
    daemon = Told(rig)
    page = PageSide([rig], PageConfig(port=port))
    page.open(daemon)

    def breaks(*_: object) -> None:
        raise ValueError("of its own")

    assert page._hub is not None
    monkeypatch.setattr(page._hub._rigs[rig.setup.id].rig, "tell", breaks)
    for _ in range(3):
        page.tell(rig.setup.id, None, Problem(0.0, "x", "", "y"))
    page.close()

    assert [(news.what, news.text) for news in daemon.news] == [
        (PAGE_FAILED, "The page has failed: ValueError: of its own.")
    ]
    assert not page.watched


def test_without_a_port_the_watching_goes_on(
    rig: Rig, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A port that was asked for must be had; if none was, a sentence is enough."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", port))
        other.listen()
        with pytest.raises(DeviceError, match=f"Port {port} is taken"):
            PageSide([rig], PageConfig(port=port))
        monkeypatch.setattr(serving, "DEFAULT_PORT", port)
        monkeypatch.setattr(serving, "_OTHERS", 0)
        page = PageSide([rig])
    assert page.note.startswith("The page is not served: Port")
    assert page.addresses == ()
    page.tell(rig.setup.id, None, Problem(0.0, "x", "", "y"))
    page.open(Told(rig))
    page.close()


def test_no_page_no_port(rig: Rig) -> None:
    """With --no-page, or switched off in the configuration, nothing listens."""
    for config in (PageFlags(off=True).over(PageConfig()), PageConfig(enabled=False)):
        assert PageSide([rig], config).addresses == ()


def test_only_this_machine_is_let_in_without_a_key(rig: Rig, port: int) -> None:
    """By default the page is bound to it; open to the network, both addresses have their keys."""
    near = PageSide([rig], PageConfig(port=port))
    assert [(own.url, own.far) for own in near.addresses] == [(f"http://127.0.0.1:{port}/", False)]
    near.close()
    far = PageSide([rig], PageFlags(guests=True).over(PageConfig(port=port + 1)))
    keys, _ = kept_keys()

    assert [address.url.split("/")[3] for address in far.addresses] == [keys.full, keys.guest]
    assert all(address.far for address in far.addresses)
    only = PageSide([rig], PageFlags(lan=True).over(PageConfig(port=port + 2)))
    assert [address.url.split("/")[3] for address in only.addresses] == [keys.full]
    for page in (far, only):
        page.open(Told(rig))
    until(lambda: ask(port + 2, f"/{keys.full}/")[0] == 200)
    assert ask(port + 2, "/")[0] == 404
    assert ask(port + 2, f"/{keys.guest}/")[0] == 404
    assert ask(port + 1, f"/{keys.guest}/")[0] == 200
    for page in (far, only):
        page.close()


def test_what_is_said_goes_before_what_is_configured() -> None:
    """And what is not said stays as it is configured."""
    config = PageConfig(port=9000, host="192.0.2.7", names=("kitchen",))

    assert PageFlags().over(config) == config
    assert PageFlags(port=9001, lan=True).over(config) == replace(config, port=9001)
    assert PageFlags(lan=True).over(PageConfig()).host == EVERYWHERE


class Terminal(io.StringIO):
    """A stream that is a terminal."""

    def isatty(self) -> bool:
        """It is."""
        return True


def test_a_camera_can_read_the_address_in_a_terminal(rig: Rig, port: int) -> None:
    """As a picture of half blocks; in a pipe the address alone."""
    page = PageSide([rig], PageFlags(lan=True).over(PageConfig(port=port)))
    terminal, pipe = Terminal(), io.StringIO()
    announced(page, terminal)
    announced(page, pipe)

    (address,) = page.addresses
    assert pipe.getvalue() == f"The page, for your network: {address.url}\n"
    lines = terminal.getvalue().splitlines()
    assert 15 <= len(lines) <= 25
    assert max(map(len, lines[1:])) <= 60
    assert "▀" in terminal.getvalue() or "▄" in terminal.getvalue()
    page.open(Told(rig))
    page.close()


def test_the_address_is_one_that_others_reach() -> None:
    """Or there is none: never that of the machine for itself."""
    assert own_address() is None or not str(own_address()).startswith("127.")


class Silent:
    """An outlet that hears nothing."""

    def tell(self, rig_id: str, said: Said) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


def test_a_demo_stays_for_who_reads_its_page(
    virtual_rig: Rig, source: Handy, keeper: LogKeeper, port: int
) -> None:
    """Its story is to be read; once the page is closed the program ends by itself."""
    rig = virtual_rig
    page = PageSide([rig], PageConfig(port=port))
    daemon = Daemon([rig], [source], [Silent()], keeper, Clock(), page=page, once=True)
    thread = threading.Thread(target=daemon.run)
    thread.start()
    assert source.started.wait(WAIT_S)
    reader = http.client.HTTPConnection("127.0.0.1", port, timeout=WAIT_S)
    reader.request("GET", "/api/v1/stream")
    lines = reader.getresponse()
    assert lines.readline() == b"event: picture\n"
    for mark in ("pour", "end"):
        assert ask(port, f"/api/v1/rigs/{rig.setup.id}/marks", mark)[0] == 200
    until(lambda: ask(port, f"/api/v1/rigs/{rig.setup.id}/story")[0] == 200)
    thread.join(0.3)
    assert thread.is_alive()
    reader.sock.close()
    lines.close()
    reader.close()
    thread.join(WAIT_S)

    assert not thread.is_alive()
    assert daemon.ended
