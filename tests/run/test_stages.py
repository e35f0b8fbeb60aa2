"""Where a run stands, as its marks say."""

from __future__ import annotations

import pytest

from rigmon.records import By, Mark, MarkWord, Stage
from rigmon.run.stages import PourDetector, Stages

TO_BEAT = "ice-in pour"
TO_REST = f"{TO_BEAT} beat-stop rest-start"
TO_ROUND_2 = f"{TO_REST} rest-stop beat-start"
TO_HARDEN = f"{TO_ROUND_2} beat-stop pack harden-start"


def after(words: str) -> Stages:
    """A run that has heard marks ten minutes apart."""
    stages = Stages()
    for i, word in enumerate(words.split()):
        stages.hear(Mark(600.0 * i, MarkWord(word)))
    return stages


@pytest.mark.parametrize(
    ("words", "stage", "round_"),
    [
        ("", Stage.READY, 0),
        ("start", Stage.READY, 0),
        ("ice-in", Stage.READY, 0),
        ("ice-in ice-in recharge", Stage.READY, 0),
        (TO_BEAT, Stage.BEAT, 1),
        ("beat-start", Stage.BEAT, 1),
        (f"{TO_BEAT} beat-start", Stage.BEAT, 1),
        (f"{TO_BEAT} scrape recharge note mix-in", Stage.BEAT, 1),
        (f"{TO_BEAT} beat-stop", Stage.REST, 1),
        (f"{TO_BEAT} beat-stop beat-start", Stage.BEAT, 2),
        (TO_REST, Stage.REST, 1),
        (f"{TO_REST} rest-stop", Stage.REST, 1),
        (TO_ROUND_2, Stage.BEAT, 2),
        ("rest-start", Stage.REST, 0),
        (f"{TO_ROUND_2} pack", Stage.PACK, 2),
        (TO_HARDEN, Stage.HARDEN, 2),
        ("harden-start", Stage.HARDEN, 0),
        (f"{TO_HARDEN} end", Stage.DONE, 2),
        (f"{TO_HARDEN} end note", Stage.DONE, 2),
    ],
)
def test_marks_lead_from_stage_to_stage(words: str, stage: Stage, round_: int) -> None:
    """Each row is a run as it may be marked, and where it stands then."""
    stages = after(words)

    assert (stages.stage, stages.round) == (stage, round_)


@pytest.mark.parametrize(
    ("words", "refused", "why"),
    [
        (TO_BEAT, "pour", "in the bowl already"),
        (TO_BEAT, "ice-in", "fresh ice is a recharge"),
        ("ice-in", "beat-stop", "nothing is being beaten"),
        (TO_REST, "beat-stop", "nothing is being beaten"),
        (TO_BEAT, "rest-stop", "nothing is resting"),
        ("ice-in end", "pour", "belongs to a new one"),
        ("ice-in end", "end", "belongs to a new one"),
    ],
)
def test_a_mark_that_makes_no_sense_is_refused_and_changes_nothing(
    words: str, refused: str, why: str
) -> None:
    """The sentence says what is wrong with it there."""
    stages, before = after(words), after(words)

    with pytest.raises(ValueError, match=why):
        stages.hear(Mark(9000.0, MarkWord(refused)))
    assert stages == before


def test_a_short_pause_does_not_begin_a_round() -> None:
    """Stopping for two minutes to scrape is still round 1."""
    stages = after(TO_BEAT)
    stages.hear(Mark(1000.0, MarkWord.BEAT_STOP))
    stages.hear(Mark(1120.0, MarkWord.BEAT_START))

    assert (stages.stage, stages.round) == (Stage.BEAT, 1)


def test_a_pour_said_after_it_was_seen_is_the_same_pour() -> None:
    """The maker's mark is welcome, late as it is, and begins nothing."""
    stages = after("ice-in")
    stages.hear(Mark(100.0, MarkWord.POUR, By.DETECTED))

    assert stages.hear(Mark(95.0, MarkWord.POUR)) == "The pour had been seen already; round 1."
    assert (stages.stage, stages.round, stages.batch.poured_s) == (Stage.BEAT, 1, 100.0)


def seen(mix: list[tuple[float, float]], bath_c: float | None = -14.0) -> PourDetector | None:
    """The detector that has been fed a mix, if it sees a pour in it at any time."""
    detector = PourDetector()
    for t, c in mix:
        detector.feed(t, c)
        if detector.poured(bath_c):
            return detector
    return None


def falling(from_c: float, k_min: float, after_s: float = 60.0) -> list[tuple[float, float]]:
    """A mix that stands for a minute and then falls so many kelvin a minute."""
    return [
        (float(t), from_c - k_min * max(t - after_s, 0.0) / 60.0) for t in range(int(after_s) + 240)
    ]


def test_a_mix_that_begins_to_cool_in_a_cold_bath_has_been_poured() -> None:
    """The pour is dated to when the fall began, within some seconds."""
    detector = seen(falling(5.0, 1.5))
    assert detector is not None

    assert detector.began_s == pytest.approx(60.0, abs=15.0)


@pytest.mark.parametrize(
    ("mix", "bath_c"),
    [
        (falling(5.0, 1.5), None),
        (falling(5.0, 1.5), 4.0),
        (falling(5.0, 0.1), -14.0),
        (falling(60.0, 5.0), -14.0),
        (falling(22.0, -1.0), -14.0),
        (falling(-12.0, 0.6), -14.0),
        (falling(-8.0, 0.6), -18.0),
    ],
)
def test_other_falls_are_no_pour(mix: list[tuple[float, float]], bath_c: float | None) -> None:
    """No bath, a warm bath, a drift, a cooling base, a rise, a probe in the bath or in ice."""
    assert seen(mix, bath_c) is None


def test_a_detector_that_was_told_off_looks_no_more() -> None:
    """A maker who took a detected pour back will say the true one."""
    detector = PourDetector(wanted=False)
    for t, c in falling(5.0, 1.5):
        detector.feed(t, c)

    assert not detector.poured(-14.0)


def test_a_second_bath_before_the_pour_is_said_to_add_to_the_first() -> None:
    """A maker who says it twice by mistake can see it and take it back."""
    stages = Stages()
    ice_in = Mark(0.0, MarkWord.ICE_IN, detail={"ice_g": 1500.0})

    assert stages.hear(ice_in) == "Bath made up."
    assert "beside what was there" in stages.hear(ice_in)
