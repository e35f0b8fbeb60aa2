"""Rigs drawn from what is believed of them."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from rigmon.physics.rigparameters import PARAMETERS, Rigs, default_prior, draw_rigs, usual_rig
from rigmon.records import RigPrior


def test_every_parameter_has_a_field_a_unit_and_a_basis() -> None:
    """The table and the ensemble name the same parameters in the same order, each explained."""
    assert [p.name for p in PARAMETERS] == [f.name for f in dataclasses.fields(Rigs)]
    assert all(p.what and p.basis and p.usual > 0.0 and p.sd > 0.0 for p in PARAMETERS)


def test_draws_spread_as_the_table_says() -> None:
    """Medians and logarithmic spreads of 5,000 rigs are those of the table, within 10 %."""
    rigs = draw_rigs(5000, 1)
    for p in PARAMETERS:
        values = getattr(rigs, p.name)
        assert abs(np.median(values) / p.usual - 1.0) < 0.1
        if p.spread == "log":
            assert abs(np.log(values).std() / p.sd - 1.0) < 0.1


def test_a_known_rig_is_drawn_from_what_is_known() -> None:
    """A prior moves and narrows what it names, keeps its correlation, and leaves the rest."""
    prior = RigPrior(
        names=("plateau_s", "beater_w", "ua_w_k"),
        transforms=("log",) * 3,
        mean=(6.0, math.log(40.0), math.log(6.0)),
        covariance=((1.0, 0.0, 0.0), (0.0, 0.01, 0.008), (0.0, 0.008, 0.01)),
        model_version="test",
    )
    rigs = draw_rigs(4000, 2, prior)
    assert abs(np.median(rigs.ua_w_k) - 6.0) < 0.1
    assert abs(np.log(rigs.beater_w).std() - 0.1) < 0.01
    assert abs(np.corrcoef(np.log(rigs.ua_w_k), np.log(rigs.beater_w))[0, 1] - 0.8) < 0.03
    assert np.array_equal(rigs.leak_w_k, draw_rigs(4000, 2).leak_w_k)
    assert usual_rig(prior).ua_w_k[0] == math.exp(prior.mean[2])


def test_the_same_seed_draws_the_same_rigs() -> None:
    """A plan can be made again to the last digit."""
    assert np.array_equal(draw_rigs(10, 4).ua_w_k, draw_rigs(10, 4).ua_w_k)


def test_an_unknown_rig_is_the_table() -> None:
    """The prior of an unknown rig draws what the table draws."""
    prior = default_prior(("ua_w_k", "stiffening"), "test")
    assert np.allclose(draw_rigs(50, 3, prior).stiffening, draw_rigs(50, 3).stiffening)
