"""Whether a later round has passed its stiffest: heat, the mix probe and the mixer taken together.

A mix that loses ice warms by a tenth of a kelvin a minute, which lumps in the bowl hide for some
minutes, and the beaters turn more easily, which is seen sooner. So what the heat balance holds
likely is weighed with how far the mix has risen above its coldest and how far the mixer's power
has fallen below its most. The weights are own choices, near to those of logistic fits to simulated
rigs; that a probability of 0.9 comes true nine times in ten has not been shown.
"""

from __future__ import annotations

import math

import numpy as np

from rigmon.estimate.batch import Batch
from rigmon.estimate.blocks import BLOCK_S, Blocks
from rigmon.estimate.levels import Levels
from rigmon.physics.numbers import Array
from rigmon.records import Place

STIRRED_IN_S = 45.0
"""Nothing is said before the frozen lining has been stirred in for this long [s]."""
_FROM_S = 15.0
_MEAN_OF = round(30.0 / BLOCK_S)
_OUT_OF_MIX_K = 1.5
"""A mix this far above its coldest [K] is a probe that was lifted out of it."""
_MOST_SURE = 0.98
"""Heat alone is never believed more than this, either way."""
_OF_HEAT, _PER_K, _NO_RISE = 0.7, 3.5, -0.5
_BESIDE_POWER, _PER_PCT, _NO_FALL = 0.5, 1.8, -1.8
"""Beside the mixer's power, which says the most, heat and temperature count for less."""


def p_softens(t: float, p_by_heat: float | None, batch: Batch, levels: Levels) -> float:
    """Probability that what is beaten has passed its stiffest; 0 outside a later round.

    Args:
        t: run time [s].
        p_by_heat: the same by heat balance alone; None where nothing is known of it.
        batch: which round it is.
        levels: what the probes say.
    """
    begun_s = batch.begun_s
    if begun_s is None or batch.round < 2 or not batch.beating or t - begun_s < STIRRED_IN_S:
        return 0.0
    odds = _NO_RISE
    if p_by_heat is not None:
        p = min(max(p_by_heat, 1.0 - _MOST_SURE), _MOST_SURE)
        odds += _OF_HEAT * math.log(p / (1.0 - p))
    mix_c = _smooth(levels.blocks[Place.MIX], begun_s, _OUT_OF_MIX_K)
    if mix_c.size:
        odds += _PER_K * float(mix_c[-1] - mix_c.min())
    mixer_w = _smooth(levels.blocks[Place.MIXER], begun_s)
    if mixer_w.size:
        odds = _BESIDE_POWER * odds + _NO_FALL
        odds += _PER_PCT * 100.0 * float(1.0 - mixer_w[-1] / mixer_w.max())
    return 1.0 / (1.0 + math.exp(-odds))


def _smooth(blocks: Blocks, begun_s: float, most_rise: float = math.inf) -> Array:
    """Half-minute means of a round's blocks, those left out that lie far above all before."""
    _, values, _ = blocks.since(begun_s + _FROM_S)
    if values.size:
        values = values[values <= np.minimum.accumulate(values) + most_rise]
    if values.size < _MEAN_OF:
        return np.empty(0)
    return np.convolve(values, np.full(_MEAN_OF, 1.0 / _MEAN_OF), mode="valid")
