"""Further signals beside bath and mix probe: they may narrow what is held true, not upset it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from rigmon.estimate.estimator import Estimator
from rigmon.records import Estimate, Event, Forecast, Place, Reading

MakeBowl = Callable[..., Any]
MakeEstimator = Callable[..., Estimator]
Signal = Callable[[Any, int], float | None]

ASKED_S = 900
CHANGED_S = 600


def power_w(bowl: Any, t: int) -> float:
    """A mixer that draws more the stiffer the mix, and is set slower in mid-run."""
    speed_w = 140.0 if t < CHANGED_S else 105.0
    stiff = float(bowl.frozen_pct[t]) / 25.0
    return speed_w + 40.0 * stiff * stiff


def wall_c(bowl: Any, t: int) -> float:
    """A wall that keeps less of the pull as the mix stiffens."""
    stiff = float(bowl.frozen_pct[t]) / 25.0
    share = 0.65 / (1.0 + 0.6 * stiff * stiff)
    bath_c = float(bowl.bath_c[t])
    return 0.4 + bath_c + share * (float(bowl.mix_c[t]) - bath_c)


def lifted_wall_c(bowl: Any, t: int) -> float:
    """A probe that comes off the wall and hangs in the air of the bowl."""
    return wall_c(bowl, t) if t < CHANGED_S else 8.0


def dropped_wall_c(bowl: Any, t: int) -> float:
    """A probe that comes off the wall and falls into the mix."""
    return wall_c(bowl, t) if t < CHANGED_S else float(bowl.mix_c[t])


def lower_bath_c(bowl: Any, t: int) -> float | None:
    """A second bath probe, two kelvin colder, that dies in mid-run."""
    return float(bowl.bath_c[t]) - 2.0 if t < CHANGED_S else None


def beside(bowl: Any, probe: str, signal: Signal) -> Iterator[Reading]:
    """Bath and mix probe, and a reading of this one each second after them."""
    rng = np.random.default_rng(9)
    for reading in bowl.readings(ASKED_S):
        yield reading
        value = signal(bowl, int(reading.t))
        if reading.probe == "mix" and value is not None:
            yield Reading(reading.t, probe, value + 0.1 * float(rng.normal()))


def asked(estimator: Estimator, readings: Iterator[Reading]) -> tuple[Estimate, Forecast]:
    """What is held true after a quarter of an hour, and when the plateau is to come."""
    for reading in readings:
        estimator.feed(reading)
    at = float(ASKED_S)
    (plateau,) = (one for one in estimator.forecast(at) if one.event is Event.PLATEAU)
    return estimator.at(at), plateau


@pytest.mark.parametrize(
    ("probe", "signal"),
    [
        ("mixer", power_w),
        ("wall", wall_c),
        ("wall", lifted_wall_c),
        ("wall", dropped_wall_c),
        ("bath_2", lower_bath_c),
    ],
)
def test_a_further_signal_leaves_the_mix_where_it_is(
    make_bowl: MakeBowl, make_estimator: MakeEstimator, probe: str, signal: Signal
) -> None:
    """With it, well or ill, the frozen share is true and the plateau is about the same."""
    bowl = make_bowl()
    estimator = make_estimator()
    if probe == "bath_2":
        estimator.place_probe(probe, Place.BATH)
    estimate, plateau = asked(estimator, beside(bowl, probe, signal))
    _, without = asked(make_estimator(), bowl.readings(ASKED_S))

    assert estimate.frozen_pct is not None
    assert estimate.frozen_pct == pytest.approx(bowl.frozen_pct[ASKED_S], abs=2.0)
    assert plateau.p10 is not None
    assert plateau.p90 is not None
    assert without.p50 is not None
    assert plateau.p10 <= without.p50 <= plateau.p90
