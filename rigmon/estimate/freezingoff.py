"""Whether the mix freezes where its recipe says, as far as the probe in it can tell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rigmon.estimate.round import CURVE_SD_K, RoundView
from rigmon.physics.mix import FreezingCurve

SIGMAS = 2.5
"""Recipe and probe together allow for so many standard deviations (own choice: one right recipe in
a hundred is doubted)."""
_SURE_SIGMAS = 1.64
"""What the readings themselves leave open is taken off at its 90 % bound."""
_BEGUN_SHARE, _BEGUN_FOR_S = 0.95, 90.0
"""Nothing is said before so many members have frozen for so long [s]."""


@dataclass(frozen=True, slots=True)
class FreezingOff:
    """A mix that freezes elsewhere than its recipe says.

    Args:
        seen_c: where the probe has it freeze [°C].
        told_c: where the recipe has it freeze [°C].
    """

    seen_c: float
    told_c: float


def freezing_off(view: RoundView, curve: FreezingCurve, probe_sd: float) -> FreezingOff | None:
    """What is off by more than recipe and probe allow; None where nothing is, or too early.

    Args:
        view: the first round.
        curve: how the mix freezes by its recipe.
        probe_sd: standard uncertainty of the mix probe [K].
    """
    for_s = view.t - view.members.knee_s
    if np.mean(for_s > _BEGUN_FOR_S) < _BEGUN_SHARE:
        return None
    off_k, sd_k = view.offset_k
    if abs(off_k) - _SURE_SIGMAS * sd_k <= SIGMAS * math.hypot(probe_sd, CURVE_SD_K):
        return None
    return FreezingOff(curve.initial_c + off_k, curve.initial_c)
