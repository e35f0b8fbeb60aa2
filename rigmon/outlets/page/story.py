"""The story of a run that has ended, in a few figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rigmon.run.speech import Speech
from rigmon.units import clock


def story(figures: Mapping[str, Any], at: float, speech: Speech) -> list[dict[str, str]]:
    """What a maker reads of a run that has ended; what is not known is left out.

    Args:
        figures: those of its summary.
        at: run time at its end [s].
        speech: the maker's language and units.

    >>> figures = {"poured_s": 180.0, "plateau_s": 1452.0, "bath_min_c": -17.71, "marks": 6}
    >>> [f"{one['text']}: {one['value']}" for one in story(figures, 1485.0, Speech())]
    ['Run: 24:45', 'Plateau: 21:12 after the pour', 'Bath at its coldest: −17.7 °C']
    """
    say = speech.say
    told = [(say("Run"), clock(at))]
    poured, freezing = figures.get("poured_s"), figures.get("freezing_s")
    plateau, frozen = figures.get("plateau_s"), figures.get("frozen_pct")
    coldest, left, rounds = (figures.get(key) for key in ("bath_min_c", "ice_left_g", "rounds"))
    if rounds and rounds > 1:
        told.append((say("Rounds"), f"{rounds}"))
    for name, moment in ((say("First ice in the mix"), freezing), (say("Plateau"), plateau)):
        if poured is not None and moment is not None:
            told.append((name, say("{time} after the pour", time=clock(moment - poured))))
    forecast = figures.get("first_plateau_forecast")
    if forecast and poured is not None and forecast[1] is not None and forecast[3] is not None:
        low, high = (clock(forecast[index] - poured) for index in (1, 3))
        told.append((say("Plateau, as first expected"), f"{low}–{high}"))
    if frozen is not None:
        share = say("{share} % of the water", share=f"{frozen:.0f}")
        told.append((say("Frozen by beating"), share))
    if coldest is not None:
        told.append((say("Bath at its coldest"), speech.temperature(coldest)))
    if left is not None:
        told.append((say("Ice left"), speech.mass(left)))
    if figures.get("alarms"):
        told.append((say("Alarms"), f"{figures['alarms']}"))
    return [{"text": text, "value": value} for text, value in told]
