"""What must hold of ice, water and salt put together, and of how that ages."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics.ageing import ageing, mixed, put_in_j
from rigmon.physics.bath import enthalpy_j
from rigmon.physics.salts import Salt, salt
from rigmon.records import SaltName

NACL = salt(SaltName.SODIUM_CHLORIDE)
salts = st.sampled_from(SaltName).map(salt)


@given(
    st.floats(100.0, 5000.0), st.floats(-20.0, 0.0), st.floats(0.0, 1000.0), st.floats(1.0, 2000.0)
)
def test_mixing_keeps_the_energy_put_in(
    ice_g: float, ice_c: float, water_g: float, salt_g: float
) -> None:
    """Ice, water and salt at their own temperatures bring what the mixed bath has, to 1e-9."""
    at = mixed(NACL, ice_g, ice_c, water_g, 15.0, salt_g, 20.0)
    after = enthalpy_j(NACL, at.ice_g, at.water_g, at.dissolved_g, at.undissolved_g, at.t_c)
    apart = put_in_j(NACL, ice_g, ice_c, water_g, 15.0, salt_g, 20.0)
    assert after == pytest.approx(apart, rel=1e-9, abs=1e-9 * 333.0 * ice_g)


def test_warm_water_alone_mixes_by_its_mass() -> None:
    """Without ice and salt two waters are the one that was poured."""
    assert mixed(NACL, 0.0, 0.0, 800.0, 15.0, 0.0, 20.0).t_c == pytest.approx(15.0)


def test_colder_ice_leaves_more_ice() -> None:
    """Colder ice to begin with melts less until the bath is at rest."""
    warm = mixed(NACL, 3000.0, 0.0, 0.0, 0.0, 600.0, 20.0)
    cold = mixed(NACL, 3000.0, -18.0, 0.0, 0.0, 600.0, 20.0)
    assert cold.t_c <= warm.t_c
    assert cold.ice_g > warm.ice_g + 50.0


@given(salts, st.floats(1.0, 15.0))
def test_ageing_warms_and_spends_the_ice(of: Salt, ratio: float) -> None:
    """Along the curve the bath never cools and ice never forms; the last ice ends it all."""
    curve = ageing(of, 3000.0, -3.0, 0.0, 0.0, 3000.0 / ratio, 20.0, points=20)
    assert np.all(np.diff(curve.heat_j) > 0.0)
    assert np.all(np.diff(curve.t_c) >= -1e-9)
    assert np.all(np.diff(curve.ice_g) <= 1e-9)
    assert curve.heat_j[0] == 0.0
    assert np.all(curve.ice_g[curve.heat_j > curve.last_ice_j * (1.0 + 1e-9)] < 1e-6)
    if curve.last_ice_j > 0.0:
        assert curve.ice_g[curve.heat_j < curve.last_ice_j * (1.0 - 1e-9)].min() > 0.0
        assert curve.t_c[20] == pytest.approx(curve.last_ice_c, abs=1e-6)
        assert curve.t_c[-1] > curve.last_ice_c


def test_ageing_begins_at_the_mixed_bath() -> None:
    """The first point is the bath as mixed."""
    curve = ageing(NACL, 3000.0, -3.0, 100.0, 10.0, 500.0, 20.0)
    at = mixed(NACL, 3000.0, -3.0, 100.0, 10.0, 500.0, 20.0)
    assert curve.t_c[0] == pytest.approx(at.t_c)
    assert curve.ice_g[0] == pytest.approx(at.ice_g)


def test_last_ice_goes_at_the_strength_of_all_salt_in_all_water() -> None:
    """With the salt all dissolved the last ice melts at the freezing point of the whole."""
    curve = ageing(NACL, 3000.0, 0.0, 300.0, 0.0, 600.0, 0.0)
    assert curve.last_ice_c == pytest.approx(NACL.freezing_c(100.0 * 600.0 / 3900.0))


def test_a_bath_without_ice_ages_from_where_it_is() -> None:
    """Where mixing melts all ice, or there is none, there is no last ice to wait for."""
    curve = ageing(NACL, 0.0, 0.0, 2000.0, 20.0, 300.0, 20.0)
    assert curve.last_ice_j == 0.0
    assert curve.last_ice_c == curve.t_c[0]
    assert curve.ice_g.max() == pytest.approx(0.0, abs=1e-9)
    assert curve.t_c[-1] > curve.t_c[0]
