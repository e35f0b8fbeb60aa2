"""What the estimator believes of a rig and of a batch, and what a run taught."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigmon.records.setup import RigPrior

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Slowdown:
    """What takes part in the mix stiffening more slowly than at its best, in shares of 1.

    Args:
        bath: the bath warming.
        wall: ice on the wall, stiff mix and air together, where they cannot be told apart.
        beater: heat of the beaters.
        bath_sd: standard deviation of `bath`.
        wall_sd: standard deviation of `wall`.
        beater_sd: standard deviation of `beater`.
    """

    bath: float
    wall: float
    beater: float
    bath_sd: float
    wall_sd: float
    beater_sd: float


@dataclass(frozen=True, slots=True)
class RunFit:
    """What one run says of its rig, on the same transformed scale as `RigPrior`.

    Args:
        names: n parameter names.
        transforms: n transforms.
        mean: n estimates from this run.
        covariance: n x n.
        model_version: the model these belong to.
        prior: what was believed before, which is part of these.
        undetermined: parameters that this run says nothing of.
    """

    names: tuple[str, ...]
    transforms: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    model_version: str
    prior: RigPrior
    undetermined: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RigStates:
    """Members of the estimator's belief at one time, for questions of what would happen if.

    Args:
        t: run time [s].
        names: p parameter names.
        parameters: (n, p) on the scale of `RigPrior`.
        mix_c: (n,) mix temperature [°C].
        frozen_pct: (n,) frozen share [%].
        ice_left_g: (n,) ice left [g]; NaN where no ice was weighed.
    """

    t: float
    names: tuple[str, ...]
    parameters: NDArray[np.float64]
    mix_c: NDArray[np.float64]
    frozen_pct: NDArray[np.float64]
    ice_left_g: NDArray[np.float64]
