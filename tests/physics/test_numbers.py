"""What must hold of finding where a function crosses zero."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.physics.numbers import crossing


@given(st.floats(-3.0, 3.0), st.floats(0.1, 2.0))
def test_crossing_is_found_however_bent(at: float, bend: float) -> None:
    """A curve that rises slowly here and steeply there is crossed where it is zero."""
    found = crossing(lambda x: math.expm1(bend * (x - at)) / math.exp(4.0 * bend), -4.0, 4.0)
    assert math.expm1(bend * (found - at)) == pytest.approx(0.0, abs=1e-14 * math.exp(4.0 * bend))


def test_nearer_end_stands_in_where_nothing_is_crossed() -> None:
    """Above zero all along gives the lower end, below zero the upper one."""
    assert crossing(lambda x: x + 5.0, 0.0, 1.0) == 0.0
    assert crossing(lambda x: x - 5.0, 0.0, 1.0) == 1.0
