"""JSON lines: the words that other programs read."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Mapping

import pytest

from rigmon.outlets.jsonlines import JsonLines, as_line
from rigmon.records import (
    Alarm,
    By,
    Event,
    Forecast,
    MarkHeard,
    MarkWord,
    Notice,
    Problem,
    Said,
    State,
    Summary,
)

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]


def keys(said: Said) -> list[str]:
    """The keys of a line, in their order."""
    return list(json.loads(as_line(said)))


def test_a_state_is_the_line_that_was_agreed(make_state: MakeState) -> None:
    """Every key in its place, rounded to what a kitchen can tell apart, unknown as null."""
    assert as_line(make_state()) == (
        '{"type":"state","at":312.0,"stage":"beat","round":1,"bath_c":-16.83,"mix_c":-2.61,'
        '"frozen_pct":6.5,"frozen_pct_sd":1.2,"cooling_w":148.0,"cooling_w_sd":22.4,'
        '"ice_left_g":2010,"ice_left_g_sd":160,"brine_pct":21.9,"brine_pct_sd":0.4,'
        '"quality":{"bath":"good","mix":"good"}}'
    )
    assert json.loads(as_line(make_state(empty=True)))["frozen_pct"] is None
    assert keys(make_state(empty=True)) == keys(make_state())


def test_forecasts_alarms_marks_and_problems_have_the_agreed_keys(make_alarm: MakeAlarm) -> None:
    """No key more, none fewer, in this order."""
    mark = MarkHeard(120.0, MarkWord.POUR, By.DETECTED, {"mix_g": 900.0}, "Mix poured; round 1.")
    forecast = Forecast(312.0, Event.BATH_LIMIT, 1, 690.04, None, None)

    assert keys(forecast) == ["type", "at", "event", "round", "p10", "p50", "p90"]
    assert keys(make_alarm()) == ["type", "at", "code", "priority", "state", "text", "advice"]
    assert keys(mark) == ["type", "at", "mark", "by", "detail"]
    assert keys(Problem(1.0, "x", "mix", "y")) == ["type", "at", "what", "probe", "text"]
    assert keys(Summary(9.0, {"stage": "done"})) == ["type", "at", "stage"]
    assert as_line(mark) == (
        '{"type":"mark","at":120.0,"mark":"pour","by":"detected","detail":{"mix_g":900.0}}'
    )


def test_a_figure_that_is_no_number_is_never_written() -> None:
    """NaN is no JSON; better an error than a line that no reader takes."""
    with pytest.raises(ValueError, match="JSON"):
        as_line(Forecast(1.0, Event.PLATEAU, 1, float("nan")))


def written(
    said: list[Said],
    every_s: int = 1,
    rigs: Mapping[str, Mapping[str, object]] | None = None,
) -> list[dict[str, object]]:
    """What an outlet writes, read back."""
    stream = io.StringIO()
    outlet = JsonLines(stream, every_s, rigs)
    for one in said:
        outlet.tell("rig-a", one)
    outlet.close()
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_states_are_thinned_out_and_all_else_is_kept(
    make_state: MakeState, make_alarm: MakeAlarm
) -> None:
    """One state in every ten seconds of the run, the first that falls into them."""
    said: list[Said] = [make_state(at=float(t)) for t in (*range(25), 65, 125, 126)]
    lines = written([*said, make_alarm()], every_s=10)

    assert [line["at"] for line in lines] == [0.0, 10.0, 20.0, 65.0, 125.0, 312.0]


def test_several_rigs_and_virtual_ones_are_told_apart(make_state: MakeState) -> None:
    """The rig's name, and that it is virtual, stand before everything else."""
    (line,) = written([make_state()], rigs={"rig-a": {"rig": "rig-a", "virtual": True}})
    (plain,) = written([make_state()])

    assert list(line)[:3] == ["rig", "virtual", "type"]
    assert line["virtual"] is True
    assert next(iter(plain)) == "type"


def test_a_notice_is_a_line_of_its_own() -> None:
    """It is no alarm: nothing in it asks for an answer."""
    assert as_line(Notice(5.0, "hardened", "Hard.")) == (
        '{"type":"notice","at":5.0,"code":"hardened","text":"Hard."}'
    )
