"""A suggestion as a maker reads it: what to put in next, what that is worth, and how sure it is."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from rigmon.review.designs import Design
from rigmon.review.judging import Goal, Judged
from rigmon.review.levers import Lever
from rigmon.review.suggesting import Against, Suggestion, Verdict
from rigmon.review.telling import Telling
from rigmon.review.told import Told
from rigmon.review.tried import LeftOut

WIDTH, LABEL = 80, 10
_WANTS: Mapping[Goal, str] = {
    Goal.FASTEST: "soonest to {share} of the water frozen",
    Goal.LEAST_SALT: "least salt that still freezes {share} of the water",
    Goal.LEAST_ICE: "least ice that still freezes {share} of the water",
    Goal.SMOOTHEST: "fewest minutes from the first ice to {share} of the water frozen",
    Goal.NO_RECHARGE: "no recharge before {share} of the water is frozen, with little ice",
}
_NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")
_MOST_LEFT_OUT, _MOST_LEVERS = 3, 5
Lines = Iterator[tuple[str, str]]


def lines(said: Suggestion, told: Told) -> Lines:
    """A suggestion in lines of up to 80 columns, each as its label (or nothing) and its text.

    Args:
        said: what is suggested.
        told: the maker's units.
    """
    for number, block in enumerate(one for one in _blocks(said, told) if one):
        if number:
            yield "", ""
        for label, text in block:
            fits = len(text) <= WIDTH - LABEL
            for more, line in enumerate([text] if fits else textwrap.wrap(text, WIDTH - LABEL)):
                yield "" if more else label, line


def _blocks(said: Suggestion, told: Told) -> list[list[tuple[str, str]]]:
    return [
        [("Goal", goal(said)), ("Batch", batch(said, told)), *_best(said, told)],
        [*_next(said, told)],
        [*_levers(said, told)],
        [*_grounds(said, told)],
    ]


def goal(said: Suggestion) -> str:
    """What is aimed at, and by when."""
    wish = said.wish
    text = _WANTS[wish.goal].format(share=f"{said.target_pct:.0f} %")
    if wish.goal in (Goal.FASTEST, Goal.SMOOTHEST):
        return text
    if wish.within_s is None:
        return text + ", no more than a tenth later than usual"
    return text + f" within {wish.within_s / 60.0:.0f} min of the pour in 8 of 10 runs"


def batch(said: Suggestion, told: Told) -> str:
    """What the next batch is taken to be like."""
    start = said.usual
    name = f" of {said.recipe}" if said.recipe else ""
    return (
        f"{told.g(start.mix_g)}{name} at {told.c(start.mix_c, 0)}, "
        f"room {told.c(start.room_c, 0)}, ice {told.c(start.ice_c, 0)}"
    )


def amounts(design: Design, told: Told) -> str:
    """Ice and salt in words."""
    return (
        f"{told.g(design.ice_g)} {design.ice_kind} ice, {told.g(design.salt_g)} "
        f"{design.salt_kind} salt ({design.ratio:.1f} : 1)"
    )


def times(one: Judged) -> str:
    """When the share is reached in the next run."""
    low, middle, high = (f"{s / 60.0:.0f}" for s in one.next_s)
    if one.reaches < 0.5:
        return "likely not reached within an hour"
    return f"{middle} min from the pour, {low} to {high} in 8 of 10 runs"


def chance(p: float) -> str:
    """A probability in tenths, which is as fine as it is known.

    >>> chance(0.72), chance(0.97), chance(0.03)
    ('7 in 10', 'more than 9 in 10', 'less than 1 in 10')
    """
    if p < 0.05:
        return "less than 1 in 10"
    if p > 0.95:
        return "more than 9 in 10"
    return f"{10.0 * p:.0f} in 10"


def _best(said: Suggestion, told: Told) -> Lines:
    runs = len(said.best_runs)
    often = "once" if runs == 1 else f"{runs} times"
    yield "Best yet", f"{amounts(said.best.design, told)}, made {often}"
    yield "", times(said.best) + _bath(said.best)
    if said.best.does.mean() < 0.5 and said.wish.goal not in (Goal.FASTEST, Goal.SMOOTHEST):
        yield "", "Likely that does not do: too late, or the bath gives out."


def _bath(one: Judged) -> str:
    if one.lasts >= 0.95:
        return ""
    return f"; {chance(1.0 - one.lasts)} that the bath needs a recharge before"


def margin(said: Suggestion, told: Told) -> str:
    """What is worth a change, in words."""
    match said.wish.goal:
        case Goal.FASTEST | Goal.SMOOTHEST:
            return "a minute"
        case Goal.LEAST_SALT:
            return f"{told.tens(said.margin)} of salt"
        case Goal.LEAST_ICE:
            return f"{told.tens(said.margin)} of ice"
        case Goal.NO_RECHARGE:
            return f"{told.tens(said.margin)} of ice and salt"


def _next(said: Suggestion, told: Told) -> Lines:
    one = said.likeliest
    if said.verdict is Verdict.TRY and one is not None:
        yield "Next", amounts(one.design, told)
        yield "", times(one) + _bath(one)
        better = "does better than the best yet" if not said.best.does.mean() > 0.5 else (
            f"saves {margin(said, told)} or more against the best yet"
        )  # fmt: skip
        yield "Odds", f"{chance(said.beats)} that it {better}, on the same day"
        yield "Price", price(one.design, said.best.design, told)
    elif said.verdict is Verdict.STAY:
        yield "Next", "stay with the best yet"
        yield (
            "",
            (
                f"Not enough evidence that other amounts in reach would save {margin(said, told)}: "
                f"{chance(said.beats)} at best."
            ),
        )
    else:
        yield "Next", "not enough evidence to suggest other amounts"
        if one is not None:
            yield (
                "",
                (
                    f"{amounts(one.design, told)}: {chance(said.beats)} that it saves "
                    f"{margin(said, told)} or more; {price(one.design, said.best.design, told)}."
                ),
            )
        yield "", telling(said.telling, told)
    if said.extrapolates:
        yield (
            "",
            (f"No run froze as much as {said.target_pct:.0f} %: its times are the model's alone."),
        )
    yield "Ratio", _ratio(said)


def _ratio(said: Suggestion) -> str:
    low, middle, high = said.ratio_saves_min
    if middle < 0.1:
        return "the best yet has the best ratio in reach, as far as can be told"
    return (
        f"by itself, another one in reach saves {middle:.1f} min at most "
        f"({max(low, 0.0):.1f} to {max(high, 0.0):.1f})"
    )


def telling(one: Telling | None, told: Told) -> str:
    """Which further runs would settle it.

    >>> telling(Telling(3, (3.5, 5.0), 3000.0, 0.9), Told())
    'Three more runs at two ratios would tell: 3.5 and 5 : 1, in turns, with 3000 g of ice.'
    """
    if one is None:
        return "Not even ten more runs would tell: too little is to be gained beside the scatter."
    low, high = (f"{ratio:.1f}".removesuffix(".0") for ratio in one.ratios)
    return (
        f"{_NUMBERS[one.runs]} more runs at two ratios would tell: {low} and {high} : 1, in turns, "
        f"with {told.g(one.ice_g)} of ice."
    )


def price(one: Design, best: Design, told: Told) -> str:
    """What other amounts cost in salt and ice.

    >>> price(Design(3000.0, 900.0), Design(3400.0, 850.0), Told())
    '50 g more salt, 400 g less ice'
    """
    parts = []
    for what, g in (("salt", one.salt_g - best.salt_g), ("ice", one.ice_g - best.ice_g)):
        words = f"{told.g(abs(g))} {'more' if g > 0.0 else 'less'} {what}"
        parts.append(words if abs(g) >= 5.0 else f"as much {what}")
    kinds = (one.ice_kind, one.salt_kind) != (best.ice_kind, best.salt_kind)
    return ", ".join([*parts, *(["another grain"] if kinds else [])])


def _levers(said: Suggestion, told: Told) -> Lines:
    for number, one in enumerate(said.levers[:_MOST_LEVERS]):
        yield "" if number else "Levers", lever(one, told)
    codes = [one.code for one in said.levers]
    better = codes.index("ratio") if "ratio" in codes else len(codes)
    if better:
        first = "first is a better lever" if better == 1 else f"first {better} are better levers"
        yield "", f"By minutes saved for the work: the {first} than the ratio."


def lever(one: Lever, told: Told) -> str:
    """A lever with what it saves and what it costs."""
    low, middle, high = one.saves_min
    work = f"{one.work_min:.0f} min of work" if one.work_min >= 1.0 else "no work"
    text = f"{one.text}: saves {middle:.1f} min ({max(low, 0.0):.1f} to {high:.1f}), {work}"
    costs = [
        f"{told.tens(g)} more {what}"
        for what, g in (("salt", one.salt_g), ("ice", one.ice_g))
        if g >= 5.0
    ]
    return ", ".join([text, *costs])


def _grounds(said: Suggestion, told: Told) -> Lines:
    count = len(said.against)
    low, middle, high = said.scatter_pct
    yield (
        "Grounds",
        (
            f"{count} run{'s' if count > 1 else ''}; times scatter by {middle:.0f} % from run to "
            f"run ({low:.0f} to {high:.0f} %), as the probes see them"
        ),
    )
    yield "", _check(said.against)
    for line in table(said.against, told):
        yield "", line
    yield from left_out(said.left_out)


def _check(runs: Sequence[Against]) -> str:
    """How well the model of this rig tells its own runs."""
    inside = sum(one.model_s[0] <= one.took_s <= one.model_s[2] for one in runs)
    off = np.array([one.took_s / one.model_s[1] - 1.0 for one in runs])
    return (
        f"The model of this rig has {inside} of the {len(runs)} in its range of 8 in 10; "
        f"a run is off it by {100.0 * np.median(np.abs(off)):.0f} % in the middle."
    )


def table(runs: Sequence[Against], told: Told) -> Iterable[str]:
    """The runs as they were, and as they would have been with the next batch's mix and room."""
    yield f"{'run':<28}{'ice':>7}{'salt':>7}{'ratio':>6}{'to':>6}{'took':>8}{'alike':>8}"
    for one in runs:
        of, times = one.design, (one.took_s, one.adjusted_s)
        took, alike = (f"{s / 60.0:.0f} min" for s in times)
        yield (
            f"{one.run[-27:]:<28}{told.g(of.ice_g):>7}{told.g(of.salt_g):>7}{of.ratio:>6.1f}"
            f"{one.frozen_pct:>4.0f} %{took:>8}{alike:>8}"
        )
    yield "alike: brought to the mix, room and share of the next batch"


def left_out(runs: Sequence[LeftOut]) -> Lines:
    """Runs that were not heard, and why."""
    for number, one in enumerate(runs[:_MOST_LEFT_OUT]):
        yield "" if number else "Left out", f"{one.run}: {one.why}"
    if len(runs) > _MOST_LEFT_OUT:
        yield "", f"and {len(runs) - _MOST_LEFT_OUT} more"
