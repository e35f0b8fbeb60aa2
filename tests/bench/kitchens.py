"""One virtual rig on many days with other ice and salt: what is seen of it, and what is true."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import default_rng
from numpy.typing import NDArray

from rigmon import __version__
from rigmon.config import Units
from rigmon.config.load import CLASS_1_TOLERANCE_K
from rigmon.estimate.cloud import PRIOR
from rigmon.records import (
    By,
    IceKind,
    Mark,
    MarkWord,
    Place,
    ProbeSetup,
    RigPrior,
    RigSetup,
    RunFit,
    SaltKind,
)
from rigmon.review.designs import Design
from rigmon.review.follow import follow
from rigmon.review.logged import Logged
from rigmon.review.measuring import measures_of
from rigmon.review.tried import LeftOut, Tried, tried
from rigmon.store.entries import RunHeader, RunRow, RunState
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.parameters import draw_parameters, varied
from rigmon.virtual.probe import draw_probe
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.scenario import Scenario, mix_tables, recipe_of
from rigmon.virtual.session import VirtualSession

Array = NDArray[np.float64]

BEATEN_S = 1800.0
"""A batch is beaten for so long [s]."""
_STEP_S = 5.0
_BEGINS_S = 15.0
"""From the pour to the beaters [s]."""


def kitchen(seed: int) -> Scenario:
    """A drawn rig with its probes, and the batch that its maker usually makes."""
    rng = default_rng((36, seed))
    usual = drawn_scenario(1000 * seed)
    channels = tuple(
        replace(one, parameters=draw_probe(rng, one.kind, may_touch=one.place is Place.MIX))
        for one in usual.channels
    )
    plan = replace(usual.plan, slow_s=0.0, beat_for_s=BEATEN_S)
    return replace(usual, plan=plan, channels=channels, parameters=draw_parameters(rng))


def kinds_of(of: Scenario) -> tuple[IceKind, SaltKind]:
    """Form of the ice and grain of the salt of a batch."""
    bath = of.plan.ice_in
    return IceKind(str(bath["ice_kind"])), SaltKind(str(bath["salt_kind"]))


def with_design(of: Scenario, design: Design) -> Scenario:
    """The same batch with other ice and salt."""
    bath = {
        **of.plan.ice_in,
        "ice_g": design.ice_g,
        "salt_g": design.salt_g,
        "ice_kind": design.ice_kind,
        "salt_kind": design.salt_kind,
    }
    return replace(of, plan=replace(of.plan, ice_in=bath))


def on_a_day(of: Scenario, seed: int) -> Scenario:
    """The batch as one day has it: mix and room a little warmer or colder, another mass."""
    rng = default_rng((37, seed))
    mix_g, mix_c = float(of.plan.pour["mix_g"]), float(of.plan.pour["mix_c"])
    pour = {
        "mix_g": round(mix_g * float(np.exp(0.04 * rng.standard_normal())), -1),
        "mix_c": round(max(mix_c + 1.0 * float(rng.standard_normal()), 1.0), 1),
    }
    room_c = of.room_c + 1.5 * float(rng.standard_normal())
    return replace(of, plan=replace(of.plan, pour=pour), room_c=room_c)


def true_frozen(of: Scenario, seed: int | None = None) -> tuple[Array, Array]:
    """Time from the pour [s] and true frozen share [%] of a batch, on a day or the usual one."""
    assert of.parameters is not None
    parameters = replace(of.parameters, supercool_k=0.5)
    if seed is not None:
        parameters = varied(of.parameters, default_rng((38, seed)))
    rig = VirtualRig(parameters, mix_tables(of, parameters), of.room_c, of.bowl_c, default_rng(1))
    pour_s = of.plan.pour_s
    rig.do(Mark(0.0, MarkWord.ICE_IN, By.MAKER, of.plan.ice_in))
    rig.run(pour_s)
    rig.do(Mark(pour_s, MarkWord.POUR, By.MAKER, of.plan.pour))
    rig.run(pour_s + _BEGINS_S)
    rig.do(Mark(rig.t, MarkWord.BEAT_START))
    t, frozen = [0.0], [0.0]
    while rig.t < pour_s + BEATEN_S:
        rig.run(rig.t + _STEP_S)
        t.append(rig.t - pour_s)
        frozen.append(rig.bowl.frozen_pct())
    return np.array(t), np.array(frozen)


def reached_min(t: Array, frozen: Array, target_pct: float) -> float:
    """When a share is first frozen [min]; half as long again as it was beaten if never."""
    row = int(np.argmax(frozen >= target_pct))
    if frozen[row] < target_pct:
        return 1.5 * BEATEN_S / 60.0
    share = (target_pct - frozen[row - 1]) / (frozen[row] - frozen[row - 1])
    return float(t[row - 1] + share * (t[row] - t[row - 1])) / 60.0


def setup_of(of: Scenario) -> RigSetup:
    """What the program is told of a rig: its probes' types."""
    return RigSetup(
        probes=tuple(
            ProbeSetup(one.name, one.place, one.kind, uncertainty_k=CLASS_1_TOLERANCE_K[one.kind])
            for one in of.channels
        ),
        room_c=of.room_c,
    )


@dataclass(frozen=True, slots=True)
class Watched:
    """A batch as the program saw it.

    Args:
        tried: how it can be held against others.
        fit: what it says of the rig.
        true_min: when the share of `tried` was truly reached [min].
    """

    tried: Tried | LeftOut
    fit: RunFit | None
    true_min: float


def watched(of: Scenario, seed: int, target_pct: float, prior: RigPrior = PRIOR) -> Watched:
    """Play a batch and measure it as a logged run is measured."""
    session = VirtualSession(of, seed)
    recipe, until_s = recipe_of(of), of.plan.pour_s + BEATEN_S
    items = tuple((item.t, item) for item in session.items(until_s))
    name = f"{of.rig}-{seed}"
    header = RunHeader(name, of.rig, float(seed), of.recipe, "", True, __version__)
    row = RunRow(header, RunState.ENDED, until_s, until_s, len(items), 0)
    logged = Logged(row, setup_of(of), recipe, prior, 0, Units(), items, frozenset(), ())
    track = follow(logged)
    seen = tried(measures_of(logged, track), recipe, target_pct)
    share = seen.frozen_pct if isinstance(seen, Tried) else target_pct
    truths = [session.truth(t) for t in np.arange(of.plan.pour_s, until_s, _STEP_S)]
    t = np.array([one.t - of.plan.pour_s for one in truths])
    true_min = reached_min(t, np.array([one.frozen_pct for one in truths]), share)
    return Watched(seen, track.fit, true_min)
