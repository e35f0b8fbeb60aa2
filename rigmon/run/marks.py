"""What a mark can say at all: amounts that fit a kitchen, and the words that answer a recharge."""

from __future__ import annotations

from collections.abc import Mapping

from rigmon.estimate.amounts import Amounts
from rigmon.probes.screen import LIMITS_C
from rigmon.records import DetailValue, Mark, Place, place_of
from rigmon.run.speech import Speech
from rigmon.texts import Sentence, marked

ALLOWED: Mapping[str, tuple[float, float]] = {
    "ice_g": (0.0, 50_000.0),
    "salt_g": (0.0, 20_000.0),
    "drained_g": (0.0, 50_000.0),
    "water_g": (0.0, 20_000.0),
    "ice_c": (-60.0, 20.0),
    "wet_pct": (0.0, 100.0),
    "mix_g": (50.0, 20_000.0),
    "ice_scoops": (0.0, 1_000.0),
    "tubs": (0.0, 1_000.0),
    "tub_ml": (0.0, 50_000.0),
    "mixer_w": (0.0, 5_000.0),
    "for_min": (0.0, 1_440.0),
}
"""The least and the greatest that a detail can be; temperatures by where they are read."""
_ANY = (-1e12, 1e12)
_SCOOPS = marked("{n} scoops of ice, whose grams are not set for this rig")
_RECHARGED = marked("Bath recharged: {parts}.")
_RECHARGED_BLIND = marked("Bath recharged: {parts}: the ice left can no longer be told.")

NOT_TAKEN = marked("The mark {word} was not taken: {why}.")
_BETWEEN = marked("{key} is {found}; it lies between {low} and {high}")


def check(detail: Mapping[str, DetailValue]) -> None:
    """Hold a mark's figures against what can be.

    Raises:
        ValueError: one cannot be; says what is allowed.

    >>> check({"mix_g": 2.0})
    Traceback (most recent call last):
    ValueError: mix_g is 2; it lies between 50 and 20000
    """
    for key, value in detail.items():
        low, high = _allowed(key)
        if not isinstance(value, str) and not low <= value <= high:
            raise ValueError(
                Sentence(_BETWEEN, key=key, found=f"{value:g}", low=f"{low:g}", high=f"{high:g}")
            )


def _allowed(key: str) -> tuple[float, float]:
    place = place_of(key.removesuffix("_c")) if key.endswith("_c") else None
    if key in ALLOWED or place is None or place is Place.MIXER:
        return ALLOWED.get(key, _ANY)
    return LIMITS_C[place]


def typed(mark: Mark) -> dict[str, float]:
    """Temperatures [°C] that a `reading` mark gives, by probe.

    >>> from rigmon.records import MarkWord
    >>> typed(Mark(0.0, MarkWord.READING, detail={"bath_c": -14.5, "note": "glass thermometer"}))
    {'bath': -14.5}
    """
    return {
        key.removesuffix("_c"): float(value)
        for key, value in mark.detail.items()
        if key.endswith("_c") and key not in ALLOWED
    }


def recharged(mark: Mark, amounts: Amounts, speech: Speech | None = None) -> str:
    """What was made of a recharge, in one sentence.

    Args:
        mark: the mark.
        amounts: what it comes to.
        speech: the maker's language.
    """
    say = (speech or Speech()).say
    if amounts.salt_g is None:
        return say("Bath recharged, amounts unknown: the ice left can no longer be told.")
    drained = say("{n} g brine poured off", n=f"{amounts.drained_g:g}")
    parts = [drained] if amounts.drained_g else []
    if amounts.ice_g is None:
        scoops = float(mark.detail.get("ice_scoops", 0.0))
        parts.append(say(_SCOOPS, n=f"{scoops:g}"))
    for grams, what in (
        (amounts.ice_g, marked("{n} g ice")),
        (amounts.salt_g, marked("{n} g salt")),
        (amounts.water_g, marked("{n} g water")),
    ):
        if grams:
            parts.append(say(what, n=f"{grams:g}"))
    text = _RECHARGED if amounts.ice_g is not None else _RECHARGED_BLIND
    return say(text, parts=", ".join(parts) or say("nothing"))
