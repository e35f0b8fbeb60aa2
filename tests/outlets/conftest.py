"""Words of a run in every stage, for the outlets to show."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    Estimate,
    Event,
    Forecast,
    Quality,
    Said,
    Stage,
    State,
)
from rigmon.run.alarms import RULES

MakeState = Callable[..., State]
MakeAlarm = Callable[..., Alarm]

FULL = Estimate(
    312.0,
    bath_c=-16.83,
    bath_c_sd=0.5,
    mix_c=-2.614,
    mix_c_sd=0.5,
    frozen_pct=6.54,
    frozen_pct_sd=1.21,
    cooling_w=148.04,
    cooling_w_sd=22.4,
    ice_left_g=2010.4,
    ice_left_g_sd=160.2,
    brine_pct=21.93,
    brine_pct_sd=0.44,
    salt_g=750.0,
    brine_water_g=990.0,
    mix_offset_k=0.2,
    mix_offset_k_sd=0.1,
)


@pytest.fixture
def make_state() -> MakeState:
    """Makes a state, full of figures unless they are left out."""

    def make(
        stage: Stage = Stage.BEAT,
        at: float = 312.0,
        *,
        empty: bool = False,
        quality: Quality = Quality.GOOD,
    ) -> State:
        round_ = 0 if stage in {Stage.BASE, Stage.READY} else 1
        qualities = {"bath": Quality.GOOD, "mix": quality}
        return State(at, stage, round_, Estimate(at) if empty else FULL, qualities)

    return make


@pytest.fixture
def make_alarm() -> MakeAlarm:
    """Makes an alarm of the table."""

    def make(
        code: str = "plateau-reached",
        state: AlarmState = AlarmState.UNACKNOWLEDGED,
        at: float = 312.0,
    ) -> Alarm:
        text = f"{RULES[code].call}. About {code}."
        return Alarm(at, code, RULES[code].priority, state, text, {"do": "x"})

    return make


@pytest.fixture
def ahead() -> tuple[Said, ...]:
    """Forecasts as they are said at 312 s."""
    return (
        Forecast(312.0, Event.PLATEAU, 1, 690.04, 742.0, 815.0),
        Forecast(312.0, Event.BATH_LIMIT, 1, 4000.0, None, None),
        Forecast(312.0, Event.ICE_GONE, 1, 5000.0, 6000.0, None),
    )
