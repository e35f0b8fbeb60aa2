"""The inner bowl: freezing, the wall, the beaters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from rigmon.records import Mark, MarkWord
from rigmon.virtual.bowl import Bowl
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.tables import MixTables


def stirred(mix: MixTables, parameters: RigParameters) -> Bowl:
    """A kilogram of mix at 2 °C with the beaters running."""
    bowl = Bowl(parameters, mix, metal_c=2.0)
    bowl.pour(1000.0, 2.0)
    bowl.speed = 1.0
    return bowl


def test_a_mix_without_crystals_falls_below_its_freezing_point_and_jumps_back(
    typical_mix: MixTables,
) -> None:
    """In a mild bath no crystal comes off the wall, so the whole mix must nucleate by itself."""
    gentle = RigParameters(supercool_k=0.9, beater_w=4.0, stiff_w=20.0, open_w_k=0.4)
    bowl = stirred(typical_mix, gentle)
    trace = []
    for _ in range(4000):
        bowl.step(1.0, -5.5, 15.0, 2.0)
        trace.append(bowl.temperature_c())
    coldest = trace.index(min(trace))
    assert trace[coldest] == pytest.approx(typical_mix.initial_c - 0.9, abs=0.1)
    assert max(trace[coldest : coldest + 60]) > trace[coldest] + 0.6


def test_the_mix_is_neither_made_nor_lost(beaten_rig: Callable[..., VirtualRig]) -> None:
    """What freezes to the wall and what is beaten add up to what was poured."""
    rig = beaten_rig()
    rig.run(1200.0)
    assert rig.bowl.layer_g > 20.0
    assert rig.bowl.mass_g + rig.bowl.layer_g == pytest.approx(1200.0, rel=1e-12)


def test_scraping_brings_the_wall_into_the_mix(beaten_rig: Callable[..., VirtualRig]) -> None:
    """After a scrape the mix holds more ice, the wall less, and all of it as much as before."""
    rig = beaten_rig()
    rig.run(900.0)
    bowl = rig.bowl
    before = (bowl.frozen_pct(), bowl.mean_frozen_pct(), bowl.layer_g)
    rig.do(Mark(900.0, MarkWord.SCRAPE))
    assert bowl.frozen_pct() > before[0] + 1.0
    assert bowl.mean_frozen_pct() == pytest.approx(before[1], abs=0.5)
    assert bowl.layer_g < 0.2 * before[2]


def test_a_stiffening_mix_takes_more_of_the_beaters_and_gives_less_to_the_wall(
    beaten_rig: Callable[..., VirtualRig],
) -> None:
    """Heat of the beaters rises and the film's conductance falls as ice forms."""
    rig = beaten_rig()
    rig.run(300.0)
    liquid = (rig.bowl.beaters_w(), rig.bowl.inside_w_k())
    rig.run(1500.0)
    assert rig.bowl.beaters_w() > 1.3 * liquid[0]
    assert rig.bowl.inside_w_k() < 0.7 * liquid[1]


def test_half_the_speed_makes_a_quarter_of_the_beaters_heat(typical_mix: MixTables) -> None:
    """Power in a thick liquid goes with the square of the speed."""
    bowl = stirred(typical_mix, RigParameters())
    full = bowl.beaters_w()
    bowl.speed = 0.5
    assert bowl.beaters_w() == pytest.approx(full / 4.0)


@pytest.mark.parametrize(
    ("name", "better", "worse"),
    [("ua_w_k", 12.0, 6.0), ("sweep_s", 70.0, 500.0), ("stiff_w", 20.0, 70.0)],
)
def test_what_helps_freezing_helps(
    beaten_rig: Callable[..., VirtualRig], name: str, better: float, worse: float
) -> None:
    """A better wall, closer beaters and a gentler mixer each leave more ice after 20 minutes."""
    frozen = []
    for value in (better, worse):
        rig = beaten_rig(replace(RigParameters(), **{name: value}))
        rig.run(1200.0)
        frozen.append(rig.bowl.frozen_pct())
    assert frozen[0] > frozen[1] + 1.0


def test_more_salt_freezes_more(beaten_rig: Callable[..., VirtualRig]) -> None:
    """A bath of 4 to 1 has more of the mix frozen after 20 minutes than one of 8 to 1."""
    strong, weak = beaten_rig(salt_g=750.0), beaten_rig(salt_g=375.0)
    strong.run(1200.0)
    weak.run(1200.0)
    assert strong.bowl.mean_frozen_pct() > weak.bowl.mean_frozen_pct() + 1.0


def test_air_is_beaten_in_and_never_past_its_limit(
    beaten_rig: Callable[..., VirtualRig],
) -> None:
    """Overrun grows while the mix is beaten."""
    rig = beaten_rig(RigParameters(air_max_pct=25.0))
    rig.run(300.0)
    early = rig.bowl.air_pct
    rig.run(1800.0)
    assert 0.0 < early < rig.bowl.air_pct < 25.0
