"""One rig on many days, and what its earlier runs are worth to the next one's forecasts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from numpy.random import default_rng

from batches import feed_of, heard, played
from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import prior_after
from rigmon.records import Place
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.parameters import draw_parameters
from rigmon.virtual.probe import draw_probe
from rigmon.virtual.scenario import Scenario
from skill import Rig, rig_of

FIRST_RUN = "first run"


def after(runs: int) -> str:
    """What a forecast with so many earlier runs is called."""
    return f"after {runs} run{'s' if runs > 1 else ''}"


def day_of(seed: int, day: int, *, alike: bool) -> Scenario:
    """A day of a drawn rig: its bowls, mixer and probes stay, as `varied` has them.

    Args:
        seed: of the rig.
        day: which.
        alike: recipe, amounts and kinds of ice and salt are those of day 0; otherwise each day
            has its own, and its own room.
    """
    rng = default_rng((34, seed))
    usual = drawn_scenario(1000 * seed)
    channels = tuple(
        replace(
            channel,
            parameters=draw_probe(rng, channel.kind, may_touch=channel.place is Place.MIX),
        )
        for channel in usual.channels
    )
    batch = usual if alike else drawn_scenario(1000 * seed + day)
    return replace(batch, channels=channels, parameters=draw_parameters(rng))


def remembered(seed: int, runs: Sequence[int], *, alike: bool) -> Rig:
    """Day 0 forecast with nothing known of the rig, and with so many earlier runs of it known."""
    batch = played(day_of(seed, 0, alike=alike), 1000 * seed)
    if batch.plateau_s is None or not batch.stiffens:
        return rig_of(batch, {})
    feed = feed_of(batch)
    said = {FIRST_RUN: heard(batch, feed)}
    prior, fits = PRIOR, []
    for day in range(1, max(runs) + 1):
        other = played(day_of(seed, day, alike=alike), 1000 * seed + day)
        fit = heard(other, replace(feed_of(other), prior=prior)).fit
        fits += [fit] if fit is not None else []
        prior = prior_after(fits, PRIOR)
        if day in runs:
            said[after(day)] = heard(batch, replace(feed, prior=prior))
    return rig_of(batch, said)
