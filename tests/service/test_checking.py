"""What `rigmon check` says of this computer, and of readings that are not as they should be."""

from __future__ import annotations

import socket
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from rigmon.config import PageConfig
from rigmon.records import Converter, Fault, Place, ProbeSetup, Reading, RigSetup
from rigmon.service.checking import home
from rigmon.service.checking.finding import Finding, Level
from rigmon.service.checking.probes import Came, of_probes
from rigmon.service.prepare import Rig

T0 = 1_783_173_600.0
SETUP = RigSetup(probes=(ProbeSetup("bath", Place.BATH), ProbeSetup("mix", Place.MIX)))


def level(found: list[Finding], subject: str) -> Level:
    """The level of the only finding on a subject."""
    (one,) = [finding for finding in found if finding.subject == subject]
    return one.level


def test_a_log_that_cannot_be_written_is_wrong(tmp_path: Path) -> None:
    """A file that is no log; a disk that is nearly full says so before the batch."""
    (tmp_path / "text.sqlite").write_text("this is no log, and long enough to be read as one")
    assert level(list(home.of_disk(tmp_path / "text.sqlite")), "log") is Level.WRONG
    assert level(list(home.of_disk(tmp_path / "new" / "runs.sqlite")), "log") is Level.OK


@pytest.mark.parametrize(
    ("free_mb", "expected"), [(5.0, Level.WRONG), (100.0, Level.LOOK), (9e4, Level.OK)]
)
def test_room_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free_mb: float, expected: Level
) -> None:
    """Little is a warning, next to nothing loses the run."""
    usage = type("Usage", (), {"free": free_mb * 1e6})()
    monkeypatch.setattr("shutil.disk_usage", lambda _path: usage)
    assert level(list(home.of_disk(tmp_path / "runs.sqlite")), "disk") is expected


def test_the_pages_port_is_free_or_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Free, or held by a program that serves no page: wrong only if just this port will do."""
    monkeypatch.setattr(home, "_PATIENCE_S", 0.1)
    with closing(socket.create_server(("127.0.0.1", 0))) as server:
        port = server.getsockname()[1]
        assert home.of_page(PageConfig(port=port), 1).level is Level.WRONG
        assert "the next free one" in home.of_page(PageConfig(), port).text
    assert home.of_page(PageConfig(port=port), 1).level is Level.OK
    assert "Switched off" in home.of_page(PageConfig(enabled=False), 1).text


def test_without_a_recipe_less_is_said(rig: Rig) -> None:
    """A dry run goes through this rig's own estimator; having no recipe is a thing to look at."""
    with_recipe = list(home.of_forecast(rig))
    assert {one.level for one in with_recipe} == {Level.OK}
    assert "plateau" in with_recipe[-1].text
    without = list(home.of_forecast(replace(rig, recipe=None)))
    assert level(without, "recipe") is Level.LOOK
    assert "plateau" not in without[-1].text


def came(seconds: int = 12, **values: float | None) -> Came:
    """Readings once a second, each probe near its value; None is an open circuit."""
    found = []
    for t in range(seconds):
        for name, value in values.items():
            fault = Fault.OPEN if value is None else None
            off = 0.0625 * (t % 2)
            c = None if value is None else value + off
            found.append((T0 + t, Reading(T0 + t, name, c, fault=fault, board_s=0.9 * t)))
    return found


@pytest.mark.parametrize(
    ("setup", "readings", "subject", "expected"),
    [
        (SETUP, came(bath=-15.0, mix=3.5), "places", Level.OK),
        (SETUP, came(bath=21.0, mix=21.5), "places", Level.LOOK),
        (SETUP, came(bath=-15.0, mix=3.5), "clock", Level.LOOK),
        (SETUP, came(), "probes", None),
    ],
)
def test_findings_on_readings(
    setup: RigSetup, readings: Came, subject: str, expected: Level | None
) -> None:
    """Places told apart or not, and a board's clock that runs a tenth slow."""
    found = list(of_probes(setup, readings, 12.0))
    if expected is None:
        assert {one.level for one in found} == {Level.WRONG}
    else:
        assert level(found, subject) is expected


def test_probes_that_are_broken_silent_foreign_or_elsewhere() -> None:
    """Each with a sentence of its own."""
    readings = came(bath=None, tc9=20.0, mix=150.0)
    setup = replace(SETUP, probes=(*SETUP.probes, ProbeSetup("core", Place.CORE)))
    told = {one.text.split()[0]: one for one in of_probes(setup, readings, 12.0)}
    assert "open circuit" in told["bath"].text
    assert told["core"].level is Level.WRONG
    assert "nothing says where it sits" in told["tc9"].text
    assert "which the mix cannot have" in told["mix"].text


def test_a_board_that_must_send_its_temperature(rig: Rig) -> None:
    """A straight-line chip cannot be undone without it; no board at home is at −12 °C."""
    chip = replace(SETUP.probes[0], converter=Converter.STRAIGHT_LINE)
    setup = replace(SETUP, probes=(chip, SETUP.probes[1]))
    found = list(of_probes(setup, came(bath=-5.0, mix=3.5), 12.0))
    assert level(found, "board temp") is Level.WRONG
    for board_c, expected in ((-12.0, Level.WRONG), (24.0, Level.OK)):
        sent = [(t, replace(r, cj_c=board_c)) for t, r in came(bath=-5.0, mix=3.5)]
        assert level(list(of_probes(setup, sent, 12.0)), "board temp") is expected
