"""The thermocouple functions against an independent package, thermocouple-its90."""

from __future__ import annotations

import numpy as np
import pytest
from thermocouple_its90 import get

from rigmon.probes.its90 import CURVES
from rigmon.probes.thermocouple import emf_mv, seebeck_uv_per_k, temperature_c

KINDS = tuple(CURVES)


def whole_range_c(kind: str) -> list[float]:
    """About 2000 temperatures over the type's range, its ends and 0 °C among them."""
    curve = CURVES[kind]
    even = np.linspace(curve.low_c, curve.high_c, 2001).tolist()
    return sorted({*even, *(piece.upto for piece in curve.emf)})


@pytest.mark.parametrize("kind", KINDS)
def test_emf_agrees_over_the_whole_range(kind: str) -> None:
    """Both read the same published coefficients, so that the emf must agree to rounding."""
    theirs = [get(kind).emf(t_c) for t_c in whole_range_c(kind)]
    ours = emf_mv(np.array(whole_range_c(kind)), kind)
    assert ours == pytest.approx(np.array(theirs), abs=1e-11)


@pytest.mark.parametrize("kind", KINDS)
def test_temperature_agrees_over_the_whole_range(kind: str) -> None:
    """Both refine the inverse on the emf function, so that they must agree to 1e-6 K."""
    inside = whole_range_c(kind)[1:-1]
    emfs_mv = [emf_mv(t_c, kind) for t_c in inside]
    theirs = [get(kind).temperature(mv) for mv in emfs_mv]
    assert [temperature_c(mv, kind) for mv in emfs_mv] == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_sensitivity_agrees_over_the_whole_range(kind: str) -> None:
    """Apart from the joints of two pieces, where it jumps, the derivative must agree."""
    inside = [t_c for t_c in whole_range_c(kind)[1:-1] if t_c not in {0.0, 760.0}]
    theirs = [1000.0 * get(kind).seebeck(t_c) for t_c in inside]
    assert [seebeck_uv_per_k(t_c, kind) for t_c in inside] == pytest.approx(theirs, abs=1e-8)
