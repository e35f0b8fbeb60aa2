"""Logged batches of drawn virtual rigs, and what was true of them."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from rigmon.config import Units, run_document
from rigmon.config.load import CLASS_1_TOLERANCE_K
from rigmon.estimate.cloud import PRIOR
from rigmon.records import IceKind, Mark, MarkWord, ProbeSetup, Reading, RigSetup, SaltKind
from rigmon.store import RunHeader, RunLog
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.maker import Rest
from rigmon.virtual.scenario import Scenario, recipe_of
from rigmon.virtual.session import VirtualSession

STARTED = 1_783_173_600.0
DAY_S = 86_400.0
REST_S, LONG_REST_S = 2400.0, 5400.0


@dataclass(frozen=True, slots=True)
class Real:
    """What was true of a batch.

    Args:
        ua_w_k: heat through the wall over the pull across it, in liquid mix [W/K].
        wall_end_w_k: the same as round 1 ended [W/K].
        beater_w: heat of beaters and air into liquid mix [W].
        beater_end_w: the same as round 1 ended [W].
        leak_w_k: what the outer bowl let in [W/K].
        mix_offset_k: what the mix probe read too much while the mix froze [K].
        freezing_after_s: when the mix began to freeze, from the pour [s].
        frozen_pct: frozen share as round 1 ended [%].
        heat_kj: heat through the wall in round 1 [kJ].
        ice_left_g: ice left as the bowl was lifted out [g].
        salt_left_g: salt undissolved then [g].
    """

    ua_w_k: float
    wall_end_w_k: float
    beater_w: float
    beater_end_w: float
    leak_w_k: float
    mix_offset_k: float
    freezing_after_s: float
    frozen_pct: float
    heat_kj: float
    ice_left_g: float
    salt_left_g: float


def scenario_of(seed: int, *, weak: bool = False) -> Scenario:
    """A drawn batch: round 1 for 20 min, then the bowl is lifted out and the bath stands alone.

    Args:
        seed: all chance in it.
        weak: a bath of fine salt, 7 to 10 to 1 by mass, which all dissolves.
    """
    drawn = drawn_scenario(seed)
    plan = replace(drawn.plan, beat_for_s=600.0 if weak else 1200.0)
    if weak:
        rng = np.random.default_rng((41, seed))
        ice_g = float(rng.uniform(2500.0, 3500.0))
        bath = {
            **plan.ice_in,
            "ice_g": round(ice_g, -1),
            "salt_g": round(ice_g / float(rng.uniform(7.0, 10.0)), -1),
            "ice_kind": IceKind.CRUSHED,
            "salt_kind": SaltKind.FINE,
        }
        plan = replace(plan, ice_in=bath)
    rest = Rest("bowl", for_s=LONG_REST_S if weak else REST_S, round_2_s=60.0)
    return replace(drawn, plan=replace(plan, rest=rest))


def setup_of(scenario: Scenario, rig_id: str) -> RigSetup:
    """A rig of which nothing is known but its probes' types, and the room."""
    probes = tuple(
        ProbeSetup(
            channel.name,
            channel.place,
            channel.kind,
            uncertainty_k=CLASS_1_TOLERANCE_K[channel.kind],
        )
        for channel in scenario.channels
    )
    return RigSetup(id=rig_id, probes=probes, room_c=round(scenario.room_c))


def put(
    log: RunLog, seed: int, rig_id: str, day: int = 0, *, weak: bool = False
) -> tuple[str, Real]:
    """Play a batch into a log, nobody watching; returns the run's id and what was true."""
    scenario = scenario_of(seed, weak=weak)
    session = VirtualSession(scenario, seed)
    rest_s = scenario.plan.rest.for_s if scenario.plan.rest is not None else 0.0
    until_s = scenario.plan.pour_s + scenario.plan.beat_for_s + rest_s
    items = session.items(until_s)
    started = STARTED + DAY_S * day
    moment = datetime.datetime.fromtimestamp(started, datetime.UTC)
    setup = setup_of(scenario, rig_id)
    recipe = recipe_of(scenario)
    document = run_document(setup, recipe, PRIOR, 0, "0", Units(), moment)
    run_id = f"{rig_id}-{moment:%Y%m%dT%H%M%SZ}"
    log.begin(RunHeader(run_id, rig_id, started, recipe.name, document, True, "0"))
    clock = -math.inf
    for item in items:
        log.add(run_id, item, clock)
        clock = max(clock, item.t)
    log.end(run_id, clock)
    return run_id, _real(scenario, session, items)


def _real(scenario: Scenario, session: VirtualSession, items: Sequence[Reading | Mark]) -> Real:
    did = {mark.word: mark.t for mark in reversed(session.done)}
    pour_s, stop_s = did[MarkWord.POUR], did[MarkWord.BEAT_STOP]
    lifted_s = did.get(MarkWord.REST_START, stop_s)
    times = np.arange(pour_s + 1.0, stop_s, 1.0)
    truths = [session.truth(float(t)) for t in times]
    frozen = np.array([one.frozen_pct for one in truths])
    wall_w = np.array([one.cooling_w for one in truths])
    pull = np.array([one.mix_c - one.bath_c for one in truths])
    beaten = np.array([one.beaters_w for one in truths])
    air = session.rig.parameters.open_w_k * np.array(
        [scenario.room_c - one.mix_c for one in truths]
    )
    began = int(np.argmax(frozen > 1.0)) if np.any(frozen > 1.0) else times.size - 1
    liquid = (times > pour_s + 60.0) & (np.arange(times.size) < began)
    last = slice(-20, None)
    mixed = dict(zip(times.round().astype(int), [one.mix_c for one in truths], strict=True))
    off = [
        item.value - mixed[round(item.t)]
        for item in items
        if isinstance(item, Reading)
        and item.probe == "mix"
        and item.value is not None
        and round(item.t) in mixed
        and item.t > times[began] + 60.0
    ]
    at_rest = session.truth(lifted_s)
    return Real(
        ua_w_k=float(np.mean(wall_w[liquid] / pull[liquid])),
        wall_end_w_k=float(np.mean(wall_w[last] / pull[last])),
        beater_w=float(np.mean((beaten + air)[liquid])),
        beater_end_w=float(np.mean((beaten + air)[last])),
        leak_w_k=session.rig.parameters.leak_w_k,
        mix_offset_k=float(np.median(off)) if off else math.nan,
        freezing_after_s=float(times[began] - pour_s),
        frozen_pct=float(frozen[-1]),
        heat_kj=float(np.sum(wall_w)) / 1000.0,
        ice_left_g=at_rest.ice_left_g,
        salt_left_g=at_rest.grain_g,
    )


def log_at(folder: str) -> RunLog:
    """A new log in a folder."""
    return RunLog(Path(folder) / "runs.sqlite", "NORMAL")
