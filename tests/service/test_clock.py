"""The service's clock: steady, also when the computer's is set, and as fast as it is told."""

from __future__ import annotations

import time

import pytest

from rigmon.service.clock import Clock, time_of_day


class Steady:
    """The computer's clocks, set by hand."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.unix, self.steady = 1_783_173_600.0, 50.0
        monkeypatch.setattr(time, "time", lambda: self.unix)
        monkeypatch.setattr(time, "clock_gettime", lambda _which: self.steady)

    def go_on(self, seconds: float) -> None:
        """Both go on."""
        self.unix += seconds
        self.steady += seconds


@pytest.fixture
def computer(monkeypatch: pytest.MonkeyPatch) -> Steady:
    """The computer's clocks."""
    return Steady(monkeypatch)


def test_a_jump_of_the_computers_clock_does_not_reach_a_run(computer: Steady) -> None:
    """Network time that arrives in the middle of a run moves nothing."""
    clock = Clock()
    started = clock.now()
    computer.go_on(10.0)
    computer.unix += 86_400.0
    assert clock.now() - started == pytest.approx(10.0)


def test_a_change_of_speed_neither_loses_nor_repeats_time(computer: Steady) -> None:
    """The virtual rig hurries through the freezer and is slow again at the bowl."""
    clock = Clock(20.0)
    started = clock.now()
    computer.go_on(3.0)
    clock.run_at(200.0)
    assert clock.now() - started == pytest.approx(60.0)
    computer.go_on(1.0)
    clock.run_at(1.0)
    computer.go_on(5.0)
    assert clock.now() - started == pytest.approx(265.0)


def test_a_time_of_another_day_names_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that was begun yesterday evening is not taken for one of this evening."""
    now = time.mktime((2026, 7, 4, 20, 30, 0, 0, 0, -1))
    today = time.localtime(now)
    local = time.localtime
    monkeypatch.setattr(time, "localtime", lambda unix=None: today if unix is None else local(unix))
    assert time_of_day(now - 3600.0) == "19:30"
    assert time_of_day(now - 86_400.0) == "2026-07-03 20:30"
