"""A plan as a maker reads it in a terminal: in the order in which the evening goes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

from rigmon.physics.brine import Heap
from rigmon.physics.numbers import Array
from rigmon.physics.salts import salt
from rigmon.plan.helps import WORTH_S
from rigmon.plan.hints import FIRST, PRACTICE, salt_words
from rigmon.plan.planning import COLD_C
from rigmon.plan.values import Alternative, Compared, Help, Hint, Measure, Outlook, Plan, Span
from rigmon.records.planning import SaltName
from rigmon.units import MassUnit, TemperatureUnit, mass, temperature

WIDTH = 80
LABEL = 10
CURVE_C = (-3.0, -4.0, -5.0, -6.0, -8.0, -12.0, -18.0)
UNLIKELY, LIKELY = 0.1, 0.6
LEAST_ICE_G = 50.0
"""Ice that is worth a word [g]."""
ICES: tuple[Heap, ...] = ("crushed", "cubes")
SALTS: tuple[Heap, ...] = ("fine", "kosher", "rock")
KEYS: Mapping[Compared, str] = {
    "ratio": "ice : salt",
    "ice_g": "ice",
    "salt_g": "salt",
    "room_c": "room",
    "mix_c": "mix",
}
"""What can be compared, as it stands at the head of a table."""


class Words:
    """Numbers in the maker's units.

    Args:
        temperature_unit: of temperatures.
        mass_unit: of masses.
    """

    def __init__(self, temperature_unit: TemperatureUnit = "C", mass_unit: MassUnit = "g") -> None:
        self._temperature, self._mass = temperature_unit, mass_unit
        self.scale = f"°{temperature_unit}"

    def c(self, value: float, digits: int = 1) -> str:
        """A temperature [°C]."""
        return temperature(value, self._temperature, digits)

    def row(self, values: Sequence[float]) -> str:
        """Temperatures [°C] in a row, the unit at its end."""
        texts = [self.c(value, 0) for value in values]
        return "/".join([*(text.split(" ")[0] for text in texts[:-1]), *texts[-1:]])

    def degrees(self, values: Array) -> Array:
        """Temperatures [°C] on the maker's scale, to be drawn."""
        return 1.8 * values + 32.0 if self.scale == "°F" else values

    def tens(self, value: float) -> str:
        """A mass [g] that is an estimate, to 10 g."""
        return self.g(10.0 * round(value / 10.0))

    def g(self, value: float) -> str:
        """A mass [g]; grams are not turned into kilograms, since a scale shows them."""
        return f"{value:.0f} g" if self._mass == "g" else mass(value, self._mass)


def lines(plan: Plan, words: Words | None = None) -> Iterator[tuple[str, str]]:
    """A plan in lines of up to 80 columns, each as its label (or nothing) and its text.

    Args:
        plan: what is told.
        words: the maker's units.
    """
    say = words or Words()
    blocks: list[list[tuple[str, str]]] = [
        [("", plan.batch.name), *amounts(plan, say), *_cups(plan, say)],
        [*_course(plan, say), *_several("Saves", saves(plan.helps, say))],
        [*_several("Recipe", [finding.text for finding in plan.findings])],
        [*_several("Watch", [sourced(hint) for hint in plan.watch])],
        [*_several("Take care", [FIRST, *(sourced(hint) for hint in plan.cautions)])],
        [("Assumed", f"{'; '.join(plan.batch.assumed)}.")],
    ]
    if plan.alternatives:
        blocks.insert(2, [*_several("Compare", table(plan, say))])
    for number, block in enumerate(one for one in blocks if one):
        if number:
            yield "", ""
        for label, text in block:
            # A table keeps its spaces, since its lines are short enough.
            fits = len(text) <= WIDTH - LABEL
            for more, line in enumerate([text] if fits else textwrap.wrap(text, WIDTH - LABEL)):
                yield "" if more else label, line


def _several(label: str, texts: Iterable[str]) -> Iterator[tuple[str, str]]:
    for number, text in enumerate(texts):
        yield "" if number else label, text


def amounts(plan: Plan, say: Words) -> Iterator[tuple[str, str]]:
    """Mix, ice and salt, each as its label and its text."""
    start = plan.batch.start
    room_c = say.c(start.room_c, 0)
    yield "Mix", f"{say.g(start.mix_g)} at {say.c(start.mix_c, 0)}; the room is at {room_c}"
    yield "Fits", fit_words(plan, say)
    yield "Ice", f"{say.g(start.ice_g)} {ice_words(plan, say)}"
    salt = start.salt_kind if start.salt is SaltName.SODIUM_CHLORIDE else salt_words(start.salt)
    ratio = f"{start.ice_g / start.salt_g:.1f} of ice to 1 of salt by mass"
    yield "Salt", f"{say.g(start.salt_g)} {salt}, {ratio}"


