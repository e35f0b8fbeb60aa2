"""The monitor: what is fed and what is said."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from itertools import pairwise

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Event,
    Forecast,
    Item,
    Mark,
    MarkHeard,
    MarkWord,
    Place,
    Problem,
    Reading,
    Recipe,
    RigSetup,
    Said,
    Stage,
    State,
    Summary,
)
from rigmon.run.core import FORECAST_EVERY_S
from rigmon.run.monitor import DEAD_S, FARTHEST_S, QUIET_S, Monitor

MakeRun = Callable[..., list[Item]]
MakeMonitor = Callable[..., Monitor]
Play = Callable[[Monitor, Iterable[Item]], list[Said]]


def states(said: Iterable[Said]) -> list[State]:
    """The states among what was said."""
    return [one for one in said if isinstance(one, State)]


def of_alarm(said: Iterable[Said], code: str) -> list[tuple[float, AlarmState]]:
    """When an alarm changed, and to what."""
    return [(a.at, a.state) for a in said if isinstance(a, Alarm) and a.code == code]


def forecasts(said: Iterable[Said], event: Event) -> list[Forecast]:
    """The forecasts of one event."""
    return [one for one in said if isinstance(one, Forecast) and one.event is event]


def problems(said: Iterable[Said]) -> list[str]:
    """The codes of problems."""
    return [one.what for one in said if isinstance(one, Problem)]


def without(run: Iterable[Item], probe: str, from_s: float) -> list[Item]:
    """A run whose probe falls silent."""
    return [i for i in run if not (isinstance(i, Reading) and i.probe == probe and i.t >= from_s)]


def test_a_state_is_said_every_second_of_the_run(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """At whole seconds, each once, up to the end."""
    monitor = make_monitor()
    said = play(monitor, make_run(200)) + monitor.finish()

    assert [state.at for state in states(said)] == [float(t) for t in range(200)]
    assert isinstance(said[-1], Summary)
    assert monitor.finish() == []


def test_a_second_is_told_once_the_clock_has_gone_past_it(make_monitor: MakeMonitor) -> None:
    """A reading at the very second still belongs to it, fed or waited for alike."""
    for waits in (True, False):
        monitor = make_monitor()
        monitor.feed(Reading(0.0, "room", 20.0))
        at_it, past_it = (
            monitor.advance(t) if waits else monitor.feed(Reading(t, "room", 20.0))
            for t in (1.0, 1.001)
        )

        assert [state.at for state in states(at_it)] == [0.0]
        assert [state.at for state in states(past_it)] == [1.0]
        assert monitor.clock == 1.001


def test_waiting_and_feeding_come_to_the_same_words(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """A run watched live, where time is advanced between readings, is its own replay."""
    run, live, replayed = make_run(260), make_monitor(), make_monitor()
    said: list[Said] = []
    for item in run:
        if item.t > 0.0:
            said += live.advance(item.t - 0.7)
        said += live.feed(item)

    assert said == play(replayed, run)


def test_the_same_run_and_seed_give_the_same_words(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """And another seed gives others."""
    run = make_run(240)
    first, again, other = (play(make_monitor(seed=seed), run) for seed in (1, 1, 2))

    assert first == again
    assert first != other


def test_a_run_goes_from_the_bath_to_the_plateau(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Stages, forecasts and the call to stop come in order; after it none is forecast."""
    monitor = make_monitor()
    said = play(monitor, make_run(1800, bath_end_c=-16.0, beater_w=60.0)) + monitor.finish()
    called = of_alarm(said, "plateau-reached")
    plateaus = forecasts(said, Event.PLATEAU)
    summary = said[-1]
    assert isinstance(summary, Summary)

    assert [state.stage for state in states(said)][59:61] == [Stage.READY, Stage.BEAT]
    assert [state for _, state in called] == [AlarmState.UNACKNOWLEDGED]
    assert 400.0 < called[0][0] < 1800.0
    assert plateaus[-1].at <= called[0][0]
    assert summary.figures["plateau_s"] == called[0][0]


