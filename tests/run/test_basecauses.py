"""What is said of a cooked base."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigmon.estimate.basecooling import BaseState
from rigmon.physics.foodsafety import COLD_C, FIRST_STAGE_C
from rigmon.records import By, Mark, MarkWord, Stage
from rigmon.run.basecauses import ACT_LEAD_S, BaseCauses
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages

SLOW = "base-cooling-slow"
LATE = BaseState(4000.0, 40.0, 0.0, False, FIRST_STAGE_C, 9000.0, 7500.0, 0.9)


def spoken(base: BaseState, causes: BaseCauses | None = None) -> dict[str, str]:
    """What speaks, by code, and its sentences."""
    found = (causes or BaseCauses()).at(base, Speech())
    return {code: f"{cause.call} {cause.text}" for code, cause in found.items()}


def test_a_base_that_will_be_late_is_called_with_the_time_left_to_act() -> None:
    """The call says by when ice and water still do it."""
    assert "58 min" in spoken(LATE)[SLOW]


@pytest.mark.parametrize(
    "base",
    [
        replace(LATE, p_late=0.2),
        replace(LATE, t=7500.0 - ACT_LEAD_S - 60.0),
        replace(LATE, goal_c=None, deadline_s=None, act_by_s=None),
    ],
)
def test_a_base_in_time_or_with_hours_left_is_let_be(base: BaseState) -> None:
    """No call while it is likely in time, while there is long to act, or with no rule's clock."""
    assert SLOW not in spoken(base)


def test_the_call_does_not_flicker_about_its_probability() -> None:
    """Once it speaks it falls silent only well below the probability at which it began."""
    causes = BaseCauses()
    heard = [SLOW in spoken(replace(LATE, p_late=p), causes) for p in (0.4, 0.6, 0.4, 0.2, 0.4)]

    assert heard == [False, True, True, False, False]


def test_a_deadline_that_has_passed_is_left_to_local_rules() -> None:
    """The program says what was missed, and nothing of whether the base may be eaten."""
    said = spoken(replace(LATE, t=9001.0, p_late=1.0))[SLOW]

    assert "local rules" in said


def test_no_word_claims_that_a_base_is_safe() -> None:
    """Whatever is said of a base names the local rules and never the word safe."""
    done = BaseState(9000.0, COLD_C - 1.0, 2.0, True)
    said = [*spoken(done).values(), *spoken(LATE).values()]

    assert len(said) == 3
    assert all("ocal rules" in sentence and "safe" not in sentence for sentence in said)


def test_a_run_may_begin_with_its_base() -> None:
    """`start stage=base` leads to the base, ice in the bowl to ready."""
    stages = Stages()
    stages.hear(Mark(0.0, MarkWord.START, detail={"stage": "base"}))
    base = stages.stage
    stages.hear(Mark(3600.0, MarkWord.ICE_IN))

    assert (base, stages.stage) == (Stage.BASE, Stage.READY)


@pytest.mark.parametrize("stage", ["harden", "base"])
def test_a_run_starts_with_no_other_stage_and_no_base_after_the_pour(stage: str) -> None:
    """What a run cannot begin with is refused, and changes nothing."""
    stages = Stages()
    stages.hear(Mark(0.0, MarkWord.POUR))

    with pytest.raises(ValueError, match="run"):
        stages.hear(Mark(60.0, MarkWord.START, detail={"stage": stage}))
    assert stages.stage is Stage.BEAT


def test_a_stop_that_was_only_seen_may_be_marked_again() -> None:
    """The maker's own mark of it is taken; a second one of the maker's is not."""
    stages = Stages()
    stages.hear(Mark(0.0, MarkWord.POUR))
    stages.hear(Mark(600.0, MarkWord.BEAT_STOP, By.DETECTED))

    assert "seen already" in stages.hear(Mark(630.0, MarkWord.BEAT_STOP))
