"""What speaks of a mix that freezes elsewhere than its recipe says, and of probes swapped."""

from __future__ import annotations

from rigmon.estimate.freezingoff import FreezingOff
from rigmon.run.alarms import Cause
from rigmon.run.speech import Speech
from rigmon.texts import marked

SWAPPED = marked(
    "The probes of bath and mix sit in each other's place, and are read the other way round from"
    " now on. Swap their plugs when there is time, or take this back."
)
SWAPPED_BACK = marked("The probes of bath and mix are back in their own places, and read so.")


def of_swap(swapped: bool, speech: Speech) -> dict[str, Cause]:
    """What speaks while the probes of bath and mix are read as each other."""
    return {"probe-swapped": Cause(speech.say(SWAPPED))} if swapped else {}


def of_freezing(off: FreezingOff | None, speech: Speech) -> dict[str, Cause]:
    """What speaks of a mix that freezes elsewhere: both explanations, and how to tell them apart.

    Brine makes a mix freeze colder, so that a mix that freezes warmer has none in it.
    """
    if off is None:
        return {}
    figures = {
        "seen": speech.temperature(off.seen_c),
        "told": speech.temperature(off.told_c),
        "ice": speech.temperature(0.0, 0),
    }
    if off.seen_c < off.told_c:
        text = speech.say(
            "It freezes at {seen}, by its recipe at {told}: brine in the mix, or another recipe"
            " than told, or a probe that reads low. Taste a spoonful, which does not go back: salt"
            " means brine. Check what was weighed. Ice in water must read {ice}.",
            **figures,
        )
    else:
        text = speech.say(
            "It freezes at {seen}, by its recipe at {told}: another recipe than told, with less"
            " sugar or more water, or a probe that reads high. Check what was weighed. Ice in water"
            " must read {ice}.",
            **figures,
        )
    return {"freezing-point-off": Cause(text)}
