"""What was tried in a run and what came of it, as far as runs can be held against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rigmon.physics.course import Start
from rigmon.records import Composition, Recipe
from rigmon.review.measures import Measures, Point
from rigmon.review.starts import started

LEAST_PCT = 2.0
"""A run that froze less of its water says too little: a probe may be off by as much [%]."""
SHORT_OF_END = 0.85
"""Runs are timed to no more than this share of what they froze in the end: near it the mix hardly
stiffens any more, and a point of frozen share more or less is many minutes."""
_USABLE = 0.8
"""Share of the states from the pour on in which the mix probe must have been sound."""


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One run: what went in, and how long its mix took to a frozen share.

    Args:
        run: id of the run.
        started_unix: wall clock at run time 0 [s].
        recipe: name of the mix.
        composition: what the mix is made of.
        start: what the batch started from.
        frozen_pct: the share that it is timed to [% of the water].
        took_s: from the pour until then [s].
        freezing_s: from the first percent frozen until then [s].
        bath_c: mean of the bath from the pour until `frozen_pct` [°C]; None without a bath probe.
        bath_then_c: bath at that time [°C].
        ice_melted_g: ice that had melted by then [g].
        scrapes: how often the wall was scraped by then.
        texture: score of its texture, 1 to 5; None if nobody gave one.
    """

    run: str
    started_unix: float
    recipe: str
    composition: Composition
    start: Start
    frozen_pct: float
    took_s: float
    freezing_s: float
    bath_c: float | None = None
    bath_then_c: float | None = None
    ice_melted_g: float | None = None
    scrapes: int = 0
    texture: int | None = None

    @property
    def ratio(self) -> float:
        """Ice to salt by mass."""
        return self.start.ice_g / self.start.salt_g


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A run that cannot be held against others.

    Args:
        run: id of the run.
        why: what is missing, in a few words.
    """

    run: str
    why: str


def tried(run: Measures, recipe: Recipe | None, target_pct: float) -> Tried | LeftOut:
    """A run as it can be held against others of its rig, or why it cannot.

    Left out, by rules that look at no outcome: runs whose ice, salt, mix or recipe nobody told;
    whose bath was recharged before enough was frozen; whose mix probe was not sound; and those that
    froze too little to be timed.

    Args:
        run: its measures.
        recipe: its mix, composition resolved; None if there was none.
        target_pct: the share that is wanted [% of the water]; a run that froze less is timed to
            less.
    """
    start, poured_s = started(run), run.poured_s
    if recipe is None or recipe.composition is None:
        return LeftOut(run.run, "no recipe")
    if start is None or poured_s is None:
        return LeftOut(run.run, "ice, salt, mix or the pour not told")
    recharged_s = min(run.bath.recharges, default=math.inf)
    seen = [one for one in run.course if 0.0 <= one.after_s < recharged_s - poured_s]
    if not seen or sum(one.sound for one in seen) < _USABLE * len(seen):
        return LeftOut(run.run, "the mix probe was not sound")
    reached = _frozen_after(seen)
    sure = math.floor(SHORT_OF_END * len(reached))
    if sure < LEAST_PCT:
        why = f"no more than {len(reached)} % of the water frozen"
        return LeftOut(run.run, why + " before a recharge" * bool(run.bath.recharges))
    share = min(int(target_pct), sure)
    took_s = reached[share - 1]
    until = [one for one in seen if one.after_s <= took_s]
    baths = [one.bath_c for one in until if one.bath_c is not None]
    left = [one.ice_left_g for one in until if one.ice_left_g is not None]
    dry_g = start.ice_g * (1.0 - start.wet_pct / 100.0)
    return Tried(
        run=run.run,
        started_unix=run.started_unix,
        recipe=run.recipe,
        composition=recipe.composition,
        start=start,
        frozen_pct=float(share),
        took_s=took_s,
        freezing_s=took_s - reached[0],
        bath_c=sum(baths) / len(baths) if baths else None,
        bath_then_c=baths[-1] if baths else None,
        ice_melted_g=dry_g - left[-1] if left else None,
        scrapes=sum(1 for one in run.scrapes if one.at_s <= poured_s + took_s),
        texture=run.tasted.texture if run.tasted is not None else None,
    )


def _frozen_after(seen: Sequence[Point]) -> list[float]:
    """When 1, 2, 3 ... % of the water were first frozen, from the pour [s]."""
    reached: list[float] = []
    before = 0.0, 0.0
    for one in seen:
        if one.frozen_pct is None:
            continue
        while one.frozen_pct >= len(reached) + 1.0:
            t, share = before
            part = (len(reached) + 1.0 - share) / max(one.frozen_pct - share, 1e-9)
            reached.append(t + min(max(part, 0.0), 1.0) * (one.after_s - t))
        before = one.after_s, one.frozen_pct
    return reached