def test_a_forecast_is_refreshed_as_often_as_its_stage_asks(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Every five seconds of beating from the pour on, null for the first two minutes."""
    said = play(make_monitor(), make_run(400))
    made = forecasts(said, Event.PLATEAU)
    beats = [forecast.at for forecast in made]

    assert beats == [60.0 + 5.0 * i for i in range(len(beats))]
    assert [f.p50 is None for f in made] == [f.at < 180.0 for f in made]
    assert FORECAST_EVERY_S[Stage.BEAT] == 5.0


def test_more_of_a_forecast_can_be_asked_and_asking_changes_nothing(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """Its quartiles lie inside what was told, and the words are those of a run not asked."""
    run = make_run(500)
    asked = make_monitor()
    told = []
    for item in run:
        for said in asked.feed(item):
            told.append(said)
            if isinstance(said, Forecast) and said.event is Event.PLATEAU and said.p90 is not None:
                times = asked.plateau_s(said.at, (0.1, 0.25, 0.5, 0.75, 0.9))
                assert times[::2] == (said.p10, said.p50, said.p90)
                assert list(times) == sorted(times, key=lambda s: s or 0.0)

    assert asked.plateau_s(499.0, (0.5,))
    assert told == play(make_monitor(), run)


def test_a_bath_that_warms_is_called_before_its_limit_and_a_recharge_ends_the_call(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The call says what to do about it; ice and salt in, there is nothing more to do."""
    monitor = make_monitor()
    run = make_run(640, bath_end_c=-15.0, warms_from_s=250, ice_g=1300.0, salt_g=220.0)
    said = play(monitor, [item for item in run if item.t < 560.0])
    (called,) = [one for one in said if isinstance(one, Alarm)]
    (then,) = [state for state in states(said) if state.at == called.at]
    limit_c = monitor.bath_limit_c
    assert limit_c is not None
    assert then.estimate.bath_c is not None

    assert called.code == "bath-limit-near"
    assert then.estimate.bath_c < limit_c - 1.0
    assert called.advice["do"] in {"recharge", "stir-bath"}
    said = monitor.feed(Mark(560.0, MarkWord.RECHARGE, detail={"ice_g": 900.0, "salt_g": 250.0}))
    said += play(monitor, [item for item in run if item.t >= 560.0])
    ((_, state),) = of_alarm(said, "bath-limit-near")
    assert state is AlarmState.RETURNED_UNACKNOWLEDGED


def test_without_a_recipe_it_says_once_what_it_cannot(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """And goes on with what it can: temperatures, brine, ice."""
    said = play(make_monitor(None), make_run(300))
    last = states(said)[-1].estimate

    assert problems(said) == ["no-recipe"]
    assert (last.frozen_pct, last.cooling_w) == (None, None)
    assert last.ice_left_g is not None
    assert forecasts(said, Event.PLATEAU) == []


def test_a_pour_that_nobody_marked_is_seen(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """It is dated to when the mix began to cool, and the summary keeps that time."""
    monitor = make_monitor()
    said = play(monitor, make_run(400, marks=False)) + monitor.finish()
    _, pour = [one for one in said if isinstance(one, MarkHeard)]
    summary = said[-1]
    assert isinstance(summary, Summary)

    assert (pour.word, pour.by) == (MarkWord.POUR, By.DETECTED)
    assert summary.figures["poured_s"] == pytest.approx(60.0, abs=20.0)
    assert states(said)[-1].stage is Stage.BEAT
    assert forecasts(said, Event.PLATEAU)[-1].p50 is not None


def test_a_pour_said_after_it_was_seen_brings_its_mass(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """The late mark is answered, begins nothing, and the heat is told for the mass it names."""
    unweighed = make_monitor()
    recipe = unweighed.recipe
    assert recipe is not None
    monitor = make_monitor(Recipe(recipe.name, recipe.composition))
    run = make_run(300, marks=False)
    late = Mark(240.0, MarkWord.POUR, detail={"mix_g": 1200.0})
    said = play(monitor, [*run[:480], late, *run[480:]])
    heard = [one.text for one in said if isinstance(one, MarkHeard)]

    assert heard[-1] == "The pour had been seen already; round 1."
    assert states(said)[230].estimate.cooling_w is None
    assert states(said)[-1].estimate.cooling_w is not None
    assert states(said)[-1].round == 1


@pytest.mark.parametrize("probe", ["mix", "bath"])
def test_a_probe_that_falls_silent_is_told_and_the_rest_goes_on(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play, probe: str
) -> None:
    """The fact as a problem, the call as an alarm; back again, there is nothing more to do."""
    run = make_run(500)
    silent = [i for i in run if i not in without(run, probe, 300.0) and i.t < 360.0]
    said = play(make_monitor(), [i for i in run if i not in silent])
    last = states(said)[-1].estimate

    assert problems(said) == ["probe-silent"]
    assert [state for _, state in of_alarm(said, "probe-silent")] == [
        AlarmState.UNACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
    ]
    assert None not in (last.mix_c, last.bath_c, last.frozen_pct, last.ice_left_g)


def test_readings_typed_every_two_minutes_carry_a_run(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """No board at all: marks of readings alone give states, forecasts and a plateau."""
    run = make_run(2400, bath_end_c=-16.0, beater_w=60.0)
    typed: list[Item] = []
    for item in run:
        if isinstance(item, Mark):
            typed.append(item)
        elif item.t % 120.0 == 0.0 and isinstance(item, Reading) and item.value is not None:
            detail = {f"{item.probe}_c": round(item.value, 1)}
            typed.append(Mark(item.t, MarkWord.READING, By.HAND, detail))
    said = play(make_monitor(), typed)

    assert problems(said) == []
    assert states(said)[-1].estimate.mix_c is not None
    assert any(forecast.p50 is not None for forecast in forecasts(said, Event.PLATEAU))
    assert of_alarm(said, "plateau-reached")


def test_late_readings_are_taken_in_and_what_was_said_stays(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """A board whose lines come three seconds late ends where a prompt one does."""
    run = make_run(400)
    late = sorted(run, key=lambda i: i.t + (3.2 if isinstance(i, Reading) and i.t % 7 else 0.0))
    prompt_said, late_said = play(make_monitor(), run), play(make_monitor(), late)
    ours, theirs = states(prompt_said)[-1].estimate, states(late_said)[-1].estimate
    assert ours.mix_c is not None

    assert [one.at for one in late_said] == sorted(one.at for one in late_said)
    assert theirs.mix_c == pytest.approx(ours.mix_c, abs=0.5)
    assert theirs.ice_left_g == pytest.approx(ours.ice_left_g, rel=0.02)


def test_after_a_quarter_of_an_hour_of_silence_states_come_seldom(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """A state a minute, after a day one an hour, and every second again once something comes."""
    monitor = make_monitor()
    said = play(monitor, make_run(30)) + monitor.advance(3 * DEAD_S)
    said += monitor.feed(Reading(3 * DEAD_S + 0.5, "bath", -10.0))
    said += monitor.advance(3 * DEAD_S + 3.5)
    at = [state.at for state in states(said)]
    gaps = {round(b - a) for a, b in pairwise(at)}

    assert len(at) < QUIET_S + 2 * DEAD_S / 60.0 + 100
    assert gaps >= {1, 60, 3600}
    assert at[-3:] == [3 * DEAD_S + 1.0, 3 * DEAD_S + 2.0, 3 * DEAD_S + 3.0]


def test_a_time_that_cannot_be_is_passed_over_and_told_once(make_monitor: MakeMonitor) -> None:
    """A board with a wrong clock does not drag the run along."""
    monitor = make_monitor()
    monitor.feed(Reading(0.0, "bath", -10.0))
    wrong = (FARTHEST_S * 10.0, float("nan"), float("inf"))
    said = [monitor.feed(Reading(t, "mix", 4.0)) for t in wrong]

    assert [problems(one) for one in said] == [["time-refused"], [], []]
    assert monitor.advance(float("inf")) == []
    assert monitor.clock == 0.0


@pytest.mark.parametrize(
    ("mark", "why"),
    [
        (Mark(50.0, MarkWord.BEAT_STOP), "nothing is being beaten"),
        (Mark(50.0, MarkWord.POUR, detail={"mix_g": 1.0}), "mix_g is 1; it lies between"),
        (Mark(50.0, MarkWord.SHELVE), "say which alarm"),
        (Mark(50.0, MarkWord.ACK, detail={"code": "probe-silent"}), "does not sound"),
        (Mark(50.0, MarkWord.READING), "say what was read"),
        (Mark(50.0, MarkWord.RECHARGE, detail={"ice_kind": "snow"}), "snow"),
    ],
)
def test_a_mark_that_makes_no_sense_is_answered_and_changes_nothing(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play, mark: Mark, why: str
) -> None:
    """The sentence says why; every word after it is as if it had not been said."""
    run = make_run(120)
    i = next(i for i, item in enumerate(run) if item.t > 50.0)
    said = play(make_monitor(), [*run[:i], mark, *run[i:]])
    refused = [one for one in said if isinstance(one, Problem)]

    assert [problem.what for problem in refused] == ["mark-refused"]
    assert why in refused[0].text
    assert [one for one in said if one not in refused] == play(make_monitor(), run)


def test_the_summary_is_rounded_as_a_maker_reads_it(
    make_run: MakeRun, make_monitor: MakeMonitor, play: Play
) -> None:
    """At most one decimal, two of a probe's error, whole grams, None for what is not known."""
    monitor = make_monitor()
    play(monitor, make_run(400))
    (summary,) = [one for one in monitor.finish() if isinstance(one, Summary)]
    figures = summary.figures
    errors = ("mix_offset_k", "mix_offset_k_sd")
    numbers = [v for name, v in figures.items() if isinstance(v, float) and name not in errors]
    numbers += [v for v in figures["first_plateau_forecast"] if v is not None]
    assert all(round(figures[name], 2) == figures[name] for name in errors)

    assert all(round(number, 1) == number for number in numbers)
    assert isinstance(figures["ice_left_g"], int)
    assert (figures["plateau_s"], figures["rounds"], figures["readings"]) == (None, 1, 800)
    assert figures["poured_s"] == 60.0


def test_a_copy_goes_its_own_way(make_run: MakeRun, make_monitor: MakeMonitor, play: Play) -> None:
    """A monitor copied in the middle of a run says what the first would have said, unmarked."""
    run = make_run(400)
    first, unmarked = make_monitor(), make_monitor()
    play(first, run[:500])
    second = copy.deepcopy(first)
    play(first, [Mark(249.5, MarkWord.BEAT_STOP), Mark(249.6, MarkWord.PACK)])
    play(unmarked, run[:500])

    assert play(second, run[500:]) == play(unmarked, run[500:])


def test_probes_are_placed_by_configuration_or_name(make_monitor: MakeMonitor) -> None:
    """The service asks the monitor where a probe sits."""
    monitor = make_monitor(setup=RigSetup())

    assert monitor.place("bath_2") is Place.BATH
    assert monitor.place("left") is None
