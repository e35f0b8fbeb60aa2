"""What makes one rig differ from the next: parameters, how they spread, and rigs drawn from them.

None of the ranges is a measurement of this kind of rig. "Own estimate" is a calculation from film
coefficients and the like, "common practice" what kitchens hold to without a source.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rigmon.physics.numbers import Array
from rigmon.records import RigPrior

Spread = Literal["log", "half"]
"""`log`: the logarithm is normal. `half`: the size of a normal figure with mean 0."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a rig and what is believed of it before any run.

    Args:
        name: with its unit at the end; the same as the field of `Rigs`.
        usual: median.
        sd: standard deviation, of the logarithm for `log`, of the normal figure for `half`.
        spread: how it spreads.
        what: what it is.
        basis: where the range comes from.
    """

    name: str
    usual: float
    sd: float
    spread: Spread
    what: str
    basis: str

    def at(self, normal: Array) -> Array:
        """Values at standard normal scores.

        >>> np.round(PARAMETERS[0].at(np.array([-1.0, 0.0, 1.0])), 1)
        array([ 5.7,  8.5, 12.7])
        """
        if self.spread == "half":
            return np.abs(normal) * self.sd
        return self.usual * np.exp(self.sd * normal)


_HALF_NORMAL_MEDIAN = 0.6745

PARAMETERS: tuple[Parameter, ...] = (
    Parameter(
        "ua_w_k", 8.5, 0.40, "log",
        "conductance between liquid mix and bath, bowl half under brine [W/K]",
        "own estimate: films of 250 to 500 W/(m² K) inside and 200 to 280 outside, 0.05 m²",
    ),
    Parameter(
        "stiffening", 2.4, 0.40, "log",
        "how the conductance falls as the water freezes: UA / (½ e^(aφ) + ½)",
        "own estimate: down to 40 to 60 % once 45 % of the water is frozen",
    ),
    Parameter(
        "beater_w", 25.0, 0.50, "log",
        "heat of beaters and of a 22 °C room's air into liquid mix [W]",
        "own estimate: power law of beaters, open surface of 0.04 m²; 15 to 50",
    ),
    Parameter(
        "beater_rise", 2.0, 0.60, "log",
        "how that heat rises as the water freezes: P (1 + r φ)",
        "own estimate: 25 to 50 W in stiff mix",
    ),
    Parameter(
        "supercooling_k", 0.5 * _HALF_NORMAL_MEDIAN, 0.5, "half",
        "how far the mix falls below its freezing point before ice forms [K]",
        "common practice, no source: 0 to 1 K in a stirred bowl with a cold wall",
    ),
    Parameter(
        "open_w_k", 0.57, 0.20, "log",
        "conductance from the air to the open surface of the mix [W/K]",
        "own estimate: 0.04 m² at 10 to 20 W/(m² K)",
    ),
    Parameter(
        "leak_w_k", 1.5, 0.22, "log",
        "conductance from the room into the bare outer bowl [W/K]",
        "own estimate: 0.12 to 0.16 m² at 8 to 14 W/(m² K)",
    ),
    Parameter(
        "ice_surface", 1.0, 0.25, "log",
        "factor on the conductance between ice and brine",
        "own estimate: ranges of the two kinds of ice",
    ),
    Parameter(
        "grain_time", 1.0, 0.30, "log",
        "factor on the time in which salt dissolves",
        "own estimate: ranges of the three grains",
    ),
    Parameter(
        "cover_g", 600.0, 0.25, "log",
        "brine that covers the wetted part of the inner bowl [g]",
        "own estimate from the gap between the bowls",
    ),
    Parameter(
        "pool_share", 0.30, 0.20, "log",
        "share of the brine below the ice, where two layers are told apart",
        "own estimate",
    ),
    Parameter(
        "exchange_g_s", 0.7, 0.80, "log",
        "brine that the two layers exchange [g/s]",
        "own estimate: light melt mixes slowly into strong brine",
    ),
    Parameter(
        "sunk_share", 0.30, 0.30, "log",
        "share of the salt that lies in the lower layer",
        "own estimate",
    ),
    Parameter(
        "inner_metal_j_k", 300.0, 0.20, "log",
        "heat capacity of the inner bowl [J/K]",
        "own estimate: 0.4 to 0.9 kg of steel",
    ),
    Parameter(
        "outer_metal_j_k", 450.0, 0.25, "log",
        "heat capacity of the outer bowl [J/K]",
        "own estimate: 0.6 to 1.4 kg of steel",
    ),
    Parameter(
        "area_m2", 0.05, 0.15, "log",
        "wall that the mix wets [m²]",
        "hemisphere of 4 l with 1 to 2 l in it: 0.043 to 0.063",
    ),
    Parameter(
        "stick_share", 0.40, 0.50, "log",
        "share of the heat that freezes mix on to the wall while it is beaten",
        "own estimate",
    ),
    Parameter(
        "sweep_s", 185.0, 0.50, "log",
        "time in which the beaters take the layer off again [s]",
        "own estimate: 70 to 500",
    ),
    Parameter(
        "stir_in_s", 25.0, 0.30, "log",
        "time in which a frozen lining from a rest is stirred in [s]",
        "own estimate: 15 to 40",
    ),
    Parameter(
        "layer_w_mk", 0.8, 0.15, "log",
        "conductivity of the frozen layer [W/(m K)]",
        "own estimate: 0.6 to 1.0",
    ),
    Parameter(
        "still_w_mk", 0.65, 0.20, "log",
        "conductivity of unfrozen mix at rest, its slow currents included [W/(m K)]",
        "own estimate: 0.5 to 0.9",
    ),
    Parameter(
        "air_pct", 25.0, 0.25, "log",
        "air that the mix takes up in the end, of its volume without air [%]",
        "common practice, no source: 15 to 40",
    ),
    Parameter(
        "air_s", 520.0, 0.30, "log",
        "time in which it takes it up [s]",
        "own estimate: 300 to 900",
    ),
    Parameter(
        "freezer_film_w_m2k", 9.0, 0.35, "log",
        "heat transfer to a bowl or tub in still freezer air [W/(m² K)]",
        "own estimate: 6 to 14",
    ),
)  # fmt: skip
"""All of them, those that a run can teach first."""


@dataclass(frozen=True, slots=True, eq=False)
class Rigs:
    """Rigs that might be: one array (n,) a parameter; `PARAMETERS` says what each is."""

    ua_w_k: Array
    stiffening: Array
    beater_w: Array
    beater_rise: Array
    supercooling_k: Array
    open_w_k: Array
    leak_w_k: Array
    ice_surface: Array
    grain_time: Array
    cover_g: Array
    pool_share: Array
    exchange_g_s: Array
    sunk_share: Array
    inner_metal_j_k: Array
    outer_metal_j_k: Array
    area_m2: Array
    stick_share: Array
    sweep_s: Array
    stir_in_s: Array
    layer_w_mk: Array
    still_w_mk: Array
    air_pct: Array
    air_s: Array
    freezer_film_w_m2k: Array

    @property
    def n(self) -> int:
        """How many."""
        return self.ua_w_k.size

    def chosen(self, index: Array) -> Rigs:
        """Some of them, each as often as it is named."""
        return Rigs(*(getattr(self, f.name)[index] for f in dataclasses.fields(self)))


def _scores(normal: Array, prior: RigPrior | None) -> Rigs:
    values = {p.name: p.at(normal[:, column]) for column, p in enumerate(PARAMETERS)}
    if prior is not None:
        known = [(i, name) for i, name in enumerate(prior.names) if name in values]
        rows = [i for i, _ in known]
        columns = [next(k for k, p in enumerate(PARAMETERS) if p.name == name) for _, name in known]
        lower = np.linalg.cholesky(np.array(prior.covariance)[np.ix_(rows, rows)])
        drawn = np.array(prior.mean)[rows] + normal[:, columns] @ lower.T
        for column, (i, name) in enumerate(known):
            logarithmic = prior.transforms[i] == "log"
            values[name] = np.exp(drawn[:, column]) if logarithmic else drawn[:, column]
    return Rigs(**values)


def draw_rigs(n: int, seed: int, prior: RigPrior | None = None) -> Rigs:
    """`n` rigs as they might be.

    Args:
        n: how many.
        seed: seed of the draw.
        prior: what is believed of this rig; what it does not name, and all without one, spreads as
            `PARAMETERS` says.

    >>> rigs = draw_rigs(2000, seed=1)
    >>> bool(np.isclose(np.median(rigs.ua_w_k), 8.5, rtol=0.05))
    True
    """
    normal = np.random.default_rng(seed).standard_normal((n, len(PARAMETERS)))
    return _scores(normal, prior)


def usual_rig(prior: RigPrior | None = None) -> Rigs:
    """One rig with every parameter at its median.

    >>> usual_rig().ua_w_k, usual_rig().supercooling_k.round(2)
    (array([8.5]), array([0.34]))
    """
    normal = np.zeros((1, len(PARAMETERS)))
    normal[0, [p.spread == "half" for p in PARAMETERS]] = _HALF_NORMAL_MEDIAN
    return _scores(normal, prior)


def default_prior(names: tuple[str, ...], model_version: str) -> RigPrior:
    """What is believed of an unknown rig, for the parameters named (all of them `log`).

    >>> default_prior(("ua_w_k",), "demo").transforms
    ('log',)
    """
    chosen = [next(p for p in PARAMETERS if p.name == name) for name in names]
    return RigPrior(
        names=names,
        transforms=("log",) * len(names),
        mean=tuple(math.log(p.usual) for p in chosen),
        covariance=tuple(
            tuple(p.sd**2 if row == column else 0.0 for column in range(len(chosen)))
            for row, p in enumerate(chosen)
        ),
        model_version=model_version,
    )
