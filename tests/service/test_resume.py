"""Which run is gone on with, and that it is gone on with where it stood."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from rigmon.errors import ConfigError
from rigmon.outlets.jsonlines import as_dict
from rigmon.records import (
    Alarm,
    AlarmState,
    Condition,
    Fault,
    Mark,
    MarkWord,
    Problem,
    Reading,
    Said,
    State,
    parse_mark,
)
from rigmon.run.monitor import Monitor
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import Rig, header_of
from rigmon.service.resume import LONGEST_BREAK_S, broken_off, take_up
from rigmon.service.rigwatch import RigWatch
from rigmon.store import ClockRow, RunHeader, RunLog, steps

if TYPE_CHECKING:
    from tests.service.conftest import Ears

T0 = 1_783_173_600.0
LASTED_S = 200.0


@pytest.fixture
def gone(monkeypatch: pytest.MonkeyPatch) -> None:
    """The process that wrote the log is no more."""
    monkeypatch.setattr("rigmon.store.archive.is_alive", lambda _name: False)


Leave = Callable[..., RunHeader]


@pytest.fixture
def leave_open(log: RunLog, rig: Rig) -> Leave:
    """Logs a run that nobody ended, its last item LASTED_S after its start."""

    def make(rig: Rig = rig, started: float = T0) -> RunHeader:
        header = header_of(rig, started)
        log.begin(header)
        log.add(header.id, Mark(0.0, MarkWord.POUR), 0.0)
        log.add(header.id, Reading(LASTED_S, "bath", -15.0), 0.0)
        log.commit()
        return header

    return make


@pytest.mark.usefixtures("gone")
def test_the_newest_run_is_gone_on_with_for_two_hours(
    log: RunLog, rig: Rig, leave_open: Leave
) -> None:
    """Counted from its last item; a clock that stood while the computer was off is no hindrance."""
    leave_open(started=T0 - 5000.0)
    header = leave_open()
    last = T0 + LASTED_S
    for now in (last, last + LONGEST_BREAK_S, last - LONGEST_BREAK_S):
        assert broken_off(log, rig, now) == header
    for now in (last + LONGEST_BREAK_S + 1.0, last - LONGEST_BREAK_S - 1.0):
        assert broken_off(log, rig, now) is None


@pytest.mark.usefixtures("gone")
def test_an_older_run_is_left_where_it_is(log: RunLog, rig: Rig, leave_open: Leave) -> None:
    """Once a newer one has come and ended, the one before is history."""
    leave_open()
    newer = leave_open(started=T0 + 300.0)
    log.end(newer.id, LASTED_S)
    assert broken_off(log, rig, T0 + 600.0) is None


def test_a_run_that_another_program_watches_is_not_taken_away(
    log: RunLog, rig: Rig, leave_open: Leave
) -> None:
    """This very process began it and lives."""
    leave_open()
    assert broken_off(log, rig, T0 + 300.0) is None


@pytest.mark.usefixtures("gone")
def test_only_real_runs_of_the_same_rig_are_gone_on_with(
    log: RunLog, rig: Rig, virtual_rig: Rig, leave_open: Leave
) -> None:
    """A virtual kitchen is gone with its program, and another rig has another bath."""
    leave_open(virtual_rig)
    assert broken_off(log, virtual_rig, T0 + 300.0) is None
    assert broken_off(log, rig, T0 + 300.0) is None
    other = replace(rig, setup=replace(rig.setup, id="other"))
    leave_open(other)
    assert broken_off(log, rig, T0 + 300.0) is None
    assert broken_off(log, other, T0 + 300.0) is not None


def words(said: list[Said]) -> list[dict[str, Any]]:
    """What the log keeps of what was said, without the news of taking up."""
    kept = [as_dict(one) for one in said if not isinstance(one, State)]
    return [one for one in kept if one.get("what") != "resumed"]


def kitchen(watch: RigWatch, from_s: int, to_s: int) -> None:
    """A bath at work and a mix that cools, with an open circuit for a while."""
    for t in range(from_s, to_s):
        watch.take(Reading(T0 + t, "bath", -16.0 + 0.002 * t))
        mix_c = max(4.0 - 0.05 * t, -3.0 - 0.002 * t)
        broken = 60 <= t < 90
        fault = Fault.OPEN if broken else None
        watch.take(Reading(T0 + t, "mix", None if broken else mix_c, fault=fault))
        watch.pass_time(T0 + t + 0.7)


@pytest.mark.parametrize("broken_s", [30, 75, 150])
def test_a_run_taken_up_says_what_an_unbroken_one_would(
    rig: Rig, log: RunLog, ears: Ears, broken_s: int
) -> None:
    """Broken off anywhere and taken up a minute later, every word is that of one long watch."""
    keeper = LogKeeper(log)
    watch = RigWatch(rig, keeper, ears.tell, T0)
    watch.take(parse_mark("pour mix_g=1000", T0))
    kitchen(watch, 1, broken_s)
    log.commit()
    (row,) = log.runs()
    now = T0 + broken_s + 60.0

    run = take_up(log, row.header, now, lambda: True)
    assert run is not None
    assert run.same_as(rig)
    again = RigWatch(rig, keeper, ears.tell, now)
    before = len(ears.heard)
    again.go_on(run)
    told = [said for _, said in ears.heard[before:]]
    del ears.heard[before:]
    assert [one.code for one in told if isinstance(one, Alarm)] == (
        ["probe-fault"] if broken_s > 60 else []
    )
    assert [one.what for one in told if isinstance(one, Problem)] == ["resumed"]
    kitchen(again, broken_s + 60, broken_s + 120)
    again.take(parse_mark("end", T0 + broken_s + 120.0))

    monitor = Monitor(rig.setup, rig.recipe, rig.prior, rig.seed)
    unbroken: list[Said] = []
    for step in steps(log, row.header.id):
        unbroken += monitor.advance(step.t) if isinstance(step, ClockRow) else monitor.feed(step)
    unbroken += monitor.finish()
    assert words([said for _, said in ears.heard]) == words(unbroken)
    assert words([]) != words(unbroken)
    logged = [json.loads(line) for line in log.said(row.header.id)]
    assert [one for one in logged if one.get("what") != "resumed"] == json.loads(
        json.dumps(words(unbroken))
    )


def test_what_was_said_in_silence_is_not_said_again(rig: Rig, log: RunLog, ears: Ears) -> None:
    """Words that came after the last item, such as a silent probe's, were in the log already."""
    keeper = LogKeeper(log)
    watch = RigWatch(rig, keeper, ears.tell, T0)
    watch.take(parse_mark("pour", T0))
    kitchen(watch, 1, 20)
    for t in range(20, 60):
        watch.pass_time(T0 + t + 0.7)
    assert [alarm.code for alarm in ears.of(Alarm)] == ["probe-silent"]
    log.commit()
    (row,) = log.runs()
    run = take_up(log, row.header, T0 + 61.0, lambda: True)
    assert run is not None
    ears.heard.clear()
    again = RigWatch(rig, keeper, ears.tell, T0 + 61.0)
    again.go_on(run)
    again.pass_time(T0 + 61.0)
    log.commit()
    told = [json.loads(line) for line in log.said(row.header.id)]
    assert [one["code"] for one in told if one["type"] == "alarm"] == ["probe-silent"]
    assert [alarm.code for alarm in ears.of(Alarm)] == ["probe-silent"]


