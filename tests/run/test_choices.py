"""What a maker is offered can be taken, and what is likely comes first."""

from __future__ import annotations

import pytest

from rigmon.records import (
    Alarm,
    AlarmState,
    BathSetup,
    By,
    Choice,
    Composition,
    DetailValue,
    Mark,
    MarkWord,
    Priority,
    Recipe,
    RigSetup,
    Stage,
    parse_mark,
)
from rigmon.run.choices import TAKEN_KEYS, advised, choices, named, words
from rigmon.run.marks import check
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages

W = MarkWord
KITCHEN = RigSetup(bath=BathSetup(ice_g=2600.0, salt_g=650.0))
PLAIN = Recipe("plain", Composition(water=100.0), 900.0)
WAYS: tuple[tuple[tuple[MarkWord, ...], Stage, str], ...] = (
    ((), Stage.READY, "ice-in"),
    ((W.ICE_IN,), Stage.READY, "pour"),
    ((W.ICE_IN, W.POUR), Stage.BEAT, "beat-stop"),
    ((W.ICE_IN, W.POUR, W.BEAT_START), Stage.BEAT, "beat-stop"),
    ((W.POUR, W.BEAT_STOP), Stage.REST, "rest-start where=rig"),
    ((W.POUR, W.BEAT_STOP, W.SCRAPE), Stage.REST, "rest-start where=rig"),
    ((W.POUR, W.BEAT_STOP, W.REST_START), Stage.REST, "beat-start"),
    ((W.POUR, W.BEAT_STOP, W.REST_START, W.REST_STOP), Stage.REST, "beat-start"),
    ((W.POUR, W.BEAT_STOP, W.REST_START, W.BEAT_START), Stage.BEAT, "pack"),
    ((W.POUR, W.BEAT_STOP, W.PACK), Stage.PACK, "harden-start"),
    ((W.POUR, W.BEAT_STOP, W.PACK, W.HARDEN_START), Stage.HARDEN, "end"),
    ((W.POUR, W.END), Stage.DONE, "ice-in"),
)


def along(marks: tuple[MarkWord, ...]) -> Stages:
    """Stages after marks, ten minutes apart."""
    stages = Stages()
    for index, word in enumerate(marks):
        stages.hear(Mark(600.0 * index, word))
    return stages


def offered(stages: Stages) -> tuple[Choice, ...]:
    """What is offered there."""
    return choices(words(stages), KITCHEN, PLAIN, Speech())


@pytest.mark.parametrize(("marks", "stage", "first"), WAYS)
def test_the_likeliest_mark_comes_first(
    marks: tuple[MarkWord, ...], stage: Stage, first: str
) -> None:
    """One tap is enough on the usual way through a batch."""
    stages = along(marks)

    assert stages.stage is stage
    assert offered(stages)[0].word == first


@pytest.mark.parametrize(("marks", "stage", "first"), WAYS)
def test_every_offered_mark_is_taken(marks: tuple[MarkWord, ...], stage: Stage, first: str) -> None:
    """No button is refused, with what it suggests or at either end of what it allows."""
    for choice in offered(along(marks)):
        for amount in ("value", "least", "most"):
            given = ((one.name, getattr(one, amount)) for one in choice.fields)
            told = " ".join(f"{name}={value}" for name, value in given if value is not None)
            mark = parse_mark(f"{choice.word} {told}", 9000.0)
            check(mark.detail)
            if stage is not Stage.DONE:  # There it begins a run of its own.
                along(marks).hear(mark)


@pytest.mark.parametrize(("marks", "stage", "first"), WAYS)
def test_keys_are_told_apart(marks: tuple[MarkWord, ...], stage: Stage, first: str) -> None:
    """A letter means one mark, and none of those that mean the same everywhere."""
    keys = [choice.key for choice in offered(along(marks))]

    assert len(set(keys)) == len(keys)
    assert not set(keys) & TAKEN_KEYS
    assert len(keys) <= 6


def test_a_key_means_the_same_in_every_stage() -> None:
    """Fingers learn it."""
    meant = {(one.key, one.word) for marks, _, _ in WAYS for one in offered(along(marks))}
    assert len({key for key, _ in meant}) == len(meant)


def test_usual_amounts_are_filled_in_and_a_recharge_is_not_guessed() -> None:
    """What rig and recipe say is suggested; of a recharge nothing is known without advice."""

    def values(word: str, marks: tuple[MarkWord, ...]) -> dict[str, float | None]:
        (found,) = (one for one in offered(along(marks)) if one.word == word)
        return {one.name: one.value for one in found.fields}

    assert values("ice-in", ()) == {"ice_g": 2600.0, "salt_g": 650.0, "water_g": 0.0}
    assert values("pour", (W.ICE_IN,)) == {"mix_g": 900.0}
    assert set(values("recharge", (W.ICE_IN, W.POUR)).values()) == {None}


def test_ice_that_was_only_seen_can_be_told() -> None:
    """A bath that the readings showed has no amounts yet."""
    stages = Stages()
    stages.hear(Mark(0.0, W.ICE_IN, By.DETECTED))

    assert words(stages)[:2] == ("pour", "ice-in")


def alarm(code: str, state: AlarmState, **advice: DetailValue) -> Alarm:
    """An alarm with its advice."""
    return Alarm(700.0, code, Priority.MEDIUM, state, "Do it. Now.", advice)


@pytest.fixture
def beating() -> tuple[Choice, ...]:
    """What is offered while round 1 is beaten."""
    return offered(along((W.ICE_IN, W.POUR)))


def test_what_an_alarm_calls_for_comes_first_with_its_grams(beating: tuple[Choice, ...]) -> None:
    """The very grams that the alarm says; nothing is lost of the other marks."""
    near = alarm(
        "bath-limit-near",
        AlarmState.UNACKNOWLEDGED,
        do="recharge",
        ice_g=900.0,
        salt_g=180.0,
        drain_g=300.0,
    )
    first, *others = advised(beating, [near])

    assert first.word == "recharge"
    assert {one.name: one.value for one in first.fields} == {
        "ice_g": 900.0,
        "salt_g": 180.0,
        "drained_g": 300.0,
    }
    assert sorted(one.word for one in [first, *others]) == sorted(one.word for one in beating)


def test_advice_beside_a_stop_is_filled_in_but_does_not_lead(beating: tuple[Choice, ...]) -> None:
    """Stop comes first; whoever recharges instead finds the grams."""
    stop = alarm(
        "plateau-reached", AlarmState.ACKNOWLEDGED, do="stop-beating", ice_g=700.0, salt_g=140.0
    )
    made = advised(beating, [stop])

    assert [one.word for one in made[:2]] == ["beat-stop", "recharge"]
    assert made[1].fields[0].value == 700.0


@pytest.mark.parametrize(
    "state", [AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED, AlarmState.RETURNED]
)
def test_an_alarm_that_is_over_or_aside_changes_nothing(
    beating: tuple[Choice, ...], state: AlarmState
) -> None:
    """Its grams are old, and its call has been put off."""
    assert advised(beating, [alarm("x", state, do="recharge", ice_g=9.0)]) == beating


def test_every_mark_has_a_name() -> None:
    """Whatever can be taken back can be named; what never can needs none."""
    for word in set(MarkWord) - {W.UNDO, W.ACK, W.SHELVE}:
        assert named(word, Speech())
        assert named(word, Speech("de")) != named(word, Speech()) or word is W.START
