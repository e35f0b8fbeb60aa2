"""What readings could tell who has the exact model: `python tests/bench/exactmodel.py [--quick]`.

A few batches, each played by hundreds of drawn rigs: mix, amounts and room are the same, and only
rig and probes differ. Each rig in turn is forecast by all the others: their plateaus, weighed by
how likely the readings of its mix are if its mix did what theirs truly did. That is Bayes' rule
with the very model that makes the readings, and no estimator of a kitchen's rig can know more.
Beside it stands a regression taught by the same rigs, by the readings and by the true temperatures
that no probe shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context

import numpy as np

from batches import Played, played
from reachable import best_taught, losses_s
from rigmon.virtual.drawn import drawn_scenario
from scoring import LEVELS, Array, over_rigs, pinball_s, ratio
from showing import heading, is_quick, table

BATCHES = (20_007, 20_012, 20_020, 20_031)
"""Seeds of the batches; those of the rigs follow `FIRST_RIG`."""
FIRST_RIG = 50_000
RIGS = 300
MINUTES = (4, 8, 12, 16)
LOOKING_BACK = 25
_WINDOW_S = 30.0
_FROM_S = 45.0
_OFFSET_K, _WANDER_K, _WANDER_S, _NOISE_K = 0.75, 0.17, 40.0, 0.05
"""A drawn probe in the middle of its ranges (`rigmon.virtual.probe`): offset, wander and how long
it lasts, and what is left of the noise of a window."""
_LAG_S = 3.0
_BELIEVED = (1.0, 0.5, 0.25, 0.125)
"""Powers of the likelihood: in full it may leave too few of the rigs to forecast by. The best of
them is printed."""


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch as one rig played it.

    Args:
        plateau_s: true plateau [s from the pour].
        read_c: (n,) what the mix probe read in windows of half a minute [°C].
        mix_c: (n,) the mix's true temperature in their middles [°C].
    """

    plateau_s: float
    read_c: Array
    mix_c: Array


def middles_s() -> Array:
    """(n,) middles of all windows [s from the pour]."""
    return np.arange(_FROM_S, 60.0 * LOOKING_BACK, _WINDOW_S)


def batch_of(batch: Played) -> Batch | None:
    """What is kept of a batch; None where it has no plateau."""
    if batch.plateau_s is None or not batch.stiffens:
        return None
    t, c = batch.read("mix")
    within = [np.abs(t - batch.pour_s - middle) <= 0.5 * _WINDOW_S for middle in middles_s()]
    read_c = [float(np.median(c[one])) if one.any() else np.nan for one in within]
    seconds = (batch.pour_s + middles_s()).astype(int)
    return Batch(batch.plateau_s - batch.pour_s, np.array(read_c), batch.mix_c[seconds])


def noise(mix_c: Array) -> Array:
    """(n, n) covariance of what the windows are off [K²].

    Args:
        mix_c: (n,) the usual course of the mix [°C]; a fast one is read late.
    """
    t = middles_s()[: mix_c.size]
    wanders = _WANDER_K**2 * np.exp(-np.abs(t[:, None] - t) / _WANDER_S)
    late_k = _LAG_S * np.gradient(mix_c, t)
    return np.asarray(_OFFSET_K**2 + wanders + np.diag(_NOISE_K**2 + late_k**2))


def weighed(batches: Sequence[Batch], count: int, believed: float) -> Array:
    """(m, m) weights of the other rigs for each, by the first `count` windows; rows add up to 1."""
    read_c = np.array([one.read_c[:count] for one in batches])
    mix_c = np.array([one.mix_c[:count] for one in batches])
    read_c = np.where(np.isnan(read_c), np.nanmean(read_c, axis=0), read_c)
    inverse = np.linalg.inv(noise(mix_c.mean(axis=0)))
    off = read_c[:, None] - mix_c
    log_weight = -0.5 * believed * np.einsum("ijk,kl,ijl->ij", off, inverse, off)
    np.fill_diagonal(log_weight, -np.inf)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def told_s(plateau_s: Array, weights: Array) -> list[list[float]]:
    """Times at the levels of a forecast, for each row of weights [s]."""
    order = np.argsort(plateau_s)
    reached = np.cumsum(weights[:, order], axis=1)
    places = [np.searchsorted(row, LEVELS).clip(max=order.size - 1) for row in reached]
    return [plateau_s[order][place].tolist() for place in places]