def test_a_clock_that_came_back_early_loses_no_time(
    log: RunLog, rig: Rig, ears: Ears, leave_open: Leave
) -> None:
    """A computer without a clock of its own starts in the past; readings are not late for that."""
    header = leave_open()
    run = take_up(log, header, T0 + 10.0, lambda: True)
    assert run is not None
    watch = RigWatch(rig, LogKeeper(log), ears.tell, T0 + 10.0)
    watch.go_on(run)
    watch.take(Reading(T0 + 11.0, "bath", -15.0))
    log.commit()
    *_, (_, reading) = log.items(header.id)
    assert reading.t == pytest.approx(LASTED_S + 1.0, abs=0.01)


def test_a_log_that_had_stopped_is_taken_as_going_on(
    log: RunLog, rig: Rig, ears: Ears, leave_open: Leave
) -> None:
    """The condition went with the program that had it; its alarm waits to be acknowledged."""
    header = leave_open()
    log.add(header.id, Condition(LASTED_S, "log-stopped", active=True, text="Full."), LASTED_S)
    log.add(header.id, Reading(LASTED_S + 3.0, "bath", -15.0), LASTED_S)
    log.commit()
    run = take_up(log, header, T0 + 300.0, lambda: True)
    assert run is not None
    watch = RigWatch(rig, LogKeeper(log), ears.tell, T0 + 300.0)
    watch.go_on(run)
    watch.pass_time(T0 + 300.0)
    states = [alarm.state for alarm in ears.of(Alarm) if alarm.code == "log-stopped"]
    assert states == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED]


def test_a_changed_rig_is_told(log: RunLog, rig: Rig, ears: Ears, leave_open: Leave) -> None:
    """The run keeps rig and recipe as they were, so that it can be replayed; the maker knows."""
    run = take_up(log, leave_open(), T0 + 300.0, lambda: True)
    assert run is not None
    changed = replace(rig, recipe=None)
    assert not run.same_as(changed)
    RigWatch(changed, LogKeeper(log), ears.tell, T0 + 300.0).go_on(run)
    (problem,) = [said for said in ears.of(Problem) if said.what == "resumed"]
    assert problem.text.startswith("Going on with the run begun at ")
    assert problem.text.endswith(", with rig and recipe as they were then.")


def test_taking_up_can_be_given_up(log: RunLog, leave_open: Leave) -> None:
    """Ctrl-C does not wait for a long run to be read."""
    header = leave_open()
    pulses = iter((True, False))
    assert take_up(log, header, T0 + 300.0, lambda: next(pulses)) is None


def test_a_document_that_cannot_be_read_is_an_error(log: RunLog, leave_open: Leave) -> None:
    """It is for the daemon to tell, and to watch on without the run."""
    header = replace(leave_open(), document="[rigs.slip]\nfrom_the_future = 1\n")
    with pytest.raises(ConfigError, match="from_the_future"):
        take_up(log, header, T0 + 300.0, lambda: True)