def ice_words(plan: Plan, say: Words) -> str:
    """What stands behind the mass of the ice: its form, the spare, what will melt."""
    batch, melts = plan.batch, plan.outlook.ice_melted_g
    text = str(batch.start.ice_kind)
    if batch.wanted_g is not None and batch.needed_g is not None:
        if batch.wanted_g > batch.start.ice_g:
            text += f", all that fits; {say.g(batch.wanted_g)} would be wanted"
        else:
            text += f", {say.tens(batch.start.ice_g - batch.needed_g)} of it to spare"
    if melts.p10 is not None and melts.p90 is not None:
        low, high = say.tens(melts.p10), say.tens(melts.p90)
        text += f"; {low if low == high else f'{low} to {high}'} melt in round 1"
    return text


def fit_words(plan: Plan, say: Words) -> str:
    """Whether it fits, and with how much room."""
    fit = plan.fit
    if fit.ok:
        return (
            f"yes: mix with air {_litres(fit.mix_ml)} in {_litres(fit.mix_room_ml)}, ice "
            f"{_litres(fit.ice_heap_ml)} in {_litres(fit.ice_room_ml)}"
        )
    if fit.mix_ml > fit.mix_room_ml:
        return (
            f"no: mix with air is {_litres(fit.mix_ml)}, the bowl {_litres(fit.mix_room_ml)}; "
            f"{fit.spill_ml:.0f} ml would spill"
        )
    low, _, high = plan.ice_fits_g
    return (
        f"no: {fit.spill_ml:.0f} ml would spill; {low:.0f} to {say.g(high)} of ice have room, "
        "by how densely it lies"
    )


def _litres(ml: float) -> str:
    return f"{ml / 1000:.1f} l"


def _cups(plan: Plan, say: Words) -> Iterator[tuple[str, str]]:
    found = plan.measures
    yield "Cups", f"of {plan.cup_ml:.0f} ml; the range is how densely it lies, so better weigh:"
    for heading, kinds in (("ice", ICES), ("salt", SALTS)):
        line = [cup_words(one) for one in found if one.material in kinds]
        if line:
            yield "", f"{heading}: {' · '.join(line)}"
    if plan.batch.start.salt is not SaltName.SODIUM_CHLORIDE:
        yield "", f"salt: weigh {say.g(plan.batch.start.salt_g)}, its bulk density is not known"


def cup_words(one: Measure) -> str:
    """One material in cups, with the range of its bulk density.

    >>> cup_words(Measure("rock", 650.0, 2.12, 2.01, 2.36, planned=False))
    'rock 2.1 (2.0–2.4)'
    """
    digits = 0 if one.cups >= 10.0 else 1 if one.cups >= 1.0 else 2
    low, usual, high = (f"{x:.{digits}f}" for x in (one.cups_low, one.cups, one.cups_high))
    return f"{one.material} {usual} ({low}–{high})"


def _course(plan: Plan, say: Words) -> Iterator[tuple[str, str]]:
    curve, looks, batch = plan.batch.curve, plan.outlook, plan.batch
    to, start = say.c(COLD_C, 0), say.c(batch.start.mix_c, 0)
    heat = f"{plan.heat_kj:.0f} kJ from {start} to {to}"
    yield "Freezing", f"begins at {say.c(curve.initial_c)}; {heat}"
    shown = [c for c in CURVE_C if c < curve.initial_c]
    shares = "/".join(f"{curve.frozen_pct(c):.0f}" for c in shown)
    yield "", f"water frozen {shares} % at {say.row(shown)}"
    yield "Bath", f"ready {after(looks.ready_s, 'ice-in')}; {limit_words(plan, say)}"
    yield "Round 1", round_words(looks)
    yield "Recharge", recharge_words(looks, say)


def after(found: Span, what: str) -> str:
    """A range of times after something, and the middle of it.

    >>> after(Span(600.0, 840.0, 1320.0), "the pour")
    '10–22 min after the pour, likely 14'
    """
    if found.p50 is None or found.p10 is None or round(found.p10 / 60) == round(found.p50 / 60):
        return f"{short(found)} after {what}"
    return f"{short(found)} after {what}, likely {found.p50 / 60:.0f}"


def limit_words(plan: Plan, say: Words) -> str:
    """How long the bath does its job."""
    looks, limit = plan.outlook, f"its limit of {say.c(plan.batch.limit_c)}"
    coldest_c = salt(plan.batch.start.salt).eutectic_c
    if plan.batch.limit_c < coldest_c:
        return f"{limit} is colder than this salt can make it, {say.c(coldest_c)}"
    if looks.never_cold > 0.5:
        return f"it hardly gets below {limit}: more or finer salt, or crushed ice"
    found = looks.bath_limit_s
    if found.p10 is not None and found.p90 is None:
        return f"below {limit} for over {found.p10 / 60:.0f} min"
    return f"below {limit} for {short(found)}"


def round_words(looks: Outlook) -> str:
    """When the mix stops stiffening, and how stiff it is then."""
    if looks.plateau_s.p50 is None:
        return "in most rigs no end within 2 h: the mix hardly freezes, or freezes on and on"
    return f"stops stiffening {after(looks.plateau_s, 'the pour')}; {frozen(looks)} frozen"