def exact(batches: Sequence[Batch], count: int, believed: float) -> tuple[Array, Array]:
    """(m,) losses [s], and (m,) how far the logarithm is off, of the others weighed."""
    plateau_s = np.array([one.plateau_s for one in batches])
    weights = weighed(batches, count, believed)
    told = told_s(plateau_s, weights)
    loss_s = [pinball_s(times, true) for times, true in zip(told, plateau_s, strict=True)]
    return np.array(loss_s), np.log(plateau_s) - weights @ np.log(plateau_s)


def row(of: Sequence[Sequence[Batch]], minutes: int, *, looking_back: bool) -> tuple[str, ...]:
    """What is left to be foretold so long after the pour, over all batches."""
    count = int(np.sum(middles_s() < 60.0 * minutes))
    from_s = 0.0 if looking_back else 60.0 * minutes
    sds: list[tuple[float, float]] = []
    losses: list[tuple[Array, ...]] = []
    for whole in of:
        batches = [one for one in whole if one.plateau_s > from_s]
        log_s = np.log([one.plateau_s for one in batches])
        read_c = np.array([one.read_c[:count] for one in batches])
        mix_c = np.array([one.mix_c[:count] for one in batches])
        tries = [exact(batches, count, believed) for believed in _BELIEVED]
        mine, off = min(tries, key=lambda one: float(one[0].sum()))
        level = np.full(log_s.size, log_s.mean())
        taught = [best_taught(seen, log_s)[1] for seen in (read_c, mix_c)]
        told = [losses_s(one, log_s - one, log_s, from_s) for one in (level, *taught)]
        losses.append((mine, *told))
        sds.append((float(np.std(log_s)), float(np.std(off))))
    mine, peer, by_read, by_true = (np.concatenate(column) for column in zip(*losses, strict=True))
    before, after = np.mean(sds, axis=0)
    ratios = [over_rigs(ratio, one, peer).text() for one in (mine, by_read, by_true)]
    name = f"{minutes} min, looking back" if looking_back else f"{minutes} min"
    return name, str(peer.size), f"{before:.3f}", f"{after:.3f}", *ratios


def rigs_of(batch: int, count: int) -> list[int]:
    """Seeds of the rigs that play a batch."""
    return [FIRST_RIG + 1000 * BATCHES.index(batch) + n for n in range(count)]


def one(seed: int, batch: int) -> Batch | None:
    """A batch as the rig of this seed plays it."""
    return batch_of(played(drawn_scenario(batch), seed))


def main() -> None:
    """Print the table."""
    quick = is_quick(__doc__)
    heading(FIRST_RIG)
    found = []
    with get_context("spawn").Pool() as pool:
        for batch in BATCHES[:1] if quick else BATCHES:
            seeds = rigs_of(batch, 40 if quick else RIGS)
            whole = pool.map(partial(one, batch=batch), seeds, chunksize=4)
            found.append([played for played in whole if played is not None])
    head = (
        "plateau",
        "rigs",
        "sd of ln",
        "sd left",
        '/ "not yet": exact model',
        "taught",
        "taught by true temperatures",
    )
    rows = [row(found, minutes, looking_back=False) for minutes in MINUTES]
    table(head, [*rows, row(found, LOOKING_BACK, looking_back=True)])
    print(f"""
{len(found)} batches. "Not yet": the plateaus of all other rigs with the same batch that are not
over by then. Exact model: the same, weighed by the likelihood of the mix probe's readings. Taught:
a regression by the mix probe's readings, with their true plateaus.
""")


if __name__ == "__main__":
    main()
