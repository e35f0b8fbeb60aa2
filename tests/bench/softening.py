"""How well the onset of melting can be told at all: `python tests/bench/softening.py [--quick]`.

A logistic regression is taught by the second rounds of drawn rigs, with their true onsets, from
what their probes read; it is asked of those it was not taught by. Early and late are traded for
each other: each row is a probability at which it would sound. What the monitor does with the same
readings, with no such teacher, is in `forecast_skill.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np
from scipy.optimize import minimize

from later import Second, second_round
from scoring import Array, mean, median, over_rigs
from showing import heading, is_quick, table

FIRST_SEED = 21_000
BATCHES = 140
SOUNDS_AT = (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95)
KNOWN: Mapping[str, int] = {"bath and mix probe, mixer's power": 10, "bath and mix probe": 7}
"""What is known: so many of the signs, the first ones."""
_EVERY_S = 5.0
_FROM_S = 45.0
_WINDOW_S = 30.0
_LONG = 5
_HELD = 3
_FOLDS = 8
_RIDGE = 0.05


@dataclass(frozen=True, slots=True)
class Round:
    """A second round as the regression sees it.

    Args:
        t_s: (n,) run times [s].
        signs: (n, k) what is seen by then.
        second: the round.
    """

    t_s: Array
    signs: Array
    second: Second


def seen(seed: int) -> Round | None:
    """A drawn rig's second round; None where it has none."""
    second = second_round(seed)
    if second is None:
        return None
    t_s = np.arange(second.begin_s + _FROM_S, second.end_s, _EVERY_S)
    bath, mix, mixer = (_means(second, probe, t_s) for probe in ("bath", "mix", "mixer"))
    long_mix, long_mixer = (_long(values) for values in (mix, mixer))
    signs = np.stack(
        [
            np.ones(t_s.size),
            np.log(t_s - second.begin_s) - 6.0,
            mix - np.minimum.accumulate(mix),
            long_mix - np.minimum.accumulate(long_mix),
            _slope(mix),
            (mix - bath) / 10.0,
            mix,
            100.0 * (1.0 - mixer / np.maximum.accumulate(mixer)),
            100.0 * (1.0 - long_mixer / np.maximum.accumulate(long_mixer)),
            100.0 * _slope(mixer) / mixer,
        ],
        axis=1,
    )
    return Round(t_s, signs, second)


def _means(second: Second, probe: str, t_s: Array) -> Array:
    """(n,) medians of a probe's last half minute, the one before where there is none."""
    t, value = second.batch.read(probe)
    ends = np.searchsorted(t, np.stack([t_s - _WINDOW_S, t_s]))
    return np.array([np.median(value[min(a, b - 1) : b]) for a, b in ends.T])


def _long(values: Array) -> Array:
    """(n,) means of the last two and a half minutes of half-minute means."""
    stride = round(_WINDOW_S / _EVERY_S)
    places = np.arange(values.size)[:, None] - stride * np.arange(_LONG)
    return np.asarray(values[np.maximum(places, 0)].mean(axis=1))


def _slope(values: Array) -> Array:
    """(n,) how far the last two and a half minutes rose, on a straight line."""
    stride = round(_WINDOW_S / _EVERY_S)
    back = np.arange(_LONG)
    places = np.maximum(np.arange(values.size)[:, None] - stride * back, 0)
    line = (back.mean() - back) / np.sum((back - back.mean()) ** 2)
    return np.asarray(values[places] @ line * (_LONG - 1))


def taught(rounds: Sequence[Round], signs: int) -> list[Array]:
    """For each round the probabilities that its onset is past, taught by others."""
    past = [one.t_s >= (one.second.onset_s or np.inf) for one in rounds]
    found: list[Array] = [np.empty(0)] * len(rounds)
    for part in range(_FOLDS):
        kept = [place for place in range(len(rounds)) if place % _FOLDS != part]
        known = np.concatenate([rounds[place].signs[:, :signs] for place in kept])
        sign = np.where(np.concatenate([past[place] for place in kept]), -1.0, 1.0)
        share = np.concatenate([np.full(past[p].size, 1.0 / past[p].size) for p in kept])
        slopes = _fitted(known, sign, share)
        for place in set(range(len(rounds))) - set(kept):
            odds = rounds[place].signs[:, :signs] @ slopes
            found[place] = 1.0 / (1.0 + np.exp(-odds))
    return found


def _fitted(known: Array, sign: Array, share: Array) -> Array:
    def loss(slopes: Array) -> tuple[float, Array]:
        odds = sign * (known @ slopes)
        penalty = _RIDGE * np.r_[0.0, slopes[1:]]
        of_odds = share * sign / (1.0 + np.exp(-odds))
        value = float(share @ np.logaddexp(0.0, odds) + 0.5 * penalty @ slopes)
        return value, known.T @ of_odds + penalty

    return np.asarray(minimize(loss, np.zeros(known.shape[1]), jac=True).x)


def row(rounds: Sequence[Round], told: Sequence[Array], sounds_at: float) -> tuple[str, ...]:
    """Delays and what they cost, were an alarm to sound at this probability."""
    delays, wasted = [], []
    for one, p in zip(rounds, told, strict=True):
        over = np.convolve(p >= sounds_at, np.ones(_HELD), mode="valid") >= _HELD
        if not over.any():
            if one.second.onset_s is not None:
                delays.append(np.inf)
            continue
        at_s = float(one.t_s[int(np.argmax(over)) + _HELD - 1])
        delays.append(at_s - (one.second.onset_s or np.inf))
        wasted.append(one.second.wasted_pct(at_s))
    late = np.array(delays)
    return (
        f"{sounds_at:.2f}",
        over_rigs(median, late).text(0),
        over_rigs(mean, late < 0.0).text(),
        str(int(np.sum(np.isposinf(late)))),
        over_rigs(median, wasted).text(),
    )


def main() -> None:
    """Print the tables."""
    quick = is_quick(__doc__)
    heading(FIRST_SEED)
    seeds = range(FIRST_SEED, FIRST_SEED + (24 if quick else BATCHES))
    with get_context("spawn").Pool() as pool:
        found = pool.map(seen, seeds, chunksize=2)
    rounds = [one for one in found if one is not None]
    for known, signs in KNOWN.items():
        told = taught(rounds, signs)
        head = (f"{known}: sounds at", "median delay s", "early", "silent", "short of most")
        table(head, [row(rounds, told, at) for at in SOUNDS_AT])
        print()
    print(f"""{len(rounds)} second rounds of {len(seeds)} batches; early, silent and short of most
as in the table of `forecast_skill.py`.
""")


if __name__ == "__main__":
    main()
