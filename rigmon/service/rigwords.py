"""What has been learned of a rig, in words and figures."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence

from rigmon.estimate.memory import Learned, RigMemory
from rigmon.service.memory import Changed

_SAYS = {
    "ua_w_k": ("W/K", "The wall conducts {}"),
    "stiffening": ("", "Stiff mix holds the heat back {}"),
    "beater_w": ("W", "Beaters and air warm liquid mix {}"),
    "beater_rise": ("", "As the mix stiffens that heat rises {}"),
    "plateau_factor": ("", "The time until the mix stops stiffening is {}"),
}
_TAUGHT_BY = "none with a first round of a weighed mix whose recipe is known"


def lines(name: str, memory: RigMemory, seen: int, changed: Sequence[Changed]) -> Iterator[str]:
    """What `rigmon rig show` says of one rig.

    Args:
        name: the rig as people call it.
        memory: what has been learned.
        seen: its runs in the log.
        changed: what was changed on it, oldest first.
    """
    if memory.runs:
        yield f"{name}: learned from {_count(memory.runs)} of {seen}"
    else:
        yield f"{name}: nothing yet: {_count(seen)} seen, {_TAUGHT_BY}"
    if memory.passed_over:
        yield f"  {_count(memory.passed_over)} of another version of the model left out"
    if memory.runs:
        for one in memory.parameters:
            yield from _parameter(one)
    yield from changes(changed)


def changes(changed: Sequence[Changed]) -> Iterator[str]:
    """What was changed on a rig, oldest first."""
    for change in changed:
        day = datetime.datetime.fromtimestamp(change.at_unix, datetime.UTC).astimezone()
        yield f"  {day:%Y-%m-%d}: the {change.part.value} was changed"


def _parameter(one: Learned) -> Iterator[str]:
    unit, sentence = _SAYS.get(one.name, ("", f"{one.name}: {{}}"))
    if not one.taught:
        yield f"  {sentence.format('as usual')}? No run has said."
        return
    yield f"  {sentence.format(_more(one))}."
    yield (
        f"    unknown rig {_range(one.usual, unit)}, this one {_range(one.own, unit)}, "
        f"next run {_range(one.next, unit)}; run to run ±{one.days_pct:.0f} %"
    )


def _more(one: Learned) -> str:
    give = f"±{one.give_pct:.0f} %"
    if abs(one.more_pct) < one.give_pct:
        return f"as usual, as far as can be told ({give})"
    return (
        f"{abs(one.more_pct):.0f} % {'more' if one.more_pct > 0.0 else 'less'} than usual, {give}"
    )


def _range(span: tuple[float, float, float], unit: str) -> str:
    low, middle, high = (f"{value:#.3g}".rstrip(".") for value in span)
    return f"{middle} ({low}–{high}) {unit}".rstrip()


def _count(n: int) -> str:
    return "1 run" if n == 1 else f"{n} runs"
