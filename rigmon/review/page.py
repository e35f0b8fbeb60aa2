"""One run as a maker reads it in a terminal."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Iterator

from rigmon.records import Event, Stage
from rigmon.review.happened import HARD_C
from rigmon.review.lessons import do_differently, held_back
from rigmon.review.measures import Held, Measures
from rigmon.review.story import Story, when
from rigmon.review.tasting import TEXTURES
from rigmon.review.told import Told, hours, minutes, ranged
from rigmon.units import clock

WIDTH = 80
LABEL = 10
EVENTS = {
    Event.PLATEAU: "stops stiffening",
    Event.BATH_LIMIT: "bath too warm",
    Event.ICE_GONE: "ice gone",
    Event.REST_OVER: "rest over",
    Event.MELT_ONSET: "begins to soften",
    Event.BASE_COLD: "base cold",
    Event.HARDENED: "core hard",
}


def title(measured: Measures) -> str:
    """What a run is called: its mix, rig and day."""
    day = datetime.datetime.fromtimestamp(measured.started_unix, datetime.UTC).astimezone()
    what = measured.recipe or "Mix without a recipe"
    return f"{what}, {measured.rig}, {day:%Y-%m-%d %H:%M}{', virtual rig' * measured.virtual}"


def lines(story: Story) -> Iterator[tuple[str, str]]:
    """A run in lines of up to 80 columns, each as its label (or nothing) and its text."""
    said = Told(story.units)
    measured = story.measures
    blocks: list[list[tuple[str, str]]] = [
        [("", title(measured)), *facts(measured, said)],
        [*_several("Held back", held_back(measured))],
        [*_several("Next time", do_differently(measured, said))],
        [*_several("Went", [f"{when(one.at_s):>10}  {one.text}" for one in story.moments])],
        [*_several("Forecast", forecasts(measured))],
        [*_several("Not said", not_said(measured))],
    ]
    for number, block in enumerate(one for one in blocks if one):
        if number:
            yield "", ""
        for label, text in block:
            indent = "            " if label == "Went" or text[:10].strip()[:1].isdigit() else ""
            wrapped = textwrap.wrap(text, WIDTH - LABEL, subsequent_indent=indent)
            for more, line in enumerate(wrapped if len(text) > WIDTH - LABEL else [text]):
                yield "" if more else label, line.rstrip()


def _several(label: str, texts: Iterator[str] | list[str]) -> Iterator[tuple[str, str]]:
    for number, text in enumerate(texts):
        yield "" if number else label, text


def facts(measured: Measures, said: Told) -> Iterator[tuple[str, str]]:
    """What was measured, each as its label and its text."""
    yield from _put_in(measured, said)
    yield from _came_of_it(measured, said)
    yield from _of_the_rig(measured)
    tasted = measured.tasted
    if tasted is not None:
        if tasted.texture is not None:
            yield "Tasted", f"texture {tasted.texture} of 5, {TEXTURES[tasted.texture]}"
        if tasted.note:
            yield "Noted", tasted.note


def _put_in(measured: Measures, said: Told) -> Iterator[tuple[str, str]]:
    bath = measured.bath
    mix = "not weighed" if measured.mix_g is None else said.g(measured.mix_g)
    poured = "" if measured.mix_c is None else f", poured at {said.c(measured.mix_c)}"
    room = "" if measured.room_c is None else f"; the room at {said.c(measured.room_c, 0)}"
    yield "Mix", f"{mix}{poured}{room}"
    ice = "ice not weighed" if bath.ice_g is None else f"{said.g(bath.ice_g)} {bath.ice_kind} ice"
    salt = "salt not weighed"
    if bath.salt_g is not None:
        salt = f"{said.g(bath.salt_g)} {bath.salt_kind} salt"
    ratio = "" if bath.ratio is None else f", {bath.ratio:.1f} to 1 by mass"
    yield "Bath", f"{ice}, {salt}{ratio}"
    temperatures = [
        f"{said.c(c)} {what}"
        for c, what in (
            (bath.at_pour_c, "at the pour"),
            (bath.best_c, "at best"),
            (bath.end_c, "at the end"),
        )
        if c is not None
    ]
    if temperatures:
        yield "", ", ".join(temperatures)
    for at_s in bath.recharges:
        yield "", f"recharged at {when(at_s)}"
    if bath.ice_left_g is not None and bath.ice_spent_g is not None:
        yield "", f"melted {said.masses(bath.ice_spent_g)}, left {said.masses(bath.ice_left_g)}"
    if bath.salt_left_g is not None:
        yield "", f"salt undissolved at the end {said.masses(bath.salt_left_g)}"


def _came_of_it(measured: Measures, said: Told) -> Iterator[tuple[str, str]]:
    parts = []
    if measured.freezing_after_s is not None:
        parts.append(f"freezing after {clock(measured.freezing_after_s.p50)}")
    if measured.plateau_after_s is not None:
        parts.append(f"stiff after {clock(measured.plateau_after_s)}")
    if measured.first_round_s is not None:
        parts.append(f"beaten for {clock(measured.first_round_s)}")
    if parts:
        yield "Round 1", ", ".join(parts)
    for held in measured.stages:
        if held.stage not in (Stage.BEAT, Stage.REST, Stage.HARDEN) or held.frozen_pct is None:
            continue
        what = {
            Stage.BEAT: f"round {held.round}",
            Stage.REST: f"rest {held.round}",
            Stage.HARDEN: "hardening",
        }[held.stage]
        took = clock(held.ended_s - held.begun_s)
        temperature = "" if held.mix_c is None else f", {said.c(held.mix_c)}"
        yield "", f"{what}, {took}: {ranged(held.frozen_pct, '%', 0)} frozen{temperature}"
    if measured.heat_kj is not None:
        yield "Heat", f"{ranged(measured.heat_kj, 'kJ', 0)} out of the mix in round 1"
    if measured.coarsening_min is not None and measured.coarsening_min > 0.0:
        note = measured.unsaid.get("coarsening_min")
        where = " (in the bowl; no probe read a core)" if note else ""
        yield (
            "Crystals",
            (f"{hours(measured.coarsening_min)} between −6 and −12 °C, where they grow{where}"),
        )
    if measured.hardening_min is not None:
        yield (
            "Hardening",
            f"{hours(measured.hardening_min)} until the core was at {said.c(HARD_C, 0)}",
        )


def _of_the_rig(measured: Measures) -> Iterator[tuple[str, str]]:
    if measured.ua_w_k is not None:
        at_end = measured.wall_end_w_k
        end = "" if at_end is None else f", at the end {ranged(at_end)}"
        yield "Wall", f"conducts {ranged(measured.ua_w_k, 'W/K')} into liquid mix{end}"
    for one in measured.scrapes:
        was, became = ranged(one.before_w_k), ranged(one.after_w_k, "W/K")
        yield "", f"scraped at {when(one.at_s)}: {was} before, {became} after"
    if measured.beater_w is not None and measured.beater_end_w is not None:
        first, last = (ranged(one, "W", 0) for one in (measured.beater_w, measured.beater_end_w))
        yield "Beaters", f"with the air {first} at first, {last} at the end"
    if measured.leak_w_k is not None and "leak_w_k" not in measured.unsaid:
        yield "Leak", f"the outer bowl lets in {ranged(measured.leak_w_k, 'W/K')}"
    if measured.mix_offset_k is not None:
        yield "Probe", f"the mix probe reads {ranged(measured.mix_offset_k, 'K')} too much"


def forecasts(measured: Measures) -> Iterator[str]:
    """Forecasts of what happened, and that of the plateau."""
    for held in measured.forecasts:
        if held.happened_s is not None or (held.first and held.event is Event.PLATEAU):
            yield forecast_words(held)


def forecast_words(held: Held) -> str:
    """A forecast as it was given, and what happened."""
    low, middle, high = (
        "beyond" if value is None else when(value) for value in (held.p10, held.p50, held.p90)
    )
    text = f"{when(held.at_s):>10}  {EVENTS[held.event]} at {middle} ({low}–{high})"
    if held.happened_s is None:
        return f"{text}; not seen to happen"
    if held.p50 is None:
        return f"{text}; it was {when(held.happened_s)}"
    missed = held.happened_s - held.p50
    side = "later" if missed > 0.0 else "earlier"
    inside = "" if within(held) else ", outside the range"
    return f"{text}; it was {when(held.happened_s)}, {minutes(abs(missed))} {side}{inside}"


def within(held: Held) -> bool:
    """Whether what happened lay in the range that was forecast."""
    if held.happened_s is None:
        return False
    low = held.p10 is None or held.happened_s >= held.p10
    return low and (held.p90 is None or held.happened_s <= held.p90)


def not_said(measured: Measures) -> Iterator[str]:
    """What could not be measured, and why."""
    for field, why in measured.unsaid.items():
        name = field.removeprefix("bath.")
        if field == "coarsening_min" and measured.coarsening_min is not None:
            continue
        yield f"{_NAMES.get(name, name)}: {why}"


_NAMES = {
    "poured_s": "the round",
    "plateau_after_s": "when it was stiff",
    "mix_g": "mass of the mix",
    "heat_kj": "heat",
    "ratio": "ratio",
    "ice_left_g": "ice left",
    "ua_w_k": "what the wall conducts",
    "stiffening": "how the wall conducts less as the mix stiffens",
    "wall_end_w_k": "what the wall conducted at the end",
    "beater_w": "heat of the beaters",
    "beater_end_w": "heat of the beaters at the end",
    "leak_w_k": "leak of the outer bowl",
    "coarsening_min": "time in which crystals grow",
    "hardening_min": "hardening",
}
