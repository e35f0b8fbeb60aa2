"""A mix, a bowl simulated from its freezing curve alone, and batches of the virtual rig."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.estimator import Estimator
from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition, Estimate, Mark, MarkWord, Place, Reading, Recipe, RigSetup
from rigmon.run.probebank import ProbeBank
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.scenario import recipe_of
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.truth import Truth

POUR_S = 60.0


@dataclass(frozen=True, slots=True)
class Bowl:
    """A stirred mix in a bath, worked out from enthalpy; every second from run time 0."""

    mix_c: tuple[float, ...]
    bath_c: tuple[float, ...]
    frozen_pct: tuple[float, ...]
    offset_k: float
    seed: int

    def readings(self, upto_s: float, *, noise_k: float = 0.3) -> Iterator[Reading]:
        """What two probes say of it, the mix probe off by `offset_k`, with a slow wander."""
        rng = np.random.default_rng(self.seed)
        wander = 0.0
        for t in range(int(upto_s)):
            wander += -wander / 40.0 + float(rng.normal(0.0, 0.02))
            yield Reading(float(t), "bath", self.bath_c[t] + float(rng.normal(0.0, 0.1)))
            noisy = self.mix_c[t] + self.offset_k + wander + float(rng.normal(0.0, noise_k))
            yield Reading(float(t), "mix", noisy)


MakeBowl = Callable[..., Bowl]
MakeEstimator = Callable[..., Estimator]
Follow = Callable[..., list[tuple[Estimate, Truth]]]


@pytest.fixture(scope="session")
def typical() -> Recipe:
    """A mix of 12.5 % fat, 10.5 % milk solids and 15 % sucrose."""
    composition = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    return Recipe("typical", composition, 1200.0)


@pytest.fixture(scope="session")
def make_bowl(typical: Recipe) -> MakeBowl:
    """Simulates a bowl of the typical mix, poured after a minute, in a bath that cools down."""
    assert typical.composition is not None
    curve = freezing_curve(typical.composition)

    def make(
        offset_k: float = 0.0,
        seed: int = 0,
        ua_w_k: float = 9.0,
        beater_w: float = 25.0,
        bath_end_c: float = -19.0,
        for_s: int = 2400,
    ) -> Bowl:
        heat_j_g = curve.enthalpy_j_g(5.0)
        mix, bath, frozen = [], [], []
        for t in range(for_s):
            bath_c = bath_end_c + 17.0 * float(np.exp(-t / 150.0))
            mix_c, frozen_pct = curve.from_enthalpy(heat_j_g)
            if t >= POUR_S:
                wall_w_k = ua_w_k / (1.0 + (frozen_pct / 35.0) ** 1.5)
                heater_w = beater_w * (1.0 + frozen_pct / 30.0)
                heat_j_g -= (wall_w_k * (mix_c - bath_c) - heater_w) / 1200.0
            mix.append(mix_c)
            bath.append(bath_c)
            frozen.append(frozen_pct)
        return Bowl(tuple(mix), tuple(bath), tuple(frozen), offset_k, seed)

    return make


@pytest.fixture
def make_estimator(typical: Recipe) -> MakeEstimator:
    """Makes an estimator that knows where the probes `bath` and `mix` sit, poured if asked."""

    def make(
        recipe: Recipe | None = typical,
        setup: RigSetup | None = None,
        seed: int = 0,
        *,
        poured: bool = True,
    ) -> Estimator:
        estimator = Estimator(recipe, setup or RigSetup(), PRIOR, seed)
        for place in Place:
            estimator.place_probe(place.value, place)
        if poured:
            amounts = {"ice_g": 3000.0, "salt_g": 750.0}
            estimator.feed(Mark(0.0, MarkWord.ICE_IN, detail=amounts))
            estimator.feed(Mark(POUR_S, MarkWord.POUR))
        return estimator

    return make


@pytest.fixture(scope="session")
def follow() -> Follow:
    """Follows a drawn virtual batch: what is held true each minute of beating, and what is."""

    def followed(
        seed: int, beaten_s: float, *, recipe: bool = True
    ) -> list[tuple[Estimate, Truth]]:
        scenario = drawn_scenario(seed)
        session, bank = VirtualSession(scenario, seed), ProbeBank(RigSetup())
        estimator = Estimator(recipe_of(scenario) if recipe else None, RigSetup(), PRIOR, 0)
        due_s, found = scenario.plan.pour_s + 60.0, []
        for item in session.items(scenario.plan.pour_s + beaten_s):
            while due_s < item.t:
                found.append((estimator.at(due_s), session.truth(due_s)))
                due_s += 60.0
            if isinstance(item, Mark):
                estimator.feed(item)
                continue
            accepted, _ = bank.feed(item, beating=True)
            place = bank.place(item.probe)
            if accepted is not None and place is not None:
                estimator.place_probe(item.probe, place)
                estimator.feed(accepted)
        return found

    return followed


@pytest.fixture(scope="session")
def drawn_batches(follow: Follow) -> list[list[tuple[Estimate, Truth]]]:
    """Twenty drawn batches followed for a quarter of an hour of beating."""
    return [follow(seed, 900.0) for seed in range(20)]
