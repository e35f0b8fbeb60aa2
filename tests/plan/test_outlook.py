"""Ranges, the probability of a recharge, and what to keep ready."""

from __future__ import annotations

import numpy as np
import pytest

from rigmon.plan.planning import plan
from rigmon.plan.values import Plan, Span, Wish, span
from rigmon.records import Recipe, SaltName


def test_quantiles_are_in_order_and_bands_hold_them(made: Plan) -> None:
    """10 % lie under 50 %, those under 90 %."""
    looks = made.outlook
    for one in (looks.ready_s, looks.plateau_s, looks.frozen_pct, looks.ice_melted_g):
        assert one.p10 is not None
        assert one.p50 is not None
        assert one.p10 <= one.p50
        assert one.p90 is None or one.p50 <= one.p90
    after = looks.t_s >= 0.0
    for band in (looks.bath_c, looks.mix_c, looks.frozen_share_pct):
        assert (band.p10[after] <= band.p50[after]).all()
        assert (band.p50[after] <= band.p90[after]).all()


def test_a_value_beyond_the_horizon_is_none() -> None:
    """Never a number that is not one."""
    assert span(np.array([1.0, np.inf, np.inf])) == Span(1.0, None, None)
    assert span(np.full(3, np.inf)) == Span(None, None, None)


def test_less_ice_makes_a_recharge_likelier(made: Plan) -> None:
    """And the bath gives out sooner."""
    few, some, many = (one.outlook for one in made.alternatives)
    assert few.recharge_p >= some.recharge_p >= many.recharge_p
    assert few.bath_limit_s.p50 is not None
    assert some.bath_limit_s.p50 is None or some.bath_limit_s.p50 > few.bath_limit_s.p50


def test_a_bath_that_gives_out_wants_a_recharge(hopeless: Plan) -> None:
    """It is called for at once, and there is ice and salt to keep ready for it."""
    looks = hopeless.outlook
    assert looks.recharge_p == 1.0
    assert looks.never_cold == 1.0
    assert looks.keep_ready.ice_g > 0.0
    assert looks.keep_ready.salt_g > 0.0


@pytest.mark.parametrize("name", list(SaltName))
def test_every_salt_can_be_planned(sorbet: Recipe, name: SaltName) -> None:
    """With ice to keep ready; a bath that cannot get as cold as the mix wants is called out."""
    looks = plan(sorbet, Wish(mix_g=800.0, salt=name)).outlook
    assert looks.keep_ready.ice_g > 0.0
    assert looks.bath_c.p50.min() < -5.0
