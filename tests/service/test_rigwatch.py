"""When a run begins and ends, what of it is logged, and what a mark is answered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Fault,
    Mark,
    MarkHeard,
    MarkWord,
    Place,
    Priority,
    Problem,
    Reading,
    SourceNews,
    State,
    Summary,
    parse_mark,
)
from rigmon.service.logkeeper import LogKeeper
from rigmon.service.prepare import Rig
from rigmon.service.rigwatch import KEPT_S, RigWatch, understood
from rigmon.store import RunLog, RunState

if TYPE_CHECKING:
    from pathlib import Path

    from tests.service.conftest import Ears

T0 = 1_783_173_600.25


@pytest.fixture
def watch(rig: Rig, keeper: LogKeeper, ears: Ears) -> RigWatch:
    """A rig watched from T0 on."""
    return RigWatch(rig, keeper, ears.tell, T0)


def sample(watch: RigWatch, from_s: float, to_s: float, bath_c: float, mix_c: float = 4.0) -> None:
    """Hand in a reading of each probe every second, and close the seconds."""
    t = from_s
    while t <= to_s:
        watch.take(Reading(T0 + t, "bath", bath_c))
        watch.take(Reading(T0 + t, "mix", mix_c))
        watch.pass_time(T0 + t + 0.5)
        t += 1.0


def say(watch: RigWatch, t: float, text: str) -> tuple[bool, str]:
    """Say a mark; gives whether it was taken, and the answer."""
    mark = parse_mark(text, T0 + t)
    return understood(mark, watch.take(mark))


def items(log: RunLog, run_id: str) -> list[tuple[float, str]]:
    """What a run was fed: times, and probes or words."""
    log.commit()
    return [
        (item.t, item.probe if isinstance(item, Reading) else getattr(item, "word", "condition"))
        for _, item in log.items(run_id)
    ]


def test_before_a_run_readings_are_shown_and_not_logged(
    watch: RigWatch, log: RunLog, ears: Ears
) -> None:
    """A warm bath is no run; its temperature is on the screen all the same."""
    sample(watch, 0.0, 20.0, bath_c=15.0)
    assert watch.run_id is None
    assert log.runs() == ()
    assert ears.of(State)[-1].estimate.bath_c == pytest.approx(15.0)


@pytest.mark.parametrize("word", ["ice-in", "pour", "beat-start", "start", "harden-start"])
def test_a_run_begins_with_a_mark_at_its_time_zero(watch: RigWatch, log: RunLog, word: str) -> None:
    """The run's clock starts at the mark, and its id says when that was, in UTC."""
    sample(watch, 0.0, 3.0, bath_c=15.0)
    assert say(watch, 4.0, word)[0]
    sample(watch, 5.0, 5.0, bath_c=15.0)
    assert watch.run_id == "slip-20260704T140004Z"
    assert items(log, watch.run_id) == [(0.0, word), (1.0, "bath"), (1.0, "mix")]


def test_a_run_begins_with_a_cold_bath_and_holds_what_came_just_before(
    watch: RigWatch, log: RunLog
) -> None:
    """Ice and salt are seen without a mark; the last readings before are part of the run."""
    sample(watch, 0.0, 100.0, bath_c=15.0)
    sample(watch, 101.0, 110.0, bath_c=-15.0)
    assert watch.run_id is not None
    logged = items(log, watch.run_id)
    assert logged[0] == (0.0, "bath")
    assert logged[-1][0] == pytest.approx(KEPT_S + 8.0, abs=4.0)
    assert [t for t, _ in logged] == sorted(t for t, _ in logged)


def test_a_cold_bath_does_not_begin_the_next_run_by_itself(watch: RigWatch, log: RunLog) -> None:
    """After `end` the bath is still cold; only once it was emptied does the next ice count."""
    say(watch, 0.0, "ice-in")
    sample(watch, 1.0, 5.0, bath_c=-15.0)
    assert say(watch, 6.0, "end")[0]
    sample(watch, 7.0, 20.0, bath_c=-15.0)
    assert watch.run_id is None
    sample(watch, 21.0, 40.0, bath_c=8.0)
    sample(watch, 41.0, 50.0, bath_c=-15.0)
    assert watch.run_id is not None
    assert [row.state for row in log.runs()] == [RunState.RUNNING, RunState.ENDED]


