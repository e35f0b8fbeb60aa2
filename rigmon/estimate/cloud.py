"""A beating round as a cloud of possible rigs, each carried along by the readings.

Every member is a mix in a bowl with its own conductance, stiffening, beater heat and supercooling.
Heat leaves it as q = (T − T_bath − d) UA e^k / (½ e^{aφ} + ½): φ is the frozen share, k a slow walk
for what happens at the wall, d how far the bath probe is off. The beaters and the air bring
P (1 + r φ). Members that the readings contradict die out, and the others multiply: a particle
filter with the kernel of J. Liu and M. West (in Sequential Monte Carlo Methods in Practice, 2001,
ch. 10, from memory).

What the mix probe reads more than the mix has, a constant and a slow wander, is not guessed at: for
each member it is the two-dimensional state of a Kalman filter (Rao–Blackwellised). The onset of
freezing, the one moment at which the mix says its own temperature, settles the constant.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rigmon.physics import wall
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.rigparameters import default_prior
from rigmon.records import RigPrior

Array = NDArray[np.float64]

MODEL_VERSION = "cloud-1"

UA, STIFFENING, BEATER, RISE, BATH, SUPERCOOLING = range(6)
"""Columns of the parameters: ln UA [W/K], ln a, ln P [W], ln r, d [K], supercooling [K]."""
RIG_PARAMETERS = 4
"""The first so many of them belong to the rig and go into its prior."""

_PLATEAU_S, _PLATEAU_LOG_SD = 1000.0, 0.45
"""Time from the pour to the plateau [s] (common practice, no source: 10 to 25 min)."""


def _unknown_rig() -> RigPrior:
    rig = default_prior(("ua_w_k", "stiffening", "beater_w", "beater_rise"), MODEL_VERSION)
    spread = np.zeros((RIG_PARAMETERS + 1, RIG_PARAMETERS + 1))
    spread[:RIG_PARAMETERS, :RIG_PARAMETERS] = rig.covariance
    spread[RIG_PARAMETERS, RIG_PARAMETERS] = _PLATEAU_LOG_SD**2
    return RigPrior(
        names=(*rig.names, "plateau_s"),
        transforms=(*rig.transforms, "log"),
        mean=(*rig.mean, math.log(_PLATEAU_S)),
        covariance=tuple(map(tuple, spread.tolist())),
        model_version=MODEL_VERSION,
    )


PRIOR = _unknown_rig()
"""An unknown rig, and when its plateau comes, which weighs forecasts only."""

MEMBERS = 1000
STEP_S = 5.0
"""Length of a step [s]."""
USUAL_MASS_G = 1200.0
"""Mass taken for a batch that nobody weighed [g] (common practice, no source)."""
USUAL_MASS_LOG_SD = 0.35
"""How surely, as a logarithm."""
_START_SD_K = 0.8
_OFFSET_REACH = 3.0
"""The cloud must reach offsets so many times the probe's stated uncertainty: a class 2 thermocouple
of type K may be off by 2.5 K (IEC 60584-1), and members that cannot explain the onset of freezing
by an offset explain it by hot beaters, die out, and never freeze."""
_BATH_SD_K = 0.6
_SUPERCOOLING_K = 0.5
"""A stirred mix beside a cold wall supercools by 0 to 1 K (common practice, no source)."""
_LAG_S = 6.0
"""63 % response of a sheathed probe in slush [s] (from memory, 2 to 8 s)."""
NOISE_K = 0.3
"""Scatter of a reading while the mixer runs [K] (common practice, no source: 0.2 to 0.5)."""
_BLOCK_SD_K = 0.05
WANDER_K, _WANDER_S = 0.25, 40.0
"""Slow wander of a probe among lumps: its size [K] and how long it lasts [s] (common practice, no
source: 0.1 to 0.3 K over 20 to 60 s)."""
_UNSETTLED_S = 8.0
"""Layers in the bowl and an uncertain lag, while the temperature runs fast [s]."""
_WALK = 0.18 / np.sqrt(200.0)
"""Step of the wall's walk k [1/√s]: 0.18 in 200 s (own choice, on simulated rigs)."""
_NU = 4.0
_BLOCK_COUNTS = 0.5
"""What a block counts among its neighbours, which share what the model leaves out. In full, the
fast minutes after the pour choose a few members that then cannot explain the onset of freezing (own
choice, on simulated rigs)."""
_SHRINK = 0.98
"""Shrinkage of the Liu–West kernel."""


