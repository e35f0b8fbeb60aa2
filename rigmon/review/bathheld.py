"""The bath of a run, measured: what went in, how cold it was, what was left."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rigmon.estimate.amounts import Amounts, amounts_of
from rigmon.records import By, Estimate, IceKind, Mark, MarkWord, SaltKind
from rigmon.review.follow import Sample, Track
from rigmon.review.logged import Logged
from rigmon.review.measures import Bath, Span
from rigmon.review.spans import P90


@dataclass(frozen=True, slots=True)
class _Put:
    """Ice or salt put in over several times [g]; None once some of it was not weighed."""

    ice_g: float | None = 0.0
    salt_g: float | None = 0.0
    water_g: float = 0.0
    drained_g: float = 0.0

    def and_then(self, more: Amounts) -> _Put:
        """With what a mark says went in as well."""
        return _Put(
            _sum(self.ice_g, more.ice_g),
            _sum(self.salt_g, more.salt_g),
            self.water_g + more.water_g,
            self.drained_g + more.drained_g,
        )


def bath_held(logged: Logged, track: Track, poured_s: float | None, unsaid: dict[str, str]) -> Bath:
    """The bath of a run.

    Args:
        logged: the run.
        track: the run followed to its end.
        poured_s: run time of the pour [s]; None if there was none.
        unsaid: takes what cannot be said, and why.
    """
    made_up = [heard for heard in track.marks(MarkWord.ICE_IN) if heard.mark.by is not By.DETECTED]
    recharges = list(track.marks(MarkWord.RECHARGE))
    until_s = math.inf if poured_s is None else poured_s
    early = [heard.mark for heard in recharges if heard.mark.t < until_s]
    late = [heard.mark for heard in recharges if heard.mark.t >= until_s]
    # A bath that nobody spoke of by the pour is the usual one.
    first = [heard.mark for heard in made_up] or [Mark(0.0, MarkWord.ICE_IN)]
    before, after = _Put(), _Put()
    for mark in [*first[-1:], *early]:
        before = before.and_then(amounts_of(mark, logged.setup))
    for mark in late:
        after = after.and_then(amounts_of(mark, logged.setup))
    said = amounts_of(first[-1], logged.setup)
    seen = [heard.mark.t for heard in track.marks(MarkWord.ICE_IN)]
    wait_s = poured_s - seen[-1] if seen and poured_s is not None else None
    ice_g, salt_g = before.ice_g or None, before.salt_g or None
    if ice_g is None or salt_g is None:
        unsaid["bath.ratio"] = "ice or salt were not weighed"
    work = [one for one in track.samples if one.in_bath and one.estimate.bath_c is not None]
    best = min(work, key=lambda one: one.estimate.bath_c or 0.0, default=None)
    left, salt_left, spent = _budget(work, track.ice_put_g, unsaid)
    at_pour = _at(work, poured_s)
    return Bath(
        ice_g=ice_g,
        salt_g=salt_g,
        water_g=before.water_g,
        ice_kind=said.ice_kind or logged.setup.bath.ice_kind or IceKind.CRUSHED,
        salt_kind=SaltKind(str(first[-1].detail.get("salt_kind", logged.setup.bath.salt_kind))),
        ice_c=said.ice_c,
        wet_pct=None if said.wet_share is None else 100.0 * said.wet_share,
        ratio=ice_g / salt_g if ice_g is not None and salt_g is not None else None,
        wait_s=wait_s,
        at_pour_c=at_pour,
        best_c=None if best is None else best.estimate.bath_c,
        best_s=None if best is None else best.t,
        end_c=work[-1].estimate.bath_c if work else None,
        added_ice_g=after.ice_g,
        added_salt_g=after.salt_g,
        drained_g=before.drained_g + after.drained_g,
        recharges=tuple(mark.t for mark in [*early, *late]),
        ice_spent_g=spent,
        ice_left_g=left,
        salt_left_g=salt_left,
    )


def _sum(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a + b


def _at(work: list[Sample], poured_s: float | None) -> float | None:
    """Bath at the pour [°C]."""
    if poured_s is None:
        return None
    before = [one for one in work if one.t <= poured_s]
    return before[-1].estimate.bath_c if before else None


def _budget(
    work: list[Sample], put_g: float | None, unsaid: dict[str, str]
) -> tuple[Span | None, Span | None, Span | None]:
    """Ice left, salt left undissolved and ice spent when the bath was last at work [g]."""
    last = next((one for one in reversed(work) if one.estimate.ice_left_g is not None), None)
    if last is None or put_g is None:
        why = "needs all ice weighed: give ice_g with ice-in and recharge" if work else ""
        unsaid["bath.ice_left_g"] = why or "needs a bath probe"
        return None, None, None
    held = last.estimate
    left_g, sd_g = held.ice_left_g or 0.0, held.ice_left_g_sd or 0.0
    left = _span(left_g, sd_g, put_g)
    spent = Span(put_g - left.p90, put_g - left.p50, put_g - left.p10)
    return left, undissolved_g(held), spent


def undissolved_g(held: Estimate) -> Span | None:
    """Salt that lies undissolved [g]: all that was put in, less what the brine holds."""
    if held.salt_g is None or held.brine_pct is None or held.brine_water_g is None:
        return None
    pct, water_g = held.brine_pct, held.brine_water_g
    per_water = pct / (100.0 - pct)
    off_pct = (held.brine_pct_sd or 0.0) * 100.0 / (100.0 - pct) ** 2
    sd_g = math.hypot(water_g * off_pct, per_water * (held.ice_left_g_sd or 0.0))
    return _span(held.salt_g - per_water * water_g, sd_g, held.salt_g)


def _span(mean_g: float, sd_g: float, most_g: float) -> Span:
    p10, p50, p90 = (min(max(mean_g + z * sd_g, 0.0), most_g) for z in (-P90, 0.0, P90))
    return Span(p10, p50, p90)
