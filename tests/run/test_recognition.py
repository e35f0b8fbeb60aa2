"""What the readings alone show of a batch."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from rigmon.records import By, Item, Mark, MarkHeard, MarkWord, Problem, Reading, Said, Stage, State
from rigmon.run.monitor import Monitor

MakeRun = Callable[..., list[Item]]
MakeMonitor = Callable[..., Monitor]
Play = Callable[[Monitor, Iterable[Item]], list[Said]]
OTHER = {"bath": "mix", "mix": "bath"}


def guessed(said: Iterable[Said]) -> list[tuple[MarkWord, float]]:
    """Words of the detected marks, and when they were told."""
    return [
        (one.word, one.at) for one in said if isinstance(one, MarkHeard) and one.by is By.DETECTED
    ]


def words(said: Iterable[Said]) -> list[MarkWord]:
    """Words of the detected marks."""
    return [word for word, _ in guessed(said)]


def last_state(said: Iterable[Said]) -> State:
    """The newest state."""
    return [one for one in said if isinstance(one, State)][-1]


def without_marks(run: Iterable[Item]) -> list[Item]:
    """The readings of a run."""
    return [item for item in run if not isinstance(item, Mark)]


def swapped(run: Iterable[Item], from_s: float, to_s: float) -> list[Item]:
    """A run whose two probes sit in each other's place for a while."""
    return [
        replace(item, probe=OTHER[item.probe])
        if isinstance(item, Reading) and from_s <= item.t < to_s
        else item
        for item in run
    ]


def stopped(run: Iterable[Item], from_s: float, to_s: float) -> Iterator[Item]:
    """A run whose mixer stands for a while, so that the probes are quiet."""
    level: dict[str, float] = {}
    for item in run:
        if isinstance(item, Reading) and item.value is not None:
            before_c = level.setdefault(item.probe, item.value)
            level[item.probe] = before_c + 0.1 * (item.value - before_c)
            if from_s <= item.t < to_s:
                yield replace(item, value=level[item.probe])
                continue
        yield item


def hot_base(for_s: int) -> list[Item]:
    """A base that cools in ice and water, a reading every five seconds."""
    return [
        Reading(float(t), "mix", 1.0 + 84.0 * float(np.exp(-t / 900.0))) for t in range(0, for_s, 5)
    ]


def test_bath_and_pour_are_seen_once_each_and_what_is_not_seen_is_said(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """A run without marks is guessed as made up and poured, and the maker hears of the rest."""
    said = play(make_monitor(), without_marks(make_run(400)))

    assert words(said) == [MarkWord.ICE_IN, MarkWord.POUR]
    assert [one.what for one in said if isinstance(one, Problem)].count("unmarked") == 1


def test_what_the_maker_marks_is_not_guessed(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """With marks of ice and pour there is nothing left to guess."""
    assert words(play(make_monitor(), make_run(400))) == []


def test_a_hot_probe_begins_a_base_and_ice_ends_it(make_monitor: MakeMonitor, play: Play) -> None:
    """A minute above 40 °C before any ice is a cooked base; the mark of ice makes it ready."""
    monitor = make_monitor()
    said = play(monitor, hot_base(600))
    stage = last_state(said).stage
    said += monitor.feed(Mark(600.0, MarkWord.ICE_IN))

    assert words(said) == [MarkWord.START]
    assert stage is Stage.BASE
    assert monitor.stage is Stage.READY


def test_a_base_taken_back_is_not_guessed_again(make_monitor: MakeMonitor, play: Play) -> None:
    """After the undo the run stands where it would without the guess, however hot the probe."""
    monitor = make_monitor()
    run = [*hot_base(400), Mark(201.0, MarkWord.UNDO)]
    said = play(monitor, sorted(run, key=lambda item: item.t))

    assert words(said) == [MarkWord.START]
    assert monitor.stage is Stage.READY


@pytest.mark.parametrize("marks", [True, False])
def test_a_stop_of_the_mixer_and_its_start_are_seen(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play, marks: bool
) -> None:
    """The motor's scatter goes and comes back; a stop so short is no new round."""
    monitor = make_monitor()
    run = list(stopped(make_run(560, marks=marks), 330.0, 430.0))
    said = play(monitor, run)
    told = [(word, at) for word, at in guessed(said) if at > 300.0]

    assert [word for word, _ in told] == [MarkWord.BEAT_STOP, MarkWord.BEAT_START]
    assert 330.0 < told[0][1] < 400.0
    assert 430.0 < told[1][1] < 500.0
    assert last_state(said).round == 1


def test_a_stop_that_the_maker_marks_after_it_was_seen_is_taken(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The maker is told that it had been seen, and not refused."""
    monitor = make_monitor()
    play(monitor, stopped(make_run(420), 330.0, 999.0))
    (answer,) = [one for one in monitor.feed(Mark(420.0, MarkWord.BEAT_STOP)) if one.at >= 420.0]

    assert isinstance(answer, MarkHeard)
    assert "seen already" in answer.text


@pytest.mark.parametrize("marks", [True, False])
def test_swapped_probes_are_read_as_swapped(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play, marks: bool
) -> None:
    """Bath and mix come out as they do with the probes in their places."""
    run = make_run(400, marks=marks)
    right = last_state(play(make_monitor(), run)).estimate
    said = play(make_monitor(), swapped(run, 0.0, 999.0))
    found = last_state(said).estimate

    assert [one.what for one in said if isinstance(one, Problem)].count("probe-swapped") == 1
    assert found.bath_c == right.bath_c
    assert found.mix_c == right.mix_c
    assert (found.frozen_pct is None) is (right.frozen_pct is None)


def test_a_swap_corrected_in_mid_run_is_seen_as_well(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Half a minute after the plugs are put right the probes are read by their own names again."""
    run = make_run(400)
    said = play(make_monitor(), swapped(run, 0.0, 300.0))
    told = [one.at for one in said if isinstance(one, Problem) and one.what == "probe-swapped"]
    bath_c = last_state(said).estimate.bath_c

    assert len(told) == 2
    assert 300.0 < told[1] < 330.0
    assert bath_c is not None
    assert bath_c < -10.0


def test_a_swap_taken_back_stays_back(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The maker knows better: the probes are read by their names from then on."""
    run = sorted(
        [*swapped(make_run(400), 0.0, 999.0), Mark(300.5, MarkWord.UNDO)], key=lambda item: item.t
    )
    said = play(make_monitor(), run)
    bath_c = last_state(said).estimate.bath_c

    assert words(said) == [MarkWord.NOTE]
    assert bath_c is not None
    assert bath_c > -10.0
