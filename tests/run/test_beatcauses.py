"""What speaks of beating that does harm."""

from __future__ import annotations

from rigmon.records import Estimate, Mark, MarkWord
from rigmon.run.alarms import trips
from rigmon.run.beatcauses import WARM_C, BeatCauses
from rigmon.run.causes import Seen
from rigmon.run.stages import Stages

OVER_S = trips({})["over-beaten"].limit.set_point
WARM_S = trips({})["too-warm"].limit.set_point


def beating() -> Stages:
    """A run poured and beaten from 0 s on."""
    stages = Stages()
    for word in (MarkWord.POUR, MarkWord.BEAT_START):
        stages.hear(Mark(0.0, word))
    return stages


def first(
    code: str, causes: BeatCauses, stages: Stages, mix_c: float, *, told: bool, from_s: int = 0
) -> float | None:
    """When an alarm first speaks in half an hour of a mix that stays as it is; None if never."""
    for t in range(from_s, from_s + 1800):
        seen = Seen(float(t), Estimate(float(t), mix_c=mix_c), stages)
        if code in causes.at(seen, told=told):
            return float(t)
    return None


def test_beating_on_after_the_plateau_is_counted_from_its_alarm() -> None:
    """Minutes after it was told, and never before."""
    at_s = first("over-beaten", BeatCauses(), beating(), -4.0, told=True)

    assert at_s == OVER_S + 1.0
    assert first("over-beaten", BeatCauses(), beating(), -4.0, told=False) is None


def test_who_scrapes_or_recharges_may_beat_on() -> None:
    """The minutes begin anew, since the mix may stiffen again."""
    causes, stages = BeatCauses(), beating()
    half_s = int(OVER_S / 2)
    for t in range(half_s):
        causes.at(Seen(float(t), Estimate(float(t), mix_c=-4.0), stages), told=True)
    causes.heeded()

    at_s = first("over-beaten", causes, stages, -4.0, told=True, from_s=half_s)
    assert at_s is not None
    assert at_s > half_s + OVER_S - 2.0


def test_a_warm_mix_may_be_beaten_for_minutes_only() -> None:
    """Above 5 °C; a mix that cools in time, or rests, is left alone."""
    at_s = first("too-warm", BeatCauses(), beating(), WARM_C + 1.0, told=False)
    resting = beating()
    resting.hear(Mark(1.0, MarkWord.BEAT_STOP))

    assert at_s == WARM_S + 1.0
    assert first("too-warm", BeatCauses(), beating(), WARM_C - 1.0, told=False) is None
    assert first("too-warm", BeatCauses(), resting, WARM_C + 1.0, told=False) is None


def test_every_round_has_its_own_minutes() -> None:
    """What was beaten in round 1 is not held against round 2."""
    causes, stages = BeatCauses(), beating()
    first("over-beaten", causes, stages, -4.0, told=True)
    for word in (MarkWord.REST_START, MarkWord.BEAT_START):
        stages.hear(Mark(1800.0, word))
    seen = Seen(1801.0, Estimate(1801.0, mix_c=-4.0), stages)

    assert causes.at(seen, told=False) == {}
