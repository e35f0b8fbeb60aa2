"""When the plateau of this very batch is to be expected, before its readings have said anything."""

from __future__ import annotations

import math

import numpy as np

from rigmon.estimate.amounts import Amounts
from rigmon.estimate.cloud import FACTOR, PRIOR
from rigmon.physics.course import Start, course, plateau_s
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.rigparameters import draw_rigs
from rigmon.records import RigPrior, RigSetup

_RIGS = 60
_STEP_S = 5.0
_LONGEST_S = 3600.0
_BEYOND = 1.2
"""A plateau beyond that counts as this many times later."""
_UNWEIGHED_S, _UNWEIGHED_LOG_SD = 1000.0, 0.27
"""Time from the pour to the plateau where nothing was weighed [s], and how batches spread about it
beside what rigs do (common practice, no source: 10 to 25 min)."""
ANNOUNCED_LOG_SD = 0.2
"""How far from the plateau it is announced, as a logarithm (own choice, on simulated rigs)."""
_ROOM_C = 22.0


def expected_plateau(
    curve: FreezingCurve,
    mass_g: float,
    mix_c: float,
    bath: Amounts,
    wait_s: float,
    rig: RigSetup,
    prior: RigPrior,
    seed: int,
) -> tuple[float, float] | None:
    """Mean and variance of the logarithm of the time from the pour to the plateau [ln s].

    The middle of the plateaus of `rigmon.physics.course` over unknown rigs, for this mix and bath,
    times what is believed of this rig's factor. None where ice or salt were not weighed.

    Args:
        curve: how the mix freezes.
        mass_g: its mass [g].
        mix_c: its temperature as poured [°C].
        bath: what is in the outer bowl.
        wait_s: how long it stood before the pour [s].
        rig: the rig.
        prior: what is believed of it.
        seed: seed of the draw.
    """
    if not bath.ice_g or bath.salt_g is None:
        return None
    start = Start(
        mix_g=mass_g,
        ice_g=bath.ice_g,
        salt_g=bath.salt_g,
        mix_c=max(mix_c, curve.initial_c),
        water_g=bath.water_g,
        ice_kind=bath.ice_kind or rig.bath.ice_kind,
        salt_kind=rig.bath.salt_kind,
        ice_c=-2.0 if bath.ice_c is None else bath.ice_c,
        wet_pct=3.0 if bath.wet_share is None else 100.0 * bath.wet_share,
        room_c=_ROOM_C if rig.room_c is None else rig.room_c,
        wait_s=min(max(wait_s, 0.0), 1800.0),
    )
    rigs = draw_rigs(_RIGS, seed, PRIOR)
    of = course(curve, start, rigs, beat_s=_LONGEST_S, step_s=_STEP_S)
    times = np.log(np.clip(plateau_s(of, rig.plateau), 60.0, _BEYOND * _LONGEST_S))
    return float(times.mean()) + prior.mean[FACTOR], prior.covariance[FACTOR][FACTOR]


def unweighed_plateau(prior: RigPrior) -> tuple[float, float]:
    """The same for a batch of which nothing is known but the rig."""
    variance = prior.covariance[FACTOR][FACTOR] + _UNWEIGHED_LOG_SD**2
    return math.log(_UNWEIGHED_S) + prior.mean[FACTOR], variance


def factor_after(
    prior: RigPrior, expected: float, announced_s: float, spread: float
) -> tuple[float, float]:
    """Mean and variance of the factor's logarithm, the plateau having been announced.

    Args:
        prior: what was believed of the rig.
        expected: mean of the logarithm of the time from the pour that was expected [ln s].
        announced_s: time from the pour at which it was announced [s].
        spread: how far from its plateau the round itself says it may be [ln].
    """
    before = prior.covariance[FACTOR][FACTOR]
    share = before / (before + ANNOUNCED_LOG_SD**2 + spread**2)
    missed = math.log(announced_s) - expected
    return prior.mean[FACTOR] + share * missed, (1.0 - share) * before