def recharge_words(looks: Outlook, say: Words) -> str:
    """How likely a recharge is, and what to keep ready for it."""
    share, keep = looks.recharge_p, looks.keep_ready
    how = "unlikely" if share < UNLIKELY else "likely" if share > LIKELY else "possible"
    salt_too = f" and {say.g(keep.salt_g)} salt" if keep.salt_g else ""
    drain = f"; pour off {say.g(keep.drain_g)} of brine first" if keep.drain_g else ""
    return f"{how} ({percent(share)}); keep {say.g(keep.ice_g)} ice{salt_too} ready{drain}"


def percent(share: float) -> str:
    """A probability as a maker reads it.

    >>> percent(0.003), percent(0.26)
    ('under 1 %', '26 %')
    """
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"


def saves(helps: Sequence[Help], say: Words) -> Iterator[str]:
    """How much sooner the mix is as stiff with each change, those not worth it last."""
    worth = [one for one in helps if one.saves_s is not None and abs(one.saves_s) >= WORTH_S]
    unknown = [one for one in helps if one.saves_s is None]
    rest = [one for one in helps if one not in worth and one not in unknown]
    if worth:
        times = (f"{one.text} {(one.saves_s or 0.0) / 60:.1f}" for one in worth)
        yield f"minutes of round 1: {' · '.join(times)}".replace(" -", " −")
    if rest:
        yield f"nothing worth it: {' · '.join(one.text + _ice(one, say) for one in rest)}"
    if unknown:
        yield f"cannot be said: {' · '.join(one.text for one in unknown)}"


def _ice(one: Help, say: Words) -> str:
    g = one.saves_ice_g
    return f" (but {say.tens(g)} of ice)" if g >= LEAST_ICE_G else ""


def sourced(hint: Hint) -> str:
    """A hint, with the authority for it if it has one."""
    return hint.text if hint.basis == PRACTICE else f"{hint.text.rstrip('.')} ({hint.basis})."


def table(plan: Plan, say: Words) -> Iterator[str]:
    """Alternatives as a table."""
    yield f"in minutes from the pour; {plan.stiff_pct:.0f} % ice: half of all rigs"
    stiff = f"{plan.stiff_pct:.0f} % ice"
    rows: list[tuple[str, ...]] = [
        (heading(plan), "salt", "fits", "round 1", stiff, "bath", "recharge")
    ]
    rows += [
        (
            one_of(plan, one, say),
            say.g(one.batch.start.salt_g),
            "yes" if one.fit.ok else "no",
            cell(one.outlook.plateau_s),
            likely(one.outlook.as_stiff_s),
            cell(one.outlook.bath_limit_s),
            percent(one.outlook.recharge_p),
        )
        for one in plan.alternatives
    ]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip()


def cell(found: Span) -> str:
    """A range of times in minutes, for a table whose head says so.

    >>> cell(Span(600.0, 840.0, 1320.0)), cell(Span(5400.0, None, None))
    ('10–22', 'over 90')
    """
    if found.p10 is None:
        return "over 120"
    if found.p90 is None:
        return f"over {found.p10 / 60:.0f}"
    return f"{found.p10 / 60:.0f}–{found.p90 / 60:.0f}"


def likely(found: Span) -> str:
    """The middle of a range of times in minutes, for a table.

    >>> likely(Span(600.0, 840.0, None)), likely(Span(600.0, None, None))
    ('14', '–')
    """
    return "–" if found.p50 is None else f"{found.p50 / 60:.0f}"


def heading(plan: Plan) -> str:
    """What alternatives differ in."""
    return KEYS[plan.compared] if plan.compared else ""


def one_of(plan: Plan, one: Alternative, say: Words) -> str:
    """What sets an alternative apart, with its unit."""
    if plan.compared == "ratio":
        return f"{one.value:g} : 1"
    return say.g(one.value) if plan.compared in {"ice_g", "salt_g"} else say.c(one.value)


def frozen(looks: Outlook) -> str:
    """Share of the water that is ice when the mix stops stiffening."""
    low, high = looks.frozen_pct.p10, looks.frozen_pct.p90
    return "–" if low is None or high is None else f"{low:.0f}–{high:.0f} %"


def short(found: Span) -> str:
    """A range of times in minutes.

    >>> short(Span(600.0, 840.0, 1320.0)), short(Span(None, None, None))
    ('10–22 min', 'over 2 h')
    >>> short(Span(3600.0, None, None)), short(Span(200.0, 201.0, 202.0))
    ('60 min to over 2 h', '3 min')
    """
    if found.p10 is None:
        return "over 2 h"
    low = f"{found.p10 / 60:.0f}"
    if found.p90 is None:
        return f"{low} min to over 2 h"
    high = f"{found.p90 / 60:.0f}"
    return f"{low} min" if low == high else f"{low}–{high} min"
