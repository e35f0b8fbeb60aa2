"""What keys come to."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigmon.outlets.keymarks import Entry, label, mark_of, must_be_told, put_aside
from rigmon.records import Alarm, AlarmState, Choice, ChoiceField, RigSetup, parse_mark
from rigmon.run.choices import TAKEN_KEYS, choices, words
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages

MakeAlarm = Callable[..., Alarm]

ICE = ChoiceField("ice_g", "ice", "g", 900.0, 0.0, 50_000.0, 50.0)
SALT = ChoiceField("salt_g", "salt", "g", 180.0, 0.0, 20_000.0, 10.0)
DRAINED = ChoiceField("drained_g", "brine poured off", "g", 0.0, 0.0, 50_000.0, 50.0)
ADVISED = Choice("recharge", "Recharged", "r", (ICE, SALT, DRAINED))
ASKED = Entry(ADVISED)
SPEECH = Speech()


def test_a_recharge_takes_the_advised_grams_and_says_them() -> None:
    """What stands beside the key is what the mark tells."""
    assert mark_of(ADVISED) == "recharge ice_g=900 salt_g=180"
    assert label(ADVISED, SPEECH) == "Recharged (ice 900 g, salt 180 g)"
    assert not must_be_told(ADVISED)


def test_a_recharge_that_nobody_has_advised_is_asked_for() -> None:
    """Without amounts the ice left could no longer be told, so a key alone does not do it."""
    blind = Choice("recharge", "Recharged", "r", tuple(_empty(one) for one in ADVISED.fields))

    assert must_be_told(blind)
    assert not must_be_told(Choice("pour", "Mix is poured", "p", ()))


def _empty(field: ChoiceField) -> ChoiceField:
    return ChoiceField(field.name, field.text, field.unit, None, field.least, field.most, 1.0)


@pytest.mark.parametrize(
    ("typed", "mark"),
    [
        ("850 150", "recharge ice_g=850 salt_g=150"),
        ("850", "recharge ice_g=850"),
        ("850,5 150.25 0", "recharge ice_g=850.5 salt_g=150.25"),
        ("", "recharge"),
    ],
)
def test_amounts_are_typed_in_the_order_that_is_asked(typed: str, mark: str) -> None:
    """With a comma or a point; what is left out is not told."""
    assert ASKED.press(typed).mark(SPEECH) == mark


@pytest.mark.parametrize("typed", ["much", "-5", "900 90000", "nan", "inf", "1 2 3 4"])
def test_what_cannot_be_is_said_and_kept(typed: str) -> None:
    """The line stays to be mended, with what is allowed."""
    made = ASKED.press(typed).mark(SPEECH)

    assert isinstance(made, Entry)
    assert made.typed == typed
    assert made.fault
    assert made.press("0").fault == ""


def test_ounces_are_typed_where_the_maker_weighs_in_ounces() -> None:
    """An ounce is 28.349523125 g (international yard and pound agreement of 1959)."""
    american = Speech(mass_unit="oz")

    assert ASKED.press("32").mark(american) == "recharge ice_g=907.18474"
    assert "(oz)" in ASKED.prompt(american)


@pytest.mark.parametrize("text", ["second bag", 'it\'s "soft"; ice_g=3 --x', "käse – €", "a=b"])
def test_a_note_comes_through_as_it_was_typed(text: str) -> None:
    """Quotation marks and words that look like amounts are text."""
    mark = Entry().press(text).mark(SPEECH)

    assert isinstance(mark, str)
    assert parse_mark(mark, 0.0).detail == {"note": text}


def test_an_empty_note_is_none() -> None:
    """Enter on nothing leaves nothing in the log."""
    assert Entry().press("  ").mark(SPEECH) is None


def test_typing_can_be_taken_back_and_does_not_grow_for_ever() -> None:
    """Backspace takes the last character; control characters are no text."""
    assert Entry().press("ab\x7f\x00\x1bc").typed == "ac"
    assert Entry().press("\x7f").typed == ""
    assert len(Entry().press("x" * 10_000).typed) == 200


def test_the_most_urgent_alarm_is_put_aside(make_alarm: MakeAlarm) -> None:
    """One that is put aside already, or over, is not put aside again."""
    over = make_alarm("probe-silent", state=AlarmState.RETURNED_UNACKNOWLEDGED)
    stands = make_alarm("bath-limit-near")

    assert put_aside((over, stands)) == "shelve bath-limit-near"
    assert put_aside((over,)) is None


def test_no_key_of_a_stage_is_one_that_always_means_the_same() -> None:
    """Every mark has a letter, its own in its stage, and none of those of every stage."""
    made = choices(words(Stages()), RigSetup("rig-a"), None, SPEECH)
    keys = [one.key for one in made]

    assert len(set(keys)) == len(keys)
    assert not set(keys) & TAKEN_KEYS
    assert {"a", "l", "n", "u"} <= TAKEN_KEYS


def test_every_choice_is_a_mark_that_can_be_read() -> None:
    """A key never makes a mark that the program refuses to understand."""
    for one in choices(words(Stages()), RigSetup("rig-a"), None, SPEECH):
        assert parse_mark(mark_of(one), 0.0).word.value == one.word.partition(" ")[0]
