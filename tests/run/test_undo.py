"""Taking a mark back."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Item,
    Mark,
    MarkHeard,
    MarkWord,
    Problem,
    Reading,
    Said,
    Stage,
    State,
    Undoable,
)
from rigmon.run.monitor import UNDO_WITHIN_S, Monitor

MakeRun = Callable[..., list[Item]]
MakeMonitor = Callable[..., Monitor]
Play = Callable[[Monitor, Iterable[Item]], list[Said]]


def with_marks(run: Iterable[Item], *marks: Mark) -> list[Item]:
    """A run with more marks in it, each before the readings of its time."""
    return sorted([*marks, *run], key=lambda item: item.t)


def since(said: Iterable[Said], t: float) -> list[Said]:
    """What was said after a time, but for what can be taken back: two marks in turn cannot."""
    after = (one for one in said if one.at > t)
    return [replace(one, undo=None) if isinstance(one, State) else one for one in after]


def refused(said: Iterable[Said]) -> list[str]:
    """The sentences of refused marks."""
    return [p.text for p in said if isinstance(p, Problem) and p.what == "mark-refused"]


UNDO = Mark(160.5, MarkWord.UNDO)


@pytest.mark.parametrize(
    "mark",
    [
        Mark(130.5, MarkWord.BEAT_STOP),
        Mark(130.5, MarkWord.PACK),
        Mark(130.5, MarkWord.END),
        Mark(130.5, MarkWord.RECHARGE, detail={"ice_g": 900.0, "salt_g": 200.0}),
        Mark(130.5, MarkWord.RECHARGE),
        Mark(130.5, MarkWord.SCRAPE),
        Mark(130.5, MarkWord.READING, By.HAND, {"mix_c": 60.0}),
    ],
)
def test_an_undone_mark_leaves_the_run_as_if_it_had_not_been_said(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play, mark: Mark
) -> None:
    """Every word after the undo is the one that the run without the mark says."""
    run = make_run(260)
    undone = play(make_monitor(), with_marks(run, mark, UNDO))
    plain = play(make_monitor(), run)
    (answer,) = [h for h in undone if isinstance(h, MarkHeard) and h.word is MarkWord.UNDO]

    assert answer.text == f"Taken back: {mark.word.value}."
    assert answer.detail == {"undone": mark.word.value}
    assert since(undone, UNDO.t) == since(plain, UNDO.t)


def test_late_readings_between_are_taken_in_again_where_they_came(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The clock of the run goes as it went, so that late stays late."""
    run = make_run(260)
    late = sorted(
        run, key=lambda i: i.t + (4.3 if isinstance(i, Reading) and i.t % 5 == 0 else 0.0)
    )
    place = next(i for i, item in enumerate(late) if item.t > 130.5)
    back = next(i for i, item in enumerate(late) if item.t > UNDO.t)
    marked = [
        *late[:place],
        Mark(130.5, MarkWord.BEAT_STOP),
        *late[place:back],
        UNDO,
        *late[back:],
    ]

    undone, plain = play(make_monitor(), marked), play(make_monitor(), late)
    assert since(undone, UNDO.t) == since(plain, UNDO.t)