@dataclass(slots=True)
class Members:
    """The part of a cloud that follows from its parameters alone: n mixes in n bowls.

    Args:
        theta: (n, 6) parameters.
        mass_g: (n,) mass of the mix [g].
        walk: (n,) k.
        enthalpy_j_g: (n,) enthalpy of the mix [J/g].
        mix_c: (n,) its temperature [°C].
        frozen_pct: (n,) its frozen share [%].
        nucleated: (n,) whether it has begun to freeze.
        knee_s: (n,) when [s]; inf before.
    """

    theta: Array
    mass_g: Array
    walk: Array
    enthalpy_j_g: Array
    mix_c: Array
    frozen_pct: Array
    nucleated: NDArray[np.bool_]
    knee_s: Array

    def conductance_w_k(self) -> Array:
        """(n,) what the wall conducts [W/K]."""
        ua_w_k = np.exp(self.theta[:, UA] + self.walk)
        return wall.conductance_w_k(ua_w_k, np.exp(self.theta[:, STIFFENING]), self.frozen_pct)

    def wall_w(self, bath_c: Array | float) -> Array:
        """(n,) heat through the wall out of the mix [W]."""
        pull = self.mix_c - bath_c - self.theta[:, BATH]
        return np.asarray(self.conductance_w_k() * pull)

    def beater_w(self) -> Array:
        """(n,) heat of beaters and air [W]."""
        heat_w, rise = np.exp(self.theta[:, BEATER]), np.exp(self.theta[:, RISE])
        return wall.beaters_w(heat_w, rise, self.frozen_pct)

    def carry(
        self, curve: FreezingCurve, step_s: float, bath_c: Array | float, normal: Array, to_s: float
    ) -> None:
        """Beat on for `step_s` [s], up to the time `to_s`.

        Args:
            curve: the mix's freezing curve.
            step_s: how long [s].
            bath_c: bath probe, one value or (n,) [°C].
            normal: (n,) standard normal numbers, for the walk.
            to_s: time at the end of the step [s].
        """
        net_w = self.wall_w(bath_c) - self.beater_w()
        self.enthalpy_j_g = self.enthalpy_j_g - net_w * step_s / self.mass_g
        slush_c, slush_pct = curve.from_enthalpy(self.enthalpy_j_g)
        liquid_c = self.enthalpy_j_g / curve.unfrozen_specific_heat_j_gk
        begins = ~self.nucleated & (liquid_c < curve.initial_c - self.theta[:, SUPERCOOLING])
        self.knee_s = np.where(begins, to_s, self.knee_s)
        self.nucleated = self.nucleated | begins
        self.mix_c = np.where(self.nucleated, slush_c, liquid_c)
        self.frozen_pct = np.where(self.nucleated, slush_pct, 0.0)
        self.walk = self.walk + _WALK * np.sqrt(step_s) * normal

    def chosen(self, index: NDArray[np.intp]) -> Members:
        """A copy of some members, each as often as it is named."""
        return Members(
            *(
                getattr(self, name)[index].copy()
                for name in (
                    "theta",
                    "mass_g",
                    "walk",
                    "enthalpy_j_g",
                    "mix_c",
                    "frozen_pct",
                    "nucleated",
                    "knee_s",
                )
            )
        )