def test_a_mark_begins_a_run_even_after_an_end(watch: RigWatch) -> None:
    """A maker who says so knows better than the bath."""
    say(watch, 0.0, "ice-in")
    say(watch, 1.0, "end")
    assert say(watch, 2.0, "pour")[0]
    assert watch.run_id is not None


def test_start_ends_the_run_before(watch: RigWatch, log: RunLog, ears: Ears) -> None:
    """The old run gets its summary, its end and its id; the new one begins with the mark."""
    say(watch, 0.0, "ice-in")
    first = watch.run_id
    sample(watch, 1.0, 3.0, bath_c=-15.0)
    assert say(watch, 4.0, "start")[0]
    assert [said.at for said in ears.of(Summary)] == [pytest.approx(3.0, abs=0.3)]
    assert {row.header.id: row.state for row in log.runs()} == {
        first: RunState.ENDED,
        watch.run_id: RunState.RUNNING,
    }


def test_fresh_ice_after_packing_is_a_new_run(watch: RigWatch) -> None:
    """While the tubs harden the bowls may be used again."""
    for t, text in enumerate(("ice-in", "pour", "beat-stop", "pack", "harden-start")):
        assert say(watch, 2.0 * t, text)[0]
    first = watch.run_id
    assert say(watch, 20.0, "ice-in")[0]
    assert watch.run_id not in {None, first}
    assert watch.ended_runs == 1


def test_two_runs_of_one_second_have_ids_of_their_own(watch: RigWatch, log: RunLog) -> None:
    """A slip and its correction within a second do not end the watching."""
    for t in (0.0, 0.1, 0.2):
        assert say(watch, t, "start")[0]
    ids = sorted(row.header.id for row in log.runs())
    assert ids == [f"slip-20260704T140000Z{end}" for end in ("", "-2", "-3")]


def test_marks_need_a_run_to_belong_to(watch: RigWatch, log: RunLog) -> None:
    """Without one they are refused with what begins a run."""
    taken, answer = say(watch, 0.0, "recharge ice_g=900")
    assert not taken
    assert answer == (
        "The mark recharge was not taken: no run is going on. A run begins with ice-in, pour or "
        "start."
    )
    assert log.runs() == ()


def test_start_takes_a_recipe_and_keeps_to_the_old_run_if_it_cannot_be_read(
    watch: RigWatch, rig: Rig, log: RunLog, tmp_path: Path
) -> None:
    """A wrong recipe ends nothing; a right one is the new run's, in its words to be replayed."""
    say(watch, 0.0, "ice-in")
    first = watch.run_id
    lost = say(watch, 1.0, f"start recipe={tmp_path / 'lost.toml'}")
    assert not lost[0]
    assert "lost.toml" in lost[1]
    assert watch.run_id == first
    recipe = tmp_path / "plum.toml"
    recipe.write_text('name = "Plum"\n[composition]\nsucrose = 28\n')
    assert say(watch, 2.0, f"start recipe={recipe}")[0]
    assert rig.recipe is not None
    assert [row.header.recipe for row in log.runs()] == ["Plum", rig.recipe.name]


def test_an_answer_is_the_marks_own() -> None:
    """A pour that was seen in the second which the mark closes is not taken for the answer."""
    seen = MarkHeard(99.0, MarkWord.POUR, By.DETECTED, {}, "Pour seen.")
    heard = MarkHeard(99.5, MarkWord.POUR, By.MAKER, {}, "It had been seen already.")
    refused = Problem(99.5, "mark-refused", "", "No.")
    alarm = Alarm(99.5, "probe-silent", Priority.LOW, AlarmState.ACKNOWLEDGED, "")
    pour = Mark(99.5, MarkWord.POUR)
    assert understood(pour, [seen, heard, alarm]) == (True, heard.text)
    assert understood(pour, [seen, refused]) == (False, "No.")
    assert not understood(pour, [seen])[0]


def test_a_log_that_stopped_is_an_alarm_of_the_run_that_begins_then(
    watch: RigWatch, ears: Ears, log: RunLog
) -> None:
    """The condition is handed on to every run until the log goes on, and is itself logged."""
    watch.fault("log-stopped", "The disk is full.")
    say(watch, 0.0, "ice-in")
    sample(watch, 1.0, 3.0, bath_c=-15.0)
    watch.fault("log-stopped", "")
    sample(watch, 4.0, 6.0, bath_c=-15.0)
    alarms = [(said.state, said.text) for said in ears.of(Alarm) if said.code == "log-stopped"]
    assert alarms == [
        (AlarmState.UNACKNOWLEDGED, "Make room on the disk. The disk is full."),
        (AlarmState.RETURNED_UNACKNOWLEDGED, "Make room on the disk. The disk is full."),
    ]
    assert watch.run_id is not None
    assert [what for _, what in items(log, watch.run_id)].count("condition") == 2


