"""What speaks for ending a rest and a later round."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rigmon.records import Estimate, Mark, MarkWord
from rigmon.run.alarms import RULES, Cause
from rigmon.run.causes import Seen
from rigmon.run.softening import DIP_K, NO_DIP_S, Softening
from rigmon.run.stages import Stages

MELT, REST = "melt-onset", "rest-over"
POUR, RESTS, AGAIN = (0.0, "pour"), (900.0, "rest-start"), (4000.0, "beat-start")


def stages_after(*words: tuple[float, str]) -> Stages:
    """A run after the marks given."""
    stages = Stages()
    for t, word in words:
        stages.hear(Mark(t, MarkWord(word)))
    return stages


ROUND_1, AT_REST, ROUND_2 = (
    stages_after(*words) for words in ([POUR], [POUR, RESTS], [POUR, RESTS, AGAIN])
)


def spoken(
    softening: Softening,
    t: float,
    stages: Stages,
    *,
    mix_c: float | None = None,
    melting: float = 0.0,
    rested: float = 0.0,
) -> Mapping[str, Cause]:
    """What speaks at a time."""
    estimate = Estimate(t, mix_c=mix_c)
    return softening.at(Seen(t, estimate, stages, p_rested=rested, p_melting=melting))


def beaten(mix_c: Sequence[float | None], melting: float = 1.0) -> list[bool]:
    """Whether it is told second by second of round 2 that the mix melts."""
    softening = Softening()
    return [
        MELT in spoken(softening, 4000.0 + t, ROUND_2, mix_c=c, melting=melting)
        for t, c in enumerate(mix_c)
    ]


def test_no_mix_melts_in_the_first_round_or_at_rest() -> None:
    """However sure it is made to look, and however the mix has dipped."""
    softening = Softening()

    for t, c in enumerate((-3.0, -4.0, -3.9)):
        assert MELT not in spoken(softening, float(t), ROUND_1, mix_c=c, melting=1.0)
        assert MELT not in spoken(softening, 1000.0 + t, AT_REST, mix_c=c, melting=1.0)


def test_the_dip_of_remixing_comes_before_any_melting() -> None:
    """A mix still to dip is not told to melt; from the dip on it is."""
    falls = [-3.0, -3.0, -3.0 - 0.9 * DIP_K, -3.0 - 1.1 * DIP_K, -3.0]

    assert beaten(falls) == [False, False, False, True, True]


def test_a_round_without_a_dip_has_none_to_come_after_a_while() -> None:
    """Neither a mix that does not dip nor one that no probe sees keeps it silent for ever."""
    for mix_c in (-3.0, None):
        told = beaten([mix_c] * (round(NO_DIP_S) + 2))

        assert not any(told[: round(NO_DIP_S)])
        assert told[-1]


def test_what_is_told_of_melting_stands_for_its_round_alone() -> None:
    """A probability that falls does not take it back, and the next round has its own dip."""
    softening = Softening()
    for t, c in enumerate((-3.0, -4.0)):
        spoken(softening, 4000.0 + t, ROUND_2, mix_c=c, melting=1.0)
    assert MELT in spoken(softening, 4010.0, ROUND_2, mix_c=-4.0, melting=0.0)

    round_3 = stages_after(POUR, RESTS, AGAIN, (4200.0, "rest-start"), (8000.0, "beat-start"))

    assert MELT not in spoken(softening, 8000.0, round_3, mix_c=-4.0, melting=1.0)


def test_an_unsure_turn_is_not_told() -> None:
    """Below the set point of its row nothing speaks."""
    limit = RULES[MELT].limit
    assert limit is not None

    assert not any(beaten([-3.0, -4.0, -4.0], limit.set_point - 0.01))


def test_a_rest_that_has_done_its_work_is_over_until_it_is_beaten() -> None:
    """It does not flicker about one probability, and says nothing once beaten again."""
    softening, limit = Softening(), RULES[REST].limit
    assert limit is not None
    between = limit.set_point - 0.5 * limit.deadband
    seen = [REST in spoken(softening, 2000.0, AT_REST, rested=p) for p in (between, 0.9, between)]

    assert seen == [False, True, True]
    assert REST not in spoken(softening, 4000.0, ROUND_2, rested=0.9)
