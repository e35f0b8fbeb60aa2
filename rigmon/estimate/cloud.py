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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.runsays import moments, with_learned
from rigmon.estimate.signals import power_line, wall_line
from rigmon.physics import wall
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.rigparameters import default_prior, usual_rig
from rigmon.physics.stiffness import relative_viscosity
from rigmon.records import RigPrior

Array = NDArray[np.float64]

MODEL_VERSION = "cloud-3"

UA, STIFFENING, BEATER, RISE, BATH, SUPERCOOLING = range(6)
"""Columns of the parameters: ln UA [W/K], ln a, ln P [W], ln r, d [K], supercooling [K]."""
RIG_PARAMETERS = 4
"""The first so many of them belong to the rig and go into its prior."""

FACTOR = RIG_PARAMETERS
"""Where in the prior the plateau's factor lies: how many times later this rig's plateaus come than
`rigmon.physics.course` has them for an unknown rig with the same mix and bath."""
_FACTOR_LOG, _FACTOR_LOG_SD = 0.07, 0.1
"""An unknown rig's factor, as a logarithm, and how rigs differ in what runs can tell of it (own
choice, on simulated rigs)."""


def _unknown_rig() -> RigPrior:
    rig = default_prior(("ua_w_k", "stiffening", "beater_w", "beater_rise"), MODEL_VERSION)
    spread = np.zeros((RIG_PARAMETERS + 1, RIG_PARAMETERS + 1))
    spread[:RIG_PARAMETERS, :RIG_PARAMETERS] = rig.covariance
    spread[FACTOR, FACTOR] = _FACTOR_LOG_SD**2
    return RigPrior(
        names=(*rig.names, "plateau_factor"),
        transforms=(*rig.transforms, "log"),
        mean=(*rig.mean, _FACTOR_LOG),
        covariance=tuple(map(tuple, spread.tolist())),
        model_version=MODEL_VERSION,
    )


PRIOR = _unknown_rig()
"""An unknown rig; its plateau's factor weighs forecasts only."""


def fresh(prior: RigPrior) -> RigPrior:
    """An unknown rig, but for what is believed of its plateau's factor: what a round starts from.

    What earlier rounds taught of wall and beaters would make the members sure of what the model of
    a round gets wrong, day after day, and its plateau's alarm with them (measured on simulated
    rigs: the next forecast is worse after six runs, and better where the factor alone is kept).
    """
    names = PRIOR.names[FACTOR:]
    return with_learned(PRIOR, names, *moments(prior, names))


_USUAL = usual_rig()
"""What a round says next to nothing of: how the wall is lined and swept."""

MEMBERS = 1000
USUAL_MASS_G = 1200.0
"""Mass taken for a batch that nobody weighed [g] (common practice, no source)."""
USUAL_MASS_LOG_SD = 0.35
"""How surely, as a logarithm."""
_START_SD_K = 0.8
_OFFSET_REACH = 3.0
"""The cloud must reach offsets so many times the probe's stated uncertainty: a class 2 thermocouple
of type K may be off by 2.5 K (IEC 60584-1), and members that cannot explain the onset of freezing
by an offset explain it by hot beaters, die out, and never freeze."""
_BATH_SD_K, _UNSEEN_BATH_SD_K = 0.6, 3.6
"""How far a bath probe is off, its place included, and a bath that no probe sees [K]."""
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
_UNSEEN_AFTER_S, _UNSEEN_LOG_SD = 150.0, 0.3
"""Once the mix has not been read for so long [s] nothing holds the members to it, and their walls
part by so much, as a logarithm (own choice, on simulated rigs)."""
_NU = 4.0
_BLOCK_COUNTS = 0.5
"""What a block counts among its neighbours, which share what the model leaves out. In full, the
fast minutes after the pour choose a few members that then cannot explain the onset of freezing (own
choice, on simulated rigs)."""
_SHRINK = 0.98
"""Shrinkage of the Liu–West kernel."""
_SIGNAL_COUNTS = 0.1
"""The same for blocks of the wall's probe and of the mixer's power: the layer on the wall and the
foam, of which the model knows nothing, change over minutes (own choice, on simulated rigs)."""
_LOOSE_K = 2.0
"""A probe that reads so much more than the mix or less than the bath is not on the wall [K]."""
_RUNNING_W = 10.0
"""A mixer that draws less stands [W]."""


