"""The thermocouple functions against an independent package, thermocouple-its90."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from thermocouple_its90 import get

from rigmon.probes.its90 import CURVES
from rigmon.probes.thermocouple import emf_mv, seebeck_uv_per_k, temperature_c

if TYPE_CHECKING:
    from tests.published.conftest import Held

KINDS = tuple(CURVES)
SOURCE = "thermocouple-its90 (independent library)"


def whole_range_c(kind: str) -> list[float]:
    """About 2000 temperatures over the type's range, its ends and 0 °C among them."""
    curve = CURVES[kind]
    even = np.linspace(curve.low_c, curve.high_c, 2001).tolist()
    return sorted({*even, *(piece.upto for piece in curve.emf)})


@pytest.mark.parametrize("kind", KINDS)
def test_emf_agrees_over_the_whole_range(held: Held, kind: str) -> None:
    """Both read the same published coefficients, so that the emf must agree to rounding."""
    theirs = [get(kind).emf(t_c) for t_c in whole_range_c(kind)]
    ours = emf_mv(np.array(whole_range_c(kind)), kind)
    for our_mv, their_mv in zip(ours.tolist(), theirs, strict=True):
        held(
            "Thermocouples T, K, J, E, N, voltage over their ranges",
            our_mv,
            their_mv,
            within=1e-11,
            unit="mV",
            source=SOURCE,
        )


@pytest.mark.parametrize("kind", KINDS)
def test_temperature_agrees_over_the_whole_range(held: Held, kind: str) -> None:
    """Both refine the inverse on the emf function, so that they must agree to 1e-6 K."""
    for t_c in whole_range_c(kind)[1:-1]:
        mv = emf_mv(t_c, kind)
        held(
            "Thermocouples T, K, J, E, N, temperature over their ranges",
            temperature_c(mv, kind),
            get(kind).temperature(mv),
            within=1e-6,
            unit="°C",
            source=SOURCE,
        )


@pytest.mark.parametrize("kind", KINDS)
def test_sensitivity_agrees_over_the_whole_range(held: Held, kind: str) -> None:
    """Apart from the joints of two pieces, where it jumps, the derivative must agree."""
    for t_c in whole_range_c(kind)[1:-1]:
        if t_c in {0.0, 760.0}:
            continue
        held(
            "Thermocouples T, K, J, E, N, sensitivity over their ranges",
            seebeck_uv_per_k(t_c, kind),
            1000.0 * get(kind).seebeck(t_c),
            within=1e-8,
            unit="µV/K",
            source=SOURCE,
        )
