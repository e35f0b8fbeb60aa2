"""Which marks make sense where a run stands, the likeliest first, and what they may tell.

What is always possible is not among them: a note, a reading, to take back, to answer an alarm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rigmon.records import (
    Alarm,
    AlarmState,
    By,
    Choice,
    ChoiceField,
    MarkWord,
    Recipe,
    RigSetup,
    Stage,
)
from rigmon.run.marks import ALLOWED
from rigmon.run.speech import Speech
from rigmon.run.stages import Stages
from rigmon.texts import marked

TAKEN_KEYS = frozenset("alnqu")
"""Letters that mean the same in every stage: answer an alarm, put it aside, note, quit, undo."""


@dataclass(frozen=True, slots=True)
class _Button:
    text: str
    key: str
    asks: tuple[str, ...] = ()


_BASE = "start stage=base"
_RIG_RESTS, _BOWL_RESTS = "rest-start where=rig", "rest-start where=bowl"
_BUTTONS: Mapping[str, _Button] = {
    _BASE: _Button(marked("The base cools"), "k"),
    "ice-in": _Button(marked("Ice and salt are in"), "i", ("ice_g", "salt_g", "water_g")),
    "pour": _Button(marked("Mix is poured"), "p", ("mix_g",)),
    "beat-start": _Button(marked("Beating"), "b"),
    "beat-stop": _Button(marked("Beating stopped"), "s"),
    _RIG_RESTS: _Button(marked("Rig into the freezer"), "f"),
    _BOWL_RESTS: _Button(marked("Inner bowl into the freezer"), "g"),
    "rest-stop": _Button(marked("Out of the freezer"), "o"),
    "recharge": _Button(marked("Recharged"), "r", ("ice_g", "salt_g", "drained_g")),
    "scrape": _Button(marked("Wall scraped"), "w"),
    "mix-in": _Button(marked("Stirred in"), "m"),
    "pack": _Button(marked("Packed"), "t", ("tubs", "tub_ml")),
    "harden-start": _Button(marked("Tubs into the freezer"), "h"),
    "end": _Button(marked("Run over"), "e"),
}
_ASKED: Mapping[str, tuple[str, str, float]] = {
    "ice_g": (marked("ice"), "g", 50.0),
    "salt_g": (marked("salt"), "g", 10.0),
    "water_g": (marked("water"), "g", 50.0),
    "drained_g": (marked("brine poured off"), "g", 50.0),
    "mix_g": (marked("mix"), "g", 10.0),
    "tubs": (marked("tubs"), "", 1.0),
    "tub_ml": (marked("size of a tub"), "ml", 50.0),
}
"""What is asked for, its unit, and the step by which it is changed."""


def words(stages: Stages) -> tuple[str, ...]:
    """The marks that make sense, the likeliest first, as they are written.

    >>> words(Stages())
    ('ice-in', 'pour', 'start stage=base')
    """
    moved, by = stages.moved or (None, None)
    match stages.stage:
        case Stage.BASE:
            return ("ice-in", "end")
        case Stage.READY if moved is MarkWord.ICE_IN:
            # What went in only the maker can say, where the ice itself was seen.
            told = "ice-in" if by is By.DETECTED else "recharge"
            return ("pour", told, "end")
        case Stage.READY:
            return ("ice-in", "pour", _BASE)
        case Stage.BEAT if stages.round > 1:
            return ("pack", "beat-stop", "mix-in", "recharge", "scrape")
        case Stage.BEAT:
            return ("beat-stop", "recharge", "scrape", "mix-in", "pack")
        case Stage.REST if moved is MarkWord.REST_START:
            return ("beat-start", "rest-stop", "recharge", "pack")
        case Stage.REST if moved is MarkWord.REST_STOP or stages.round > 1:
            return ("beat-start", "pack", "scrape", "recharge", _RIG_RESTS, _BOWL_RESTS)
        case Stage.REST:
            return (_RIG_RESTS, _BOWL_RESTS, "beat-start", "scrape", "pack")
        case Stage.PACK:
            return ("harden-start", "beat-start", "end")
        case Stage.HARDEN:
            return ("end",)
        case _:
            return ("ice-in", _BASE)


def choices(
    wanted: Sequence[str], setup: RigSetup, recipe: Recipe | None, speech: Speech
) -> tuple[Choice, ...]:
    """Marks with what the maker usually puts in.

    Args:
        wanted: the marks, as `words` has them.
        setup: the rig, with its usual bath.
        recipe: the mix; None if not known.
        speech: the maker's language.
    """
    usual: Mapping[str, float | None] = {
        "mix_g": None if recipe is None else recipe.mass_g,
        "ice_g": setup.bath.ice_g,
        "salt_g": setup.bath.salt_g,
        "water_g": setup.bath.water_g,
    }
    made = []
    for word in wanted:
        button = _BUTTONS[word]
        # A recharge is no second bath: its amounts come from an advice, or from the maker.
        known = {} if word == "recharge" else usual
        fields = tuple(_field(name, known.get(name), speech) for name in button.asks)
        made.append(Choice(word, speech.say(button.text), button.key, fields))
    return tuple(made)


def at_first(setup: RigSetup, recipe: Recipe | None, speech: Speech) -> tuple[Choice, ...]:
    """The marks that begin a run; arguments as in `choices`."""
    return choices(words(Stages()), setup, recipe, speech)


def _field(name: str, value: float | None, speech: Speech) -> ChoiceField:
    text, unit, step = _ASKED[name]
    least, most = ALLOWED[name]
    return ChoiceField(name, speech.say(text), unit, value, least, most, step)


_NAMES: Mapping[str, str] = {
    "start": marked("Run begun"),
    "rest-start": marked("Rest begun"),
    "note": marked("Note"),
    "reading": marked("Reading by hand"),
    **{word: button.text for word, button in _BUTTONS.items()},
}


def named(word: MarkWord, speech: Speech) -> str:
    """A mark as the maker reads of it, as in what can be taken back.

    >>> named(MarkWord.BEAT_STOP, Speech())
    'Beating stopped'
    """
    return speech.say(_NAMES[word.value])


_CALLS_FOR: Mapping[str, tuple[str, ...]] = {
    "recharge": ("recharge",),
    "remake-bath": ("recharge",),
    "stop-beating": ("beat-stop",),
    "pack": ("pack",),
    "beat-again": ("beat-start",),
}
"""Marks that an alarm's advice calls for."""
_ADVISED = {"ice_g": "ice_g", "salt_g": "salt_g", "drained_g": "drain_g"}


def advised(made: Sequence[Choice], alarms: Sequence[Alarm]) -> tuple[Choice, ...]:
    """The same marks as the alarms would have them: what they call for first, with its grams.

    Args:
        made: the marks that make sense.
        alarms: those that stand, the most urgent first, with the advice that the maker reads.
    """
    wanted: list[str] = []
    grams: dict[str, float] = {}
    for alarm in alarms:
        if alarm.state not in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED):
            continue
        wanted += _CALLS_FOR.get(str(alarm.advice.get("do", "")), ())
        if "ice_g" in alarm.advice and not grams:
            given = ((name, alarm.advice.get(key, 0.0)) for name, key in _ADVISED.items())
            grams = {name: float(value) for name, value in given}
    told = [_with_grams(one, grams) if one.word == "recharge" else one for one in made]
    first = [one for word in dict.fromkeys(wanted) for one in told if one.word == word]
    return (*first, *(one for one in told if one not in first))


def _with_grams(choice: Choice, grams: Mapping[str, float]) -> Choice:
    if not grams:
        return choice
    return replace(
        choice, fields=tuple(replace(f, value=grams.get(f.name, f.value)) for f in choice.fields)
    )
