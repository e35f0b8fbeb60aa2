"""What a key in the terminal means: the marks of the stage, and what can be told with them."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass, replace

from rigmon.records import Alarm, AlarmState, Choice, ChoiceField
from rigmon.run.speech import Speech
from rigmon.texts import marked
from rigmon.units import GRAMS_PER_OUNCE

HEARD, LATER, NOTE, UNDO = "a", "l", "n", "u"
"""Keys that mean the same in every stage."""
ENTER, ESCAPE, TAB, BACK_TAB = "\r\n", "\x1b", "\t", "\x1b[Z"
_ERASES = "\x08\x7f"
_LONGEST = 200
_UNSURE_WITHOUT = frozenset({"ice-in", "recharge"})
"""Marks that cost the bath its balance if nobody says how much."""


def mark_of(choice: Choice) -> str:
    """A choice as a mark, with the amounts that it has; what is none is left out.

    >>> ice = ChoiceField("ice_g", "ice", "g", 900.0, 0.0, 50000.0, 50.0)
    >>> drained = ChoiceField("drained_g", "brine poured off", "g", 0.0, 0.0, 50000.0, 50.0)
    >>> mark_of(Choice("recharge", "Recharged", "r", (ice, drained)))
    'recharge ice_g=900'
    """
    given = [f"{one.name}={one.value:.10g}" for one in choice.fields if one.value]
    return " ".join([choice.word, *given])


def must_be_told(choice: Choice) -> bool:
    """Whether nobody knows yet how much, and it matters."""
    ice = [one for one in choice.fields if one.name == "ice_g"]
    return choice.word in _UNSURE_WITHOUT and any(not one.value for one in ice)


def label(choice: Choice, speech: Speech) -> str:
    """A choice as it stands beside its key, with the grams that the key tells."""
    told = [f"{one.text} {_amount(one, speech)}" for one in choice.fields if one.value and one.unit]
    return " ".join([choice.text, *([f"({', '.join(told)})"] if told else [])])


def _amount(field: ChoiceField, speech: Speech) -> str:
    if field.unit == "g":
        return speech.mass(field.value)
    return f"{field.value or 0.0:.0f} {field.unit}".rstrip()


def put_aside(alarms: tuple[Alarm, ...]) -> str | None:
    """The mark that puts the most urgent alarm aside for a while; None if there is none."""
    for alarm in alarms:
        if alarm.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED):
            return f"shelve {alarm.code}"
    return None


@dataclass(frozen=True, slots=True)
class Entry:
    """A line that the maker types: amounts, or a note.

    Args:
        choice: the mark whose amounts are typed; None for a note.
        typed: what stands there.
        fault: what is wrong with it.
    """

    choice: Choice | None = None
    typed: str = ""
    fault: str = ""

    def press(self, text: str) -> Entry:
        """The same after some keys, none of which ends it."""
        typed = self.typed
        for one in text:
            if one in _ERASES:
                typed = typed[:-1]
            elif one.isprintable() and len(typed) < _LONGEST:
                typed += one
        return replace(self, typed=typed, fault="")

    def prompt(self, speech: Speech) -> str:
        """What is asked for."""
        if self.choice is None:
            return speech.say("Note")
        asked = (f"{one.text} ({_unit(one, speech)})" for one in self.choice.fields)
        return f"{self.choice.text}: {', '.join(asked)}"

    def mark(self, speech: Speech) -> str | Entry | None:
        """The mark that the line makes; the entry with its fault if it makes none; None if empty.

        A line of amounts that is left empty is the mark without amounts.
        """
        if self.choice is None:
            return f"note note={shlex.quote(self.typed.strip())}" if self.typed.strip() else None
        fields = self.choice.fields
        words = self.typed.replace(",", ".").split()
        if len(words) > len(fields):
            asked = ", ".join(one.text for one in fields)
            return replace(self, fault=speech.say("Only these, in this order: {what}.", what=asked))
        values: dict[str, float] = {}
        for one, word in zip(fields, words, strict=False):
            value = _grams(one, word, speech)
            if value is None:
                fault = speech.say(
                    "{what}: a number from {low} to {high} is needed.",
                    what=one.text,
                    low=_shown(one, one.least, speech),
                    high=_shown(one, one.most, speech),
                )
                return replace(self, fault=fault)
            values[one.name] = value
        return mark_of(_with(self.choice, values))


def _with(choice: Choice, values: Mapping[str, float]) -> Choice:
    told = (replace(one, value=values.get(one.name)) for one in choice.fields)
    return replace(choice, fields=tuple(told))


def _in_ounces(field: ChoiceField, speech: Speech) -> bool:
    return field.unit == "g" and speech.mass_unit == "oz"


def _unit(field: ChoiceField, speech: Speech) -> str:
    return "oz" if _in_ounces(field, speech) else field.unit or speech.say("number")


def _grams(field: ChoiceField, word: str, speech: Speech) -> float | None:
    try:
        value = float(word) * (GRAMS_PER_OUNCE if _in_ounces(field, speech) else 1.0)
    except ValueError:
        return None
    return value if field.least <= value <= field.most else None


def _shown(field: ChoiceField, value: float, speech: Speech) -> str:
    return f"{value / (GRAMS_PER_OUNCE if _in_ounces(field, speech) else 1.0):.0f}"


ALWAYS = {
    HEARD: marked("heard"),
    LATER: marked("put aside"),
    UNDO: marked("take back"),
    NOTE: marked("note"),
}
"""What the keys say that mean the same in every stage."""
