"""What is said of a run: states, forecasts, alarms, problems, and what the run taught."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from rigmon.records.incoming import By, DetailValue, MarkWord
from rigmon.records.setup import RigPrior

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Stage(StrEnum):
    """Where a run stands."""

    BASE = "base"
    READY = "ready"
    BEAT = "beat"
    REST = "rest"
    PACK = "pack"
    HARDEN = "harden"
    DONE = "done"


class Quality(StrEnum):
    """What a probe's readings are worth just now, best first."""

    GOOD = "good"
    NOISY = "noisy"
    STUCK = "stuck"
    IMPLAUSIBLE = "implausible"
    SILENT = "silent"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the estimator holds true at one time; None where it cannot say.

    Every field ending in `_sd` is the standard deviation of the one before it.

    Args:
        t: run time [s].
        bath_c: temperature of the bath [°C].
        mix_c: temperature of the mix [°C].
        frozen_pct: share of the mix's water that is ice [%].
        cooling_w: heat through the inner bowl's wall out of the mix [W].
        ice_left_g: ice left in the bath [g].
        brine_pct: salt in the brine, by mass [%].
        salt_g: all salt put into the bath, dissolved or not [g].
        brine_water_g: water in the brine [g].
        mix_offset_k: how much warmer the mix probe reads than the mix is [K].
        unsaid: what could not be estimated and why, by field.
    """

    t: float
    bath_c: float | None = None
    bath_c_sd: float | None = None
    mix_c: float | None = None
    mix_c_sd: float | None = None
    frozen_pct: float | None = None
    frozen_pct_sd: float | None = None
    cooling_w: float | None = None
    cooling_w_sd: float | None = None
    ice_left_g: float | None = None
    ice_left_g_sd: float | None = None
    brine_pct: float | None = None
    brine_pct_sd: float | None = None
    salt_g: float | None = None
    brine_water_g: float | None = None
    mix_offset_k: float | None = None
    mix_offset_k_sd: float | None = None
    unsaid: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class State:
    """The run at one time, for every screen."""

    at: float
    stage: Stage
    round: int
    estimate: Estimate
    quality: Mapping[str, Quality]


class Event(StrEnum):
    """What can be forecast."""

    PLATEAU = "plateau"
    BATH_LIMIT = "bath-limit"
    ICE_GONE = "ice-gone"
    REST_OVER = "rest-over"
    MELT_ONSET = "melt-onset"
    BASE_COLD = "base-cold"
    HARDENED = "hardened"


@dataclass(frozen=True, slots=True)
class Forecast:
    """When an event will happen if the maker carries on as now.

    Args:
        at: run time at which it was made [s].
        event: what.
        round: which round.
        p10: run time by which it happens with probability 0.1 [s]; None beyond the horizon, or
            where nothing can be said yet.
        p50: the same for 0.5.
        p90: the same for 0.9.
    """

    at: float
    event: Event
    round: int
    p10: float | None = None
    p50: float | None = None
    p90: float | None = None


class Priority(StrEnum):
    """How soon an alarm wants an answer."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class AlarmState(StrEnum):
    """Where an alarm stands in its life (ISA-18.2)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned to normal unacknowledged"
    RETURNED = "returned to normal"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that changed its state.

    Args:
        at: run time [s].
        code: which, from the one table of alarms.
        priority: how soon it wants an answer.
        state: what it is now.
        text: what to do, in the few words before the first full stop; then why.
        advice: the same in figures.
    """

    at: float
    code: str
    priority: Priority
    state: AlarmState
    text: str
    advice: Mapping[str, DetailValue] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Notice:
    """Something worth knowing that asks for no answer: said once, without a sound.

    Args:
        at: run time [s].
        code: which, from the one table of alarms and notices.
        text: one or two sentences.
    """

    at: float
    code: str
    text: str


@dataclass(frozen=True, slots=True)
class MarkHeard:
    """A mark as it was understood.

    Args:
        at: run time [s].
        word: what.
        by: who.
        detail: amounts and words.
        text: what the program made of it, in one sentence.
    """

    at: float
    word: MarkWord
    by: By
    detail: Mapping[str, DetailValue]
    text: str


@dataclass(frozen=True, slots=True)
class Problem:
    """A fact that limits what can be said.

    Args:
        at: run time [s].
        what: its code.
        probe: the probe it is about, or "".
        text: one or two sentences: what is wrong, what to look at.
    """

    at: float
    what: str
    probe: str
    text: str


@dataclass(frozen=True, slots=True)
class Summary:
    """The run in figures, at its end.

    Args:
        at: run time of the last reading or mark [s].
        figures: by name, with the unit in the name.
    """

    at: float
    figures: Mapping[str, Any]


Said = State | Forecast | Alarm | Notice | MarkHeard | Problem | Summary
"""What a monitor says."""


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
