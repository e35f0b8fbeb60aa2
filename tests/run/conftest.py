"""Runs for the monitor: a bowl worked out from enthalpy, and short runs by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np
import pytest

from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition, Item, Mark, MarkWord, Reading, Recipe, RigSetup, Said
from rigmon.run.monitor import Monitor

MakeRun = Callable[..., list[Item]]
MakeMonitor = Callable[..., Monitor]
Play = Callable[[Monitor, Iterable[Item]], list[Said]]


@pytest.fixture(scope="session")
def typical() -> Recipe:
    """A mix of 12.5 % fat, 10.5 % milk solids and 15 % sucrose."""
    composition = Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3)
    return Recipe("typical", composition, 1200.0)


@pytest.fixture(scope="session")
def make_run(typical: Recipe) -> MakeRun:
    """Makes a run of the typical mix: ice at 0 s, pour at 60 s, a reading of each probe a second.

    The bath cools to `bath_end_c` and from `warms_from_s` on warms by a kelvin a minute.
    """
    assert typical.composition is not None
    curve = freezing_curve(typical.composition)

    def readings(
        for_s: int, bath_end_c: float, beater_w: float, warms_from_s: int
    ) -> Iterator[Item]:
        rng = np.random.default_rng(3)
        heat_j_g = curve.enthalpy_j_g(5.0)
        for t in range(for_s):
            bath_c = bath_end_c + 17.0 * float(np.exp(-t / 150.0))
            bath_c += max(t - warms_from_s, 0) / 60.0
            mix_c, frozen_pct = curve.from_enthalpy(heat_j_g)
            if t >= 60:
                wall_w_k = 9.0 / (1.0 + (frozen_pct / 35.0) ** 1.5)
                heater_w = beater_w * (1.0 + frozen_pct / 30.0)
                heat_j_g -= (wall_w_k * (mix_c - bath_c) - heater_w) / 1200.0
            yield Reading(float(t), "bath", bath_c + float(rng.normal(0.0, 0.1)))
            yield Reading(float(t), "mix", mix_c + 0.3 + float(rng.normal(0.0, 0.3)))

    def make(
        for_s: int = 600,
        *,
        marks: bool = True,
        bath_end_c: float = -19.0,
        beater_w: float = 25.0,
        warms_from_s: int = 100_000,
        ice_g: float = 3000.0,
        salt_g: float = 750.0,
    ) -> list[Item]:
        run = list(readings(for_s, bath_end_c, beater_w, warms_from_s))
        if marks:
            amounts = {"ice_g": ice_g, "salt_g": salt_g}
            run.append(Mark(0.0, MarkWord.ICE_IN, detail=amounts))
            run.append(Mark(60.0, MarkWord.POUR, detail={"mix_g": 1200.0}))
        return sorted(run, key=lambda item: item.t)

    return make


@pytest.fixture
def make_monitor(typical: Recipe) -> MakeMonitor:
    """Makes a monitor for the typical mix."""

    def make(
        recipe: Recipe | None = typical, setup: RigSetup | None = None, seed: int = 0
    ) -> Monitor:
        return Monitor(setup or RigSetup(), recipe, seed=seed)

    return make


@pytest.fixture(scope="session")
def play() -> Play:
    """Feeds items to a monitor and returns all that it says."""

    def played(monitor: Monitor, items: Iterable[Item]) -> list[Said]:
        return [said for item in items for said in monitor.feed(item)]

    return played
