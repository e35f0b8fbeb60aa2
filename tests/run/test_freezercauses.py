"""What speaks of tubs in the freezer."""

from __future__ import annotations

import math
from collections.abc import Callable

from rigmon.estimate.hardening import HARDENED_C
from rigmon.records import Estimate, Mark, MarkWord, Place
from rigmon.run.alarms import RULES, trips
from rigmon.run.causes import Seen
from rigmon.run.freezercauses import SETTLES_S, FreezerCauses
from rigmon.run.stages import Stages

Course = Callable[[float], float]
FLAT: Course = lambda _: -18.0  # noqa: E731 - a course is a function of time


def spoken(
    air_c: Course | None = FLAT, core_c: Course | None = None, hours: float = 24.0
) -> dict[str, float]:
    """When each code first speaks [s] in tubs read once a minute from the time they go in."""
    stages, causes, said = Stages(), FreezerCauses(), dict[str, float]()
    for word in (MarkWord.POUR, MarkWord.PACK, MarkWord.HARDEN_START):
        stages.hear(Mark(0.0, word))
    for minute in range(int(60.0 * hours)):
        t = 60.0 * minute
        for place, course in ((Place.FREEZER, air_c), (Place.CORE, core_c)):
            if course is not None:
                causes.feed(place, t, course(t))
        for code in causes.at(Seen(t, Estimate(t), stages)):
            said.setdefault(code, t)
    return said


def test_a_steady_freezer_says_only_that_nothing_happens() -> None:
    """Air that swings by 2 K with its compressor, and a core that hardly moves, are normal."""
    swinging = spoken(lambda t: -18.0 + 2.0 * (-1.0) ** (t // 1200.0), lambda _: -4.0)

    assert swinging == {"flat-hours": 0.0}
    assert spoken(None, None) == {"flat-hours": 0.0}


def test_a_door_left_open_is_told_within_minutes() -> None:
    """Air that warms by 10 K in a few minutes; and what is usual does not follow it meanwhile."""
    opened_s = 7200.0
    said = spoken(lambda t: -18.0 if t < opened_s else min(-18.0 + (t - opened_s) / 30.0, -8.0))

    rise_k = trips({})["door-open"].limit.set_point
    assert 0.0 < said["door-open"] - opened_s <= 30.0 * rise_k + 120.0


def test_a_door_that_was_closed_again_is_left_alone() -> None:
    """Air that comes down again speaks for no longer than the alarm's on-delay."""
    opened_s, on_delay_s = 7200.0, RULES["door-open"].on_delay_s

    def opened(t: float) -> float:
        return -18.0 if t < opened_s else -18.0 + 9.0 * math.exp(-(t - opened_s) / 420.0)

    stages, causes, spoke = Stages(), FreezerCauses(), list[float]()
    for word in (MarkWord.POUR, MarkWord.PACK, MarkWord.HARDEN_START):
        stages.hear(Mark(0.0, word))
    for t in (60.0 * minute for minute in range(600)):
        causes.feed(Place.FREEZER, t, opened(t))
        if "door-open" in causes.at(Seen(t, Estimate(t), stages)):
            spoke.append(t)

    assert spoke[0] == opened_s
    assert spoke[-1] - spoke[0] < on_delay_s


def test_a_freezer_that_is_warm_from_the_beginning_is_told_once_the_tubs_have_cooled() -> None:
    """The tubs themselves warm it at first."""
    said = spoken(lambda _: -12.0)

    assert said["freezer-warm"] == SETTLES_S
    assert "door-open" not in said


def test_a_core_that_lingers_where_crystals_grow_is_told() -> None:
    """Between −6 and −12 °C for hours; one that passes through in time is not."""
    limit_s = 60.0 * trips({})["coarsening"].limit.set_point
    lingering = spoken(core_c=lambda _: -8.0)
    passing = spoken(core_c=lambda t: -4.0 - t / 3600.0)

    assert lingering["coarsening"] == limit_s + 60.0
    assert "coarsening" not in passing
    assert passing["hardened"] == -3600.0 * (HARDENED_C + 4.0)


def test_nothing_is_said_before_the_tubs_harden() -> None:
    """A freezer that is read while the mix rests in it is not yet theirs."""
    causes, stages = FreezerCauses(), Stages()
    stages.hear(Mark(0.0, MarkWord.POUR))
    causes.feed(Place.FREEZER, 0.0, -5.0)

    assert causes.at(Seen(1.0, Estimate(1.0), stages)) == {}