@dataclass(slots=True)
class Members:
    """The part of a cloud that follows from its parameters alone: n mixes in n bowls.

    A layer of mix freezes to the wall and the beaters take it off again, as is usual for a rig.

    Args:
        theta: (n, 6) parameters.
        mass_g: (n,) mass of the mix [g].
        walk: (n,) k.
        enthalpy_j_g: (n,) enthalpy of the mix off the wall [J/g].
        mix_c: (n,) its temperature [°C].
        frozen_pct: (n,) its frozen share [%].
        nucleated: (n,) whether it has begun to freeze.
        knee_s: (n,) when [s]; inf before.
        layer_g: (n,) mix frozen to the wall, out of reach of beaters and probe [g].
        layer_j: (n,) its enthalpy [J].
        stick_j_g: enthalpy of mix as it freezes on to the wall [J/g].
    """

    theta: Array
    mass_g: Array
    walk: Array
    enthalpy_j_g: Array
    mix_c: Array
    frozen_pct: Array
    nucleated: NDArray[np.bool_]
    knee_s: Array
    layer_g: Array
    layer_j: Array
    stick_j_g: float

    def mean_j_g(self) -> Array:
        """(n,) enthalpy of the mix off the wall and on it [J/g]."""
        core_g = self.mass_g - self.layer_g
        return (core_g * self.enthalpy_j_g + self.layer_j) / self.mass_g

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
        wall_w = self.wall_w(bath_c)
        core_g = self.mass_g - self.layer_g
        core_j = core_g * self.enthalpy_j_g - (wall_w - self.beater_w()) * step_s
        sticks_w = _USUAL.stick_share * np.maximum(wall_w, 0.0) * self.nucleated
        grows_g_s, grows_w = wall.freezes_on(
            sticks_w, core_g, self.enthalpy_j_g, self.stick_j_g, _USUAL.sweep_s
        )
        layer_g = wall.on_the_wall(self.layer_g, grows_g_s, _USUAL.sweep_s, step_s)
        layer_j = wall.on_the_wall(self.layer_j, grows_w, _USUAL.sweep_s, step_s)
        core_j = core_j + self.layer_j - layer_j
        self.layer_g, self.layer_j = layer_g, layer_j
        self.enthalpy_j_g = core_j / (self.mass_g - layer_g)
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
        return replace(
            self,
            theta=self.theta[index],
            mass_g=self.mass_g[index],
            walk=self.walk[index],
            enthalpy_j_g=self.enthalpy_j_g[index],
            mix_c=self.mix_c[index],
            frozen_pct=self.frozen_pct[index],
            nucleated=self.nucleated[index],
            knee_s=self.knee_s[index],
            layer_g=self.layer_g[index],
            layer_j=self.layer_j[index],
        )


class Cloud:
    """Members with their weights, carried from block to block.

    Args:
        curve: the mix's freezing curve.
        mass_g: mass of the mix [g], None if nobody weighed it.
        prior: what is believed of the rig.
        offset_sd: standard uncertainty of the mix probe [K].
        bath_probes: how many bath probes speak.
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
        bath_probes: int,
        start_c: float,
        start_s: float,
        seed: int,
    ) -> None:
        self.curve = curve
        self.t = self._seen_s = start_s
        self._rng = np.random.default_rng(seed)
        normal = self._rng.standard_normal((MEMBERS, 8))
        covariance = np.array(prior.covariance)[:RIG_PARAMETERS, :RIG_PARAMETERS]
        rig = np.array(prior.mean)[:RIG_PARAMETERS]
        rig = rig + normal[:, :RIG_PARAMETERS] @ np.linalg.cholesky(covariance).T
        bath_sd = _BATH_SD_K / math.sqrt(bath_probes) if bath_probes else _UNSEEN_BATH_SD_K
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
            layer_g=np.zeros(MEMBERS),
            layer_j=np.zeros(MEMBERS),
            stick_j_g=curve.enthalpy_j_g(curve.temperature_c(wall.STICK_PCT)),
        )
        self._lagged_c = mix_c.copy()
        self._off_k = np.zeros((MEMBERS, 2))
        self._off_covariance = np.diag([offset_sd**2, WANDER_K**2])
        self._wall, self._power = wall_line(MEMBERS), power_line(MEMBERS)
        self._log_weight = np.zeros(MEMBERS)

    def carry(self, to_s: float, bath_c: float) -> None:
        """Beat on to `to_s` [s] beside a bath of `bath_c` [°C]."""
        step_s = to_s - self.t
        normal = self._rng.standard_normal(MEMBERS)
        if self.t - self._seen_s <= _UNSEEN_AFTER_S < to_s - self._seen_s:
            self.loosen(_UNSEEN_LOG_SD)
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
        self._off_k = self._off_k + surprise[:, None] * (reach / variance)
        self._off_covariance = self._off_covariance - np.outer(reach, reach) / variance
        self._seen_s = self.t
        self._weigh(_BLOCK_COUNTS * likely)

    def see_wall(self, read_c: float, bath_c: float) -> None:
        """Take in the mean of a block of a probe on the wall [°C], beside a bath of `bath_c`."""
        members = self.members
        if not bath_c - _LOOSE_K < read_c < float(self.weights() @ members.mix_c) + _LOOSE_K:
            return
        pull = members.wall_w(bath_c) / np.exp(members.theta[:, UA])
        warmer = read_c - bath_c - members.theta[:, BATH]
        self._weigh(_SIGNAL_COUNTS * self._wall.see(self.t, warmer, pull))

    def see_power(self, read_w: float) -> None:
        """Take in the mean of a block of the mixer's electrical power [W]."""
        if read_w > _RUNNING_W:
            stiff = relative_viscosity(self.members.frozen_pct, self.curve.water_share)
            self._weigh(_SIGNAL_COUNTS * self._power.see(self.t, read_w, np.sqrt(stiff) - 1.0))

    def _weigh(self, log_likelihood: Array) -> None:
        self._log_weight += log_likelihood
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
        self._wall.choose(index)
        self._power.choose(index)
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
