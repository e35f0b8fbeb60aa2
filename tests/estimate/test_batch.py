"""Where the mix is, as the marks say."""

from __future__ import annotations

from rigmon.estimate.batch import PAUSE_S, Batch
from rigmon.records import Mark, MarkWord


def heard(*marks: tuple[float, str, str]) -> Batch:
    """A batch that has heard marks given as time, word and place of rest."""
    batch = Batch()
    for t, word, where in marks:
        batch.hear(Mark(t, MarkWord(word), detail={"where": where} if where else {}))
    return batch


def test_a_pour_begins_round_1_in_the_bath() -> None:
    """A beat-start right after it, and a second pour mark, begin nothing more."""
    batch = heard((100.0, "pour", ""), (112.0, "beat-start", ""), (60.0, "pour", ""))

    assert (batch.round, batch.poured_s, batch.beating, batch.in_bath) == (1, 100.0, True, True)


def test_a_short_pause_is_the_same_round() -> None:
    """Beating taken up again within three minutes goes on with its round."""
    stopped = ((100.0, "pour", ""), (400.0, "beat-stop", ""))
    batch = heard(*stopped, (400.0 + PAUSE_S, "beat-start", ""))
    later = heard(*stopped, (401.0 + PAUSE_S, "beat-start", ""))

    assert (batch.round, later.round) == (1, 2)


def test_a_rest_ends_a_round_however_short_it_is() -> None:
    """A maker who said that the mix rests means another round by beating on."""
    batch = heard((0.0, "pour", ""), (300.0, "rest-start", "bowl"), (310.0, "beat-start", ""))

    assert batch.round == 2


def test_a_mix_is_resting_once_its_pause_is_over() -> None:
    """While the round may go on it does not rest; without a rest mark it does after a while."""
    batch = heard((0.0, "pour", ""), (300.0, "beat-stop", ""))

    assert not batch.resting(300.0 + PAUSE_S)
    assert batch.resting(301.0 + PAUSE_S)


def test_where_a_mix_rests_decides_what_warms_the_bath() -> None:
    """A bowl lifted out gives nothing to the bath; a rig carried off has the freezer around it."""
    bowl = heard((0.0, "pour", ""), (600.0, "rest-start", "bowl"))
    rig = heard((0.0, "pour", ""), (600.0, "rest-start", "rig"))
    back = heard((0.0, "pour", ""), (600.0, "rest-start", "rig"), (3600.0, "rest-stop", ""))

    assert (bowl.in_bath, bowl.in_freezer) == (False, False)
    assert (rig.in_bath, rig.in_freezer) == (True, True)
    assert (back.in_bath, back.in_freezer) == (True, False)


def test_a_packed_mix_has_left_bowl_and_bath() -> None:
    """Packing ends beating and rest alike."""
    batch = heard((0.0, "pour", ""), (600.0, "rest-start", "rig"), (900.0, "pack", ""))

    assert batch.packed
    assert (batch.in_bath, batch.in_freezer, batch.beating) == (False, False, False)
    assert not batch.resting(5000.0)


def test_where_a_bowl_that_rested_alone_is_beaten_may_be_said() -> None:
    """Unsaid it is perhaps out of its bath; said, it is where the mark has it."""
    for where, in_bath, perhaps_out in (
        (None, True, True),
        ("rig", True, False),
        ("bowl", False, False),
    ):
        batch = Batch()
        batch.hear(Mark(0.0, MarkWord.POUR))
        batch.hear(Mark(900.0, MarkWord.REST_START, detail={"where": "bowl"}))
        batch.hear(Mark(4000.0, MarkWord.BEAT_START, detail={"where": where} if where else {}))

        assert (batch.in_bath, batch.perhaps_out) == (in_bath, perhaps_out)
        assert batch.begun_s == 4000.0
