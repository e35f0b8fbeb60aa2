"""The whole rig: balances, determinism, and what a batch looks like."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest

from rigmon.records import Mark, MarkWord
from rigmon.virtual.parameters import RigParameters, draw_parameters, varied
from rigmon.virtual.plateau import Stiffening, beaten_on, plateau_s
from rigmon.virtual.rig import VirtualRig
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.truth import truth_of


def test_the_energy_balance_closes_over_a_whole_batch(whole_batch: VirtualSession) -> None:
    """From ice in to hardened tubs, what is in the rig is what came in."""
    rig = whole_batch.rig
    assert rig.enthalpy_j() == pytest.approx(rig.heat_in_j, rel=1e-9)


def test_the_energy_balance_closes_through_a_recharge(
    beaten_rig: Callable[..., VirtualRig],
) -> None:
    """Draining, fresh ice and salt are counted too."""
    rig = beaten_rig()
    rig.run(700.0)
    detail = {"ice_g": 900.0, "salt_g": 200.0, "drained_g": 300.0, "ice_c": -8.0}
    rig.do(Mark(700.0, MarkWord.RECHARGE, detail=detail))
    rig.run(1400.0)
    assert rig.enthalpy_j() == pytest.approx(rig.heat_in_j, rel=1e-9)


def test_shorter_steps_change_next_to_nothing(beaten_rig: Callable[..., VirtualRig]) -> None:
    """The model's own steps are short enough for what it is used for."""
    usual, fine = beaten_rig(), beaten_rig()
    usual.run(1200.0)
    while fine.t < 1200.0 - 1e-6:
        fine.step(0.25)
    a, b = truth_of(usual), truth_of(fine)
    assert a.bath_c == pytest.approx(b.bath_c, abs=0.05)
    assert a.frozen_pct == pytest.approx(b.frozen_pct, abs=0.3)
    assert a.ice_left_g == pytest.approx(b.ice_left_g, abs=10.0)


def test_a_copy_goes_its_own_way(beaten_rig: Callable[..., VirtualRig]) -> None:
    """Looking ahead leaves the rig where it was."""
    rig = beaten_rig()
    rig.run(300.0)
    before = truth_of(rig)
    ahead = beaten_on(rig, 120.0)
    assert ahead.start_s == 300.0
    assert truth_of(rig) == before
    rig.run(420.0)
    assert rig.bowl.frozen_pct() == ahead.frozen_pct[-1]


def test_the_base_case_cools_as_kitchens_know_it(beaten_rig: Callable[..., VirtualRig]) -> None:
    """Crushed ice and fine salt, 4 to 1: near -16 °C after 3 min and -18 °C after 8.

    Own simulation of another form gave -15.9 and -19.2 °C, a mix at its freezing point after some
    5 min and 10 % of it ice after 11.5 min; common practice is some 10 minutes of beating.
    """
    rig = beaten_rig(RigParameters(ua_w_k=9.0))
    rig.run(180.0)
    assert rig.bath.temperature_c() == pytest.approx(-16.0, abs=1.5)
    rig.run(480.0)
    assert rig.bath.temperature_c() == pytest.approx(-18.5, abs=1.5)
    rig.run(690.0)
    ice_in_mix_pct = rig.bowl.mean_frozen_pct() * rig.mix.water_share
    assert ice_in_mix_pct == pytest.approx(10.0, abs=4.0)


def test_drawn_rigs_differ_and_stay_within_reason(drawn_batches: list[VirtualSession]) -> None:
    """Fifty rigs after five minutes of beating: no bath below the eutectic, no mix a block."""
    truths = [session.truth() for session in drawn_batches]
    assert all(-21.3 < truth.bath_c < -4.0 for truth in truths)
    assert all(-5.0 < truth.mix_c < 7.0 for truth in truths)
    assert all(20.0 < truth.cooling_w < 260.0 for truth in truths)
    assert statistics.stdev(truth.bath_c for truth in truths) > 1.0
    assert statistics.stdev(truth.mix_c for truth in truths) > 0.5


def test_plateaus_of_drawn_rigs_spread_over_what_makers_report(
    drawn_batches: list[VirtualSession],
) -> None:
    """From 4 to 50 minutes of beating, none the same, a third of their mean apart."""
    minutes = []
    for session in drawn_batches:
        plateau = session.true_plateau_s(ahead_s=2100.0)
        assert plateau is not None
        minutes.append((plateau - session.scenario.plan.pour_s - 15.0) / 60.0)
    assert min(minutes) > 4.0
    assert max(minutes) < 50.0
    assert 10.0 < statistics.median(minutes) < 25.0
    assert 0.2 < statistics.stdev(map(math.log, minutes)) < 0.6


def test_a_plateau_is_the_first_time_from_which_too_little_is_gained() -> None:
    """A spurt after a lull puts the plateau behind the spurt."""
    lull = [0.0] * 60 + [0.02 * s for s in range(300)]
    spurt = [lull[-1] + 0.05 * s for s in range(200)]
    flat = [spurt[-1]] * 400
    frozen = tuple(lull + spurt + flat)
    found = plateau_s(Stiffening(0.0, frozen))
    assert found is not None
    gains = [frozen[i + 120] - frozen[i] for i in range(int(found), len(frozen) - 120)]
    assert max(gains) < 2.0
    assert frozen[int(found) + 119] - frozen[int(found) - 1] >= 2.0


def test_no_freezing_or_no_end_of_it_is_no_plateau() -> None:
    """Neither a mix that never freezes nor one that gains to the end has a plateau."""
    assert plateau_s(Stiffening(0.0, (0.0,) * 1000)) is None
    assert plateau_s(Stiffening(0.0, tuple(0.05 * s for s in range(1000)))) is None


def test_rest_round_2_and_hardening_go_as_they_should(whole_batch: VirtualSession) -> None:
    """Rest freezes the wall, round 2 finds its minimum and warms again, tubs end hard."""
    stop = next(m for m in reversed(whole_batch.done) if m.word is MarkWord.BEAT_START)
    rested = whole_batch.truth(stop.t)
    assert rested.mean_frozen_pct > whole_batch.truth(1800.0).mean_frozen_pct + 3.0
    assert rested.core_c > rested.wall_c
    round_2 = [whole_batch.truth(stop.t + s).mix_c for s in range(1, 150)]
    coldest = round_2.index(min(round_2))
    assert 0 < coldest < 90
    assert round_2[-1] > round_2[coldest] + 0.2
    assert whole_batch.truth().core_c < -15.0


def test_default_parameters_lie_within_what_is_drawn() -> None:
    """The middle of every range is inside it."""
    draws = [draw_parameters(np.random.default_rng(seed)) for seed in range(300)]
    for field in fields(RigParameters):
        values = [getattr(draw, field.name) for draw in draws]
        assert min(values) <= getattr(RigParameters(), field.name) <= max(values), field.name


def test_another_day_changes_the_hand_and_not_the_metal() -> None:
    """A varied rig keeps its bowls and differs in ice, salt and mixing."""
    base = RigParameters()
    other = varied(base, np.random.default_rng(3))
    assert other.area_m2 == base.area_m2
    assert other.inner_metal_j_k == base.inner_metal_j_k
    assert other.ua_w_k != base.ua_w_k
    assert abs(math.log(other.ua_w_k / base.ua_w_k)) < 0.35
