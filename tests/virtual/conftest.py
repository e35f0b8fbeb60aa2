"""Mixes, rigs and batches that the tests of the virtual rig share."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rigmon.physics.mix import freezing_curve
from rigmon.records import Composition, Mark, MarkWord
from rigmon.virtual.catalogue import demo_scenario
from rigmon.virtual.drawn import drawn_scenario
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.tables import MixTables

BeatenRig = Callable[..., VirtualRig]


@pytest.fixture(scope="session")
def typical_mix() -> MixTables:
    """A mix of 12 % fat, 11 % milk solids and 15 % sucrose."""
    return MixTables(
        freezing_curve(Composition(water=61.7, fat=12.0, msnf=11.0, sucrose=15.0, stabiliser=0.3))
    )


@pytest.fixture(scope="session")
def beaten_rig(typical_mix: MixTables) -> BeatenRig:
    """Makes a rig with ice in, mix poured and the beaters running, at run time 0."""

    def make(parameters: RigParameters | None = None, salt_g: float = 750.0) -> VirtualRig:
        rig = VirtualRig(
            parameters or RigParameters(), typical_mix, 22.0, 10.0, np.random.default_rng(1)
        )
        rig.do(
            Mark(0.0, MarkWord.ICE_IN, detail={"ice_g": 3000.0, "salt_g": salt_g, "ice_c": -2.0})
        )
        rig.do(Mark(0.0, MarkWord.POUR, detail={"mix_g": 1200.0, "mix_c": 5.0}))
        rig.do(Mark(0.0, MarkWord.BEAT_START))
        return rig

    return make


@pytest.fixture(scope="session")
def whole_batch() -> VirtualSession:
    """The whole demo batch, played to its end without anyone listening."""
    session = VirtualSession(demo_scenario(whole=True), 7)
    session.items(40 * 3600.0)
    return session


@pytest.fixture(scope="session")
def drawn_batches() -> list[VirtualSession]:
    """Fifty drawn batches, carried on to the fifth minute of beating."""
    sessions = [VirtualSession(drawn_scenario(seed), seed) for seed in range(50)]
    for session in sessions:
        session.items(session.scenario.plan.pour_s + 15.0 + 300.0)
    return sessions