def test_only_the_last_mark_of_the_last_minutes_can_be_taken_back(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Not one that is older, not twice, and not one that was refused."""
    run = make_run(400, bath_end_c=-1.0)
    old = play(make_monitor(), with_marks(run, Mark(61.0 + UNDO_WITHIN_S, MarkWord.UNDO)))
    twice = play(
        make_monitor(),
        with_marks(run, Mark(130.0, MarkWord.PACK), UNDO, Mark(161.5, MarkWord.UNDO)),
    )
    after_refused = play(make_monitor(), with_marks(run, Mark(130.0, MarkWord.REST_STOP), UNDO))
    taken_back = [h.text for h in after_refused if isinstance(h, MarkHeard)]

    assert refused(old) == ["There is no mark of the last five minutes to take back."]
    assert refused(twice) == refused(old)
    assert taken_back[-1] == "Taken back: pour."


def test_a_state_says_what_can_be_taken_back(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The last that counts, for as long as it can; a note is none, and after an undo none is."""
    run = make_run(500)
    marks = (Mark(100.5, MarkWord.SCRAPE), Mark(110.5, MarkWord.NOTE, detail={"note": "x"}))
    said = play(make_monitor(), with_marks(run, *marks))
    states = {one.at: one.undo for one in said if isinstance(one, State)}
    undone = play(make_monitor(), with_marks(run, *marks, Mark(120.5, MarkWord.UNDO)))

    assert states[50.0] == Undoable(MarkWord.ICE_IN, 0.0)
    assert states[90.0] == Undoable(MarkWord.POUR, 60.0)
    assert states[101.0] == states[111.0] == Undoable(MarkWord.SCRAPE, 100.5)
    assert states[400.0] is not None
    assert states[402.0] is None
    assert {one.undo for one in undone if isinstance(one, State) and one.at > 121.0} == {None}


def test_answers_to_alarms_and_notes_are_not_what_is_taken_back(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """A maker who stopped by mistake, wrote a note and took it back beats on; the note stays."""
    marks = (
        Mark(130.5, MarkWord.BEAT_STOP),
        Mark(140.5, MarkWord.NOTE, detail={"note": "slipped"}),
        Mark(141.5, MarkWord.ACK),
        UNDO,
    )
    said = play(make_monitor(), with_marks(make_run(200), *marks))
    heard = [h.text for h in said if isinstance(h, MarkHeard)]
    last = [state for state in said if isinstance(state, State)][-1]

    assert heard[-1] == "Taken back: beat-stop."
    assert last.stage is Stage.BEAT


def test_a_pour_that_was_seen_wrongly_can_be_taken_back_for_good(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """It is not looked for again; the maker says the true one."""
    run = make_run(400, marks=False)
    marks = (Mark(200.5, MarkWord.UNDO), Mark(300.5, MarkWord.POUR))
    monitor = make_monitor()
    said = play(monitor, with_marks(run, *marks))
    heard = [h.text for h in said if isinstance(h, MarkHeard)]
    stage_at = {state.at: state.stage for state in said if isinstance(state, State)}

    assert heard[2:] == ["Taken back: pour.", "Mix poured; round 1."]
    assert (stage_at[190.0], stage_at[290.0], stage_at[390.0]) == (
        Stage.BEAT,
        Stage.READY,
        Stage.BEAT,
    )


def test_an_alarm_that_the_mark_kept_away_is_told_after_all(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Probes are not missed in a packed mix; with the mark gone the silent one is called."""
    run = [
        i for i in make_run(300) if not (isinstance(i, Reading) and i.probe == "mix" and i.t > 100)
    ]
    said = play(make_monitor(), with_marks(run, Mark(101.0, MarkWord.PACK), UNDO))
    alarms = [(one.at, one.code, one.state) for one in said if isinstance(one, Alarm)]

    assert alarms == [(UNDO.t, "probe-silent", AlarmState.UNACKNOWLEDGED)]


def test_an_alarm_told_because_of_the_mark_returns_to_normal_with_it(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """In the freezer the core's probe is missed after a while; with the mark it was not in use."""
    run = make_run(1200, marks=False, bath_end_c=-1.0)
    core = Reading(900.0, "core", -5.0), Reading(901.0, "core", -5.1), Reading(902.0, "core", -5.2)
    faults = [Reading(float(t), "core", 2000.0) for t in range(903, 960)]
    marks = (Mark(899.5, MarkWord.HARDEN_START), Mark(1000.5, MarkWord.UNDO))
    said = play(make_monitor(), sorted([*run, *core, *faults, *marks], key=lambda i: i.t))
    calls = [(a.code, a.state) for a in said if isinstance(a, Alarm) and a.code == "probe-fault"]

    assert calls == [
        ("probe-fault", AlarmState.UNACKNOWLEDGED),
        ("probe-fault", AlarmState.RETURNED_UNACKNOWLEDGED),
        ("probe-fault", AlarmState.RETURNED),
    ]