@pytest.mark.parametrize("invented", [True, False])
def test_nobody_is_called_to_a_kitchen_that_is_gone(
    rig: Rig, virtual_rig: Rig, keeper: LogKeeper, ears: Ears, invented: bool
) -> None:
    """What comes after an invented run's end is no probe that falls silent; a real one is."""
    watch = RigWatch(virtual_rig if invented else rig, keeper, ears.tell, T0)
    say(watch, 0.0, "ice-in")
    sample(watch, 1.0, 5.0, bath_c=-15.0)
    assert say(watch, 6.0, "end")[0]
    sample(watch, 7.0, 9.0, bath_c=-15.0)
    for t in range(10, 60):
        watch.pass_time(T0 + t)
    assert bool(ears.of(Alarm)) is not invented
    assert say(watch, 60.0, "start")[0]
    sample(watch, 61.0, 65.0, bath_c=-15.0)
    assert ears.of(State)[-1].estimate.bath_c == pytest.approx(-15.0, abs=0.5)


def test_a_reading_is_shown_before_its_second_is_over(watch: RigWatch) -> None:
    """Corrected and screened as the next state has it; what is late, or rejected, is not shown."""
    say(watch, 0.0, "pour")
    first = Reading(T0 + 0.75, "bath", -15.0)
    watch.take(first)
    assert watch.newest(first) is None  # Nothing speaks for it yet.
    for t, value in ((1.0, -15.0), (1.25, -15.1)):
        reading = Reading(T0 + t, "bath", value)
        watch.take(reading)
        seen = watch.newest(reading)
        assert seen is not None
        assert (seen.place, seen.value_c, seen.at) == (Place.BATH, value, t)
    for wrong in (
        Reading(T0 + 1.1, "bath", -14.0),
        Reading(T0 + 1.5, "bath", None, fault=Fault.OPEN),
        Reading(T0 + 1.5, "bath", 900.0),
        Reading(T0 + 1.5, "freezer", -18.0),
        Reading(T0 + 1.5, "nobody", 4.0),
    ):
        watch.take(wrong)
        assert watch.newest(wrong) is None


def test_news_of_a_source_is_a_problem_at_the_runs_time(watch: RigWatch, ears: Ears) -> None:
    """It is told and logged like everything that is said, and moves no clock."""
    say(watch, 0.0, "ice-in")
    sample(watch, 1.0, 2.0, bath_c=-15.0)
    watch.take(SourceNews(T0 + 50.0, "slip", "lost", "slip: the port is gone."))
    (problem,) = [said for said in ears.of(Problem) if said.what == "lost"]
    assert problem.at == pytest.approx(2.0, abs=0.01)


def test_times_stay_on_the_millisecond(watch: RigWatch, log: RunLog) -> None:
    """What is logged survives a run file, which holds three decimals."""
    say(watch, 0.0, "ice-in")
    for t in (0.123456, 0.7777777):
        watch.take(Reading(T0 + t, "bath", -15.0))
        watch.pass_time(T0 + t + 1.0)
    log.commit()
    assert watch.run_id is not None
    times = [t for clock, item in log.items(watch.run_id) for t in (clock, item.t) if t > -1e9]
    assert times == [round(t, 3) for t in times]


def test_a_long_gap_is_gone_through_in_strides(watch: RigWatch) -> None:
    """After a break the loop stays awake: no more than the stride is said at a time."""
    say(watch, 0.0, "pour")
    assert watch.behind_s(T0 + 600.0) == pytest.approx(600.0)
    watch.pass_time(T0 + 600.0, most_s=120.0)
    assert watch.behind_s(T0 + 600.0) == pytest.approx(480.0, abs=1.0)


def test_leaving_tells_the_summary_and_leaves_the_run_open(
    watch: RigWatch, log: RunLog, ears: Ears
) -> None:
    """What goes on later has had no end yet."""
    say(watch, 0.0, "pour")
    watch.leave()
    log.commit()
    (row,) = log.runs()
    assert row.ended_at is None
    assert len(ears.of(Summary)) == 1
    assert not any('"summary"' in line for line in log.said(row.header.id))
    assert Mark(0.0, MarkWord.POUR) in [item for _, item in log.items(row.header.id)]
