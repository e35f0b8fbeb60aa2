"""A comparison as a maker reads it: the adjustment line by line, then what is better."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from rigmon.review.comparing import Compared, Comparison, Line, verdict
from rigmon.review.suggestwords import LABEL, WIDTH, amounts
from rigmon.review.told import Told

Lines = Iterator[tuple[str, str]]


def lines(said: Comparison, told: Told) -> Lines:
    """A comparison in lines of up to 80 columns, each as its label (or nothing) and its text."""
    for number, block in enumerate(([*_runs(said, told)], [*_steps(said)], [*_found(said)])):
        if number and block:
            yield "", ""
        for label, text in block:
            fits = len(text) <= WIDTH - LABEL
            for more, line in enumerate([text] if fits else textwrap.wrap(text, WIDTH - LABEL)):
                yield "" if more else label, line


def _runs(said: Comparison, told: Told) -> Lines:
    yield "A", f"{said.a}: {amounts(said.a_design, told)}"
    yield "B", f"{said.b}: {amounts(said.b_design, told)}"
    if said.a_design == said.b_design:
        yield "", "The same ice and salt: what they differ by is the day, or what was not told."


def _steps(said: Comparison) -> Lines:
    later, earlier = ("B", "A") if said.earlier == said.a else ("A", "B")
    if not said.lines:
        yield "Adjusted", f"nothing: mix, room and ice of {later} were as in {earlier}"
    for number, line in enumerate(said.lines):
        if not number:
            yield "Adjusted", f"{later}, to mix, room and ice as they were in {earlier}:"
        yield "", _step(line)
    if len(said.lines) > 1:
        whole = sum(line.minutes for line in said.lines)
        yield "", f"together {_signed(whole)} min"
    for what in said.not_adjusted:
        yield "", f"not adjusted: {what}"


def _step(line: Line) -> str:
    moves = f"{_signed(line.minutes)} min, bath {_signed(line.bath_k)} K"
    return f"  {line.what} {line.was} → {line.becomes}: {moves}, {_signed(line.ice_g, 0)} g melted"


def _signed(value: float, digits: int = 1) -> str:
    """A change with its sign.

    >>> _signed(-0.04), _signed(1.26), _signed(-12.4, 0)
    ('±0.0', '+1.3', '−12')
    """
    text = f"{value:+.{digits}f}"
    return f"±{text[1:]}" if float(text) == 0.0 else text.replace("-", "−")


def _found(said: Comparison) -> Lines:
    yield "Measured", f"{'':<42}{'A':>8}{'B':>8}"
    for one in said.measures:
        digits = 0 if one.unit == "g" else 1
        figures = f"{one.a:>8.{digits}f}{one.b:>8.{digits}f} {one.unit}"
        yield "", f"{one.text:<42}{figures}".replace("-", "−")
        for text in _judged(one):
            yield "", f"    {text}"
    low, middle, high = said.scatter_pct
    yield (
        "Scatter",
        (
            f"{middle:.0f} % from run to run ({low:.0f} to {high:.0f} %), from {said.runs} "
            "other runs and the 10 to 20 % of most kitchens"
        ),
    )
    yield "", "With several measures, one may look better by chance alone."
    if any(score is not None for score in said.texture):
        a, b = ("–" if score is None else str(score) for score in said.texture)
        yield "Texture", f"A {a}, B {b} of 5: one taste of each says little"


def _judged(one: Compared) -> Iterator[str]:
    if one.better is None:
        less = one.a - one.b
        took = f"{'B' if less > 0.0 else 'A'} took {abs(less):.0f} g less"
        yield f"{one.goal}: weighed; {took if less else 'the same'}"
        return
    yield f"{one.goal}: {verdict(one.better, one.model)}"
    words = f"{_percent(one.better)} that B was really better"
    if one.by_margin is not None:
        words += f", {_percent(one.by_margin)} by a minute"
    yield words
    if one.model is not None:
        yield f"by the model of this rig, with all its runs: {_percent(one.model)}"


def _percent(p: float) -> str:
    """A probability as far as it is known.

    >>> _percent(0.723), _percent(0.999), _percent(0.004)
    ('72 %', 'over 99 %', 'under 1 %')
    """
    if p > 0.99:
        return "over 99 %"
    return "under 1 %" if p < 0.01 else f"{100.0 * p:.0f} %"
