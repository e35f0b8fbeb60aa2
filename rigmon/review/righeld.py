"""The rig of a run, measured: heat, wall, beaters, leak, probe."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from rigmon.physics.mix import freezing_curve
from rigmon.physics.wall import STICK_PCT, beaters_w
from rigmon.records import MarkWord, RunFit
from rigmon.review.follow import Sample, Track
from rigmon.review.leak import leak_w_k
from rigmon.review.logged import Logged
from rigmon.review.measures import Measures, Scraped, Span
from rigmon.review.spans import spread


@dataclass(slots=True)
class FirstRound:
    """The first round.

    Args:
        poured_s: run time of the pour [s]; None if there was none.
        stopped_s: run time at which it ended [s].
        samples: the run in it.
    """

    poured_s: float | None
    stopped_s: float | None
    samples: list[Sample] = field(default_factory=list)


def heat_kj(
    logged: Logged, first: FirstRound, track: Track, mix_g: float | None, mix_c: float | None
) -> Span | None:
    """Heat out of the mix in the first round [kJ]: the flow through the wall, added up.

    How surely, the accounts of the belief's members say: what each mix lost and its beaters
    brought.

    Args:
        logged: the run.
        first: its first round.
        track: the run followed to its end.
        mix_g: mass of the mix [g].
        mix_c: its temperature as poured [°C].
    """
    recipe, states = logged.recipe, track.first_round
    if recipe is None or recipe.composition is None or states is None or mix_c is None:
        return None
    seen = [(one.t, one.estimate.frozen_pct) for one in first.samples]
    known = [(t, share) for t, share in seen if share is not None]
    if mix_g is None or first.poured_s is None or len(known) < 2:
        return None
    members, last = states
    curve = freezing_curve(recipe.composition)
    t, share = np.array([(first.poured_s, 0.0), *known]).T
    heat, rise = (
        np.exp(members.parameters[:, members.names.index(name)])
        for name in ("beater_w", "beater_rise")
    )
    by_beaters_w = np.array([beaters_w(heat, rise, np.full(heat.size, one)) for one in share])
    by_beaters_j = np.diff(t) @ (0.5 * (by_beaters_w[1:] + by_beaters_w[:-1]))
    lost_j = mix_g * (curve.enthalpy_j_g(mix_c) - curve.enthalpy_j_g(members.mix_c))
    # What is frozen to the wall has given up more than what the beaters reach.
    stiff_j_g = curve.enthalpy_j_g(curve.temperature_c(STICK_PCT))
    layer_j_g = np.maximum(curve.enthalpy_j_g(members.mix_c) - stiff_j_g, 0.0)
    all_j = lost_j + by_beaters_j + (last.estimate.wall_g or 0.0) * layer_j_g
    through_j = _through_the_wall_j(first)
    if through_j is None:
        return None
    # The flow was weighed by all readings as they came, the accounts are of those that are left:
    # the flow says how much, the accounts how surely.
    shares = np.quantile(all_j, (0.1, 0.5, 0.9)) / np.median(all_j)
    return Span(*(float(share) * through_j / 1000.0 for share in shares))


def _through_the_wall_j(first: FirstRound) -> float | None:
    """Heat through the wall [J]; before it was first seen it is taken to have been the same."""
    seen = [
        (sample.t, sample.estimate.cooling_w)
        for sample in first.samples
        if sample.estimate.cooling_w is not None
    ]
    if first.poured_s is None or len(seen) < 2:
        return None
    t, wall_w = np.array([(first.poured_s, seen[0][1]), *seen], dtype=float).T
    return float(np.diff(t) @ (0.5 * (wall_w[1:] + wall_w[:-1])))


def with_the_rig(found: Measures, track: Track, unsaid: dict[str, str]) -> Measures:
    """Measures with what the run says of the rig, then and as round 1 ended."""
    fit = track.fit
    if fit is None or track.first_round is None:
        for name in ("ua_w_k", "stiffening", "wall_end_w_k", "beater_w", "beater_end_w"):
            unsaid[name] = "needs a recipe, the mass of the mix and a first round with a mix probe"
        return found
    states, last = track.first_round
    heat, rise = (
        np.exp(states.parameters[:, states.names.index(name)])
        for name in ("beater_w", "beater_rise")
    )
    quantiles = np.quantile(beaters_w(heat, rise, states.frozen_pct), (0.1, 0.5, 0.9))
    return replace(
        found,
        ua_w_k=_of_fit(fit, "ua_w_k"),
        stiffening=_of_fit(fit, "stiffening"),
        beater_w=_of_fit(fit, "beater_w"),
        beater_end_w=Span(*(float(value) for value in quantiles)),
        wall_end_w_k=_conducts(last),
        mix_offset_k=_offset(last),
        determined=tuple(name for name in fit.names if name not in fit.undetermined),
    )


def _of_fit(fit: RunFit, name: str) -> Span:
    i = fit.names.index(name)
    log = spread(fit.mean[i], math.sqrt(fit.covariance[i][i]))
    return Span(math.exp(log.p10), math.exp(log.p50), math.exp(log.p90))


def _offset(sample: Sample) -> Span | None:
    held = sample.estimate
    if held.mix_offset_k is None or held.mix_offset_k_sd is None:
        return None
    return spread(held.mix_offset_k, held.mix_offset_k_sd)


def _conducts(sample: Sample) -> Span | None:
    """What the wall conducts at a time [W/K]: heat through it over the pull across it."""
    held = sample.estimate
    if held.cooling_w is None or held.mix_c is None or held.bath_c is None:
        return None
    pull = held.mix_c - (held.mix_offset_k or 0.0) - held.bath_c
    if pull < 1.0:
        return None
    return spread(held.cooling_w / pull, (held.cooling_w_sd or 0.0) / pull, 0.0)


def scrapes(track: Track) -> Iterator[Scraped]:
    """The scrapes, each with what the wall conducted before it and a minute after it."""
    times = track.times()
    for heard in track.marks(MarkWord.SCRAPE):
        before = track.nearest(heard.t)
        later = int(np.searchsorted(times, heard.t + 60.0))
        after = track.samples[later] if later < len(track.samples) else None
        if before is None or after is None or after.stage is not before.stage:
            continue
        was, became = _conducts(before), _conducts(after)
        if was is not None and became is not None:
            yield Scraped(heard.mark.t, was, became)


def leak(track: Track, room_c: float | None, unsaid: dict[str, str]) -> Span:
    """What the outer bowl lets in [W/K]; where the run tells nothing of it `unsaid` says why."""
    found, told = leak_w_k(track.samples, track.ice_put_g, room_c)
    if not told:
        unsaid["leak_w_k"] = (
            "taken as usual; it needs ten minutes of a warming bath without a mix, its salt "
            "dissolved"
        )
    return found
