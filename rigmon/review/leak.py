"""What the outer bowl lets in from the room, from how the bath warms while no mix is in it.

Once the salt has dissolved, the bath's temperature says how much ice has melted, and the ice how
much heat came in. With a mix in the bath that heat is mostly the mix's, and what is not known of
it drowns the leak.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from rigmon.physics import brine
from rigmon.physics.mixside import ROOM_C
from rigmon.physics.rigparameters import PARAMETERS
from rigmon.review.bathheld import undissolved_g
from rigmon.review.follow import Sample
from rigmon.review.measures import Span
from rigmon.review.spans import P90

_LEAK = next(one for one in PARAMETERS if one.name == "leak_w_k")
_BEGUN_K = 0.4
"""A bath this far above its coldest warms, and does not only wander [K] (own choice)."""
_DISSOLVED = 0.1
"""The salt counts as dissolved if no more than this share of it lies there."""
_LEAST_S, _LEAST_ICE = 600.0, 0.1
_UNTOLD_W = 6.0
"""Heat that the balance may miss: salt that still dissolves, layers in the bath [W] (own
estimate)."""
_UNKNOWN_ROOM_K, _KNOWN_ROOM_K = 3.0, 1.0
_METAL_J_K = 450.0
_TELLS = 0.8
"""A run tells something of the leak if it leaves no more than this of what was not known."""


def leak_w_k(
    samples: list[Sample], ice_put_g: float | None, room_c: float | None
) -> tuple[Span, bool]:
    """What the outer bowl lets in [W/K], and whether the run tells anything of it.

    A normal prior on its logarithm, that of rigs at large, is joined with what each stretch says;
    where none says anything the range is that of rigs at large.

    Args:
        samples: the run at times in order.
        ice_put_g: ice put in [g]; None if it was not weighed.
        room_c: temperature of the room [°C]; None if nobody said.
    """
    air_c = ROOM_C if room_c is None else room_c
    air_sd = _UNKNOWN_ROOM_K if room_c is None else _KNOWN_ROOM_K
    mean, variance = math.log(_LEAK.usual), _LEAK.sd**2
    put_g = ice_put_g or 0.0
    for stretch in _stretches(samples, _LEAST_ICE * put_g) if put_g else ():
        found = _told(stretch, put_g, air_c, air_sd)
        if found is None:
            continue
        w_k, sd = found
        share = variance / (variance + (sd / max(w_k, 0.3)) ** 2)
        mean += share * (math.log(max(w_k, 0.3)) - mean)
        variance *= 1.0 - share
    sd = math.sqrt(variance)
    span = Span(*(math.exp(mean + z * sd) for z in (-P90, 0.0, P90)))
    return span, variance <= _TELLS**2 * _LEAK.sd**2


def _stretches(samples: list[Sample], least_g: float) -> Iterator[list[Sample]]:
    """Runs of samples in which the bath stands alone in the room and warms, with ice left."""
    part: list[Sample] = []
    coldest = math.inf
    for sample in samples:
        bath_c = sample.estimate.bath_c
        alone = sample.bath_alone and bath_c is not None
        if bath_c is not None:
            coldest = min(coldest, bath_c)
        warms = bath_c is not None and bath_c > coldest + _BEGUN_K
        icy = (sample.estimate.ice_left_g or 0.0) > least_g
        if (
            alone
            and warms
            and icy
            and _dissolved(sample)
            and (not part or _same_bath(part[-1], sample))
        ):
            part.append(sample)
        elif part:
            yield part
            part = []
    if part:
        yield part


def _dissolved(sample: Sample) -> bool:
    """Whether the salt is in the brine; what still dissolves hides how much ice melts."""
    lies = undissolved_g(sample.estimate)
    return lies is not None and lies.p50 <= _DISSOLVED * (sample.estimate.salt_g or 0.0)


def _same_bath(before: Sample, sample: Sample) -> bool:
    return before.estimate.salt_g == sample.estimate.salt_g


def _told(
    stretch: list[Sample], ice_put_g: float, air_c: float, air_sd: float
) -> tuple[float, float] | None:
    """What one stretch says of the leak [W/K], and its standard deviation."""
    t = np.array([sample.t for sample in stretch])
    salt_g = stretch[0].estimate.salt_g
    if not salt_g or t[-1] - t[0] < _LEAST_S:
        return None
    bath_c = np.array([sample.estimate.bath_c for sample in stretch], dtype=float)
    strength = [sample.estimate.brine_pct for sample in stretch]
    if strength[0] is None or strength[-1] is None:
        return None
    melted_g = salt_g * 100.0 * (1.0 / strength[-1] - 1.0 / strength[0])
    water_g = salt_g * (100.0 / strength[0] - 1.0)
    middle_c = float(np.mean(bath_c))
    heat_j_k = (water_g + salt_g) * 3.4 + max(ice_put_g - water_g, 0.0) * 2.05 + _METAL_J_K
    heat_j = melted_g * brine.heat_of_fusion_j_g(middle_c) + heat_j_k * (bath_c[-1] - bath_c[0])
    over_k = air_c - middle_c
    took_s = float(t[-1] - t[0])
    w_k = heat_j / took_s / over_k
    # Half a kelvin that a probe or the ice's surface may be off, and salt weighed to 2 %.
    off_j = 0.06 * abs(heat_j)
    sd = math.hypot(off_j / took_s, _UNTOLD_W) / over_k
    return float(w_k), math.hypot(sd, w_k * air_sd / over_k)