class Cloud:
    """Members with their weights, carried from block to block.

    Args:
        curve: the mix's freezing curve.
        mass_g: mass of the mix [g], None if nobody weighed it.
        prior: what is believed of the rig.
        offset_sd: standard uncertainty of the mix probe [K].
        bath_seen: False where no bath probe has said anything yet.
        start_c: first reading of the mix [°C].
        start_s: when that was [s].
        seed: seed of all chance in it.
    """

    def __init__(
        self,
        curve: FreezingCurve,
        mass_g: float | None,
        prior: RigPrior,
        offset_sd: float,
        bath_seen: bool,
        start_c: float,
        start_s: float,
        seed: int,
    ) -> None:
        self.curve = curve
        self.t = start_s
        self._rng = np.random.default_rng(seed)
        normal = self._rng.standard_normal((MEMBERS, 8))
        covariance = np.array(prior.covariance)[:RIG_PARAMETERS, :RIG_PARAMETERS]
        rig = np.array(prior.mean)[:RIG_PARAMETERS]
        rig = rig + normal[:, :RIG_PARAMETERS] @ np.linalg.cholesky(covariance).T
        bath_sd = _BATH_SD_K if bath_seen else 6.0 * _BATH_SD_K
        spread = USUAL_MASS_LOG_SD if mass_g is None else 0.0
        offset_sd = _OFFSET_REACH * offset_sd
        mix_c = start_c + np.hypot(_START_SD_K, offset_sd) * normal[:, 7]
        self.members = Members(
            theta=np.column_stack(
                [rig, bath_sd * normal[:, 4], np.abs(_SUPERCOOLING_K * normal[:, 5])]
            ),
            mass_g=(mass_g or USUAL_MASS_G) * np.exp(spread * normal[:, 6]),
            walk=np.zeros(MEMBERS),
            enthalpy_j_g=np.asarray(curve.enthalpy_j_g(mix_c)),
            mix_c=mix_c,
            frozen_pct=np.zeros(MEMBERS),
            nucleated=np.zeros(MEMBERS, dtype=bool),
            knee_s=np.full(MEMBERS, np.inf),
        )
        self._lagged_c = mix_c.copy()
        self._off_k = np.zeros((MEMBERS, 2))
        self._off_covariance = np.diag([offset_sd**2, WANDER_K**2])
        self._log_weight = np.zeros(MEMBERS)
        self._last_c: float | None = None

    def carry(self, to_s: float, bath_c: float) -> None:
        """Beat on to `to_s` [s] beside a bath of `bath_c` [°C]."""
        step_s = to_s - self.t
        normal = self._rng.standard_normal(MEMBERS)
        self.members.carry(self.curve, step_s, bath_c, normal, to_s)
        self._lagged_c += (self.members.mix_c - self._lagged_c) * -np.expm1(-step_s / _LAG_S)
        keeps = np.array([1.0, np.exp(-step_s / _WANDER_S)])
        self._off_k = self._off_k * keeps
        renewed = np.array([0.0, WANDER_K**2 * (1.0 - keeps[1] ** 2)])
        self._off_covariance = self._off_covariance * np.outer(keeps, keeps) + np.diag(renewed)
        self.t = to_s

    def see(self, read_c: float, weight: float, slope_k_s: float) -> None:
        """Take in the mean of a block of the mix probe.

        Args:
            read_c: the mean [°C].
            weight: how many readings of usual scatter it is worth.
            slope_k_s: how fast the reading runs [K/s].
        """
        noise = NOISE_K**2 / weight + _BLOCK_SD_K**2 + (_UNSETTLED_S * slope_k_s) ** 2
        reach = self._off_covariance.sum(axis=1)
        variance = float(reach.sum() + noise)
        surprise = read_c - self._lagged_c - self._off_k.sum(axis=1)
        likely = -0.5 * (_NU + 1.0) * np.log1p(surprise**2 / (_NU * variance))
        self._log_weight += _BLOCK_COUNTS * likely
        self._off_k = self._off_k + surprise[:, None] * (reach / variance)
        self._off_covariance = self._off_covariance - np.outer(reach, reach) / variance
        weights = self.weights()
        if 1.0 / np.sum(weights**2) < 0.5 * MEMBERS:
            self._resample(weights)

    def loosen(self, log_sd: float) -> None:
        """Something changed at the wall (a scrape): its conductance may jump by so much."""
        self.members.walk = self.members.walk + log_sd * self._rng.standard_normal(MEMBERS)

    def weights(self) -> Array:
        """(n,) weights, adding up to 1."""
        weights = np.exp(self._log_weight - self._log_weight.max())
        return np.asarray(weights / weights.sum())

    def offset_k(self) -> tuple[float, float]:
        """What the mix probe reads too much [K], wander left out, and its standard deviation."""
        weights, off = self.weights(), self._off_k[:, 0]
        mean = float(weights @ off)
        variance = float(weights @ (off - mean) ** 2) + float(self._off_covariance[0, 0])
        return mean, float(np.sqrt(variance))

    def frozen_pct(self) -> tuple[float, float]:
        """Frozen share [%] and its standard deviation."""
        weights, share = self.weights(), self.members.frozen_pct
        mean = float(weights @ share)
        return mean, float(np.sqrt(weights @ (share - mean) ** 2))

    def rig(self) -> tuple[Array, Array]:
        """Mean and covariance of the rig's parameters, on the scale of its prior."""
        weights, theta = self.weights(), self.members.theta[:, :RIG_PARAMETERS]
        return np.asarray(weights @ theta), np.cov(theta.T, aweights=weights)

    def draw(self, n: int) -> Members:
        """`n` members of equal weight, drawn without chance."""
        return self.members.chosen(_systematic(self.weights(), n, 0.5))

    def everyone(self) -> Members:
        """A copy of all members, to be carried on by itself."""
        return copy.deepcopy(self.members)

    def _resample(self, weights: Array) -> None:
        theta = self.members.theta
        mean = weights @ theta
        covariance = np.cov(theta.T, aweights=weights) + 1e-9 * np.eye(theta.shape[1])
        index = _systematic(weights, MEMBERS, float(self._rng.random()))
        self.members = self.members.chosen(index)
        self._lagged_c = self._lagged_c[index]
        self._off_k = self._off_k[index]
        kernel = self._rng.standard_normal(theta.shape) @ np.linalg.cholesky(covariance).T
        moved = _SHRINK * self.members.theta + (1.0 - _SHRINK) * mean
        moved = moved + np.sqrt(1.0 - _SHRINK**2) * kernel
        moved[:, SUPERCOOLING] = np.abs(moved[:, SUPERCOOLING])
        self.members.theta = moved
        self._log_weight = np.zeros(MEMBERS)


def _systematic(weights: Array, n: int, shift: float) -> NDArray[np.intp]:
    """Indices of `n` members, each about as often as its weight asks."""
    places = (shift + np.arange(n)) / n
    return np.minimum(np.searchsorted(np.cumsum(weights), places), weights.size - 1)
