"""Thermocouples: ranges, both directions, numbers and arrays."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigmon.probes.its90 import CURVES
from rigmon.probes.thermocouple import (
    EMF_RANGE_MV,
    emf_mv,
    seebeck_uv_per_k,
    temperature_c,
)

KINDS = st.sampled_from(tuple(CURVES))


@st.composite
def kind_and_temperatures(draw: st.DrawFn, n: int = 1) -> tuple[str, list[float]]:
    """A type and some temperatures within its range."""
    kind = draw(KINDS)
    within = st.floats(CURVES[kind].low_c, CURVES[kind].high_c)
    return kind, draw(st.lists(within, min_size=n, max_size=n))


@given(kind_and_temperatures())
@settings(deadline=None)
def test_there_and_back_is_the_same_temperature(case: tuple[str, list[float]]) -> None:
    """A temperature turned into emf and back must be itself within 1e-6 K, at the ends too."""
    kind, (t_c,) = case
    assert temperature_c(emf_mv(t_c, kind), kind) == pytest.approx(t_c, abs=1e-6)


@given(KINDS, st.floats(0.0, 1.0))
@settings(deadline=None)
def test_back_and_there_is_the_same_emf(kind: str, share: float) -> None:
    """An emf turned into a temperature and back must be itself within 1e-7 mV (3 µK)."""
    low_mv, high_mv = EMF_RANGE_MV[kind]
    mv = min(low_mv + share * (high_mv - low_mv), high_mv)
    assert emf_mv(temperature_c(mv, kind), kind) == pytest.approx(mv, abs=1e-7)


@given(kind_and_temperatures(n=2))
@settings(deadline=None)
def test_warmer_never_means_less_emf(case: tuple[str, list[float]]) -> None:
    """The emf must rise with the temperature, or one emf would have two temperatures."""
    kind, temperatures = case
    colder, warmer = sorted(temperatures)
    if warmer - colder > 1e-6:
        assert emf_mv(colder, kind) < emf_mv(warmer, kind)


@given(kind_and_temperatures(n=5))
@settings(deadline=None)
def test_an_array_gives_what_its_numbers_give(case: tuple[str, list[float]]) -> None:
    """An array must keep its shape and hold the same values as single calls."""
    kind, temperatures = case
    array = np.array([temperatures, temperatures])
    emfs_mv = emf_mv(array, kind)
    assert emfs_mv.shape == array.shape
    assert emfs_mv[0] == pytest.approx([emf_mv(t_c, kind) for t_c in temperatures], abs=1e-12)
    assert temperature_c(emfs_mv, kind) == pytest.approx(array, abs=1e-6)
    assert seebeck_uv_per_k(array, kind)[1] == pytest.approx(
        [seebeck_uv_per_k(t_c, kind) for t_c in temperatures], abs=1e-9
    )


@given(kind_and_temperatures())
@settings(deadline=None)
def test_sensitivity_is_the_slope_of_the_emf(case: tuple[str, list[float]]) -> None:
    """The Seebeck coefficient must be the difference quotient, away from joints and ends."""
    kind, (t_c,) = case
    curve = CURVES[kind]
    joints = (curve.low_c, *(piece.upto for piece in curve.emf))
    if min(abs(t_c - joint) for joint in joints) > 0.02:
        quotient = 1000.0 * (emf_mv(t_c + 0.01, kind) - emf_mv(t_c - 0.01, kind)) / 0.02
        assert seebeck_uv_per_k(t_c, kind) == pytest.approx(quotient, abs=1e-4)


@pytest.mark.parametrize("kind", sorted(CURVES))
@pytest.mark.parametrize("odd", [-1e-6, nan, inf, -inf, 1e9])
def test_what_lies_outside_the_range_is_refused(kind: str, odd: float) -> None:
    """A value below, above or no number at all must be refused."""
    for function, low in (
        (emf_mv, CURVES[kind].low_c),
        (seebeck_uv_per_k, CURVES[kind].low_c),
        (temperature_c, EMF_RANGE_MV[kind][0]),
    ):
        with pytest.raises(ValueError, match=f"outside the range of type {kind}"):
            function(low + odd, kind)


@pytest.mark.parametrize("odd", [nan, -inf, 1e9])
def test_one_value_outside_the_range_refuses_its_array(odd: float) -> None:
    """An array must be refused for a single odd value, and the sentence must name that value."""
    for function in (emf_mv, seebeck_uv_per_k, temperature_c):
        with pytest.raises(ValueError, match=f"^{odd:.6g} ".replace("+", r"\+")):
            function(np.array([1.0, odd, 2.0]), "T")


def test_an_unknown_type_is_refused_with_those_there_are() -> None:
    """The sentence must name what was asked for and every type that there is."""
    with pytest.raises(ValueError, match=r"'R' .* T, K, J, E, N"):
        emf_mv(20.0, "R")


def test_whole_numbers_in_an_array_lose_nothing() -> None:
    """An array of integers must give the same emf as the same numbers with a point."""
    whole = np.array([-20, 0, 25])
    assert emf_mv(whole, "K").tolist() == emf_mv(whole.astype(np.float64), "K").tolist()
