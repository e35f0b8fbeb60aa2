"""A straight-line chip is known by how it errs, and nothing else is taken for one."""

from __future__ import annotations

import pytest

from rigmon.probes.converter import straight_line_c
from rigmon.probes.fingerprint import Sight, Straight, straight
from rigmon.probes.its90 import CURVES


@pytest.mark.parametrize("board_c", [18.0, 25.0, 32.0])
@pytest.mark.parametrize("offset_k", [-0.9, 0.0, 0.9])
def test_type_t_is_known_in_ice_alone(board_c: float, offset_k: float) -> None:
    """It errs by 4 to 8 K there, which no wire of class 2 (1 K) does, whatever its own offset."""
    read_c = straight_line_c(0.0, board_c, "T") + offset_k
    assert straight([Sight(read_c, 0.0, board_c)], "T") is Straight.YES
    assert straight([Sight(read_c, 0.0)], "T") is Straight.YES
    assert straight([Sight(offset_k, 0.0, board_c)], "T") is Straight.NO


def test_type_k_needs_two_temperatures() -> None:
    """0.8 K in ice lies within class 2 (2.5 K); the slope from there to −21 °C does not."""
    sights = [Sight(straight_line_c(c, 25.0, "K"), c, 25.0) for c in (0.0, -21.1)]
    assert straight(sights[:1], "K") is Straight.OPEN
    assert straight(sights, "K") is Straight.YES


@pytest.mark.parametrize("kind", sorted(CURVES))
def test_wire_within_its_class_is_never_taken_for_a_chip(kind: str) -> None:
    """Offset and slope at the ends of class 2 are the wire's, at one temperature or at two."""
    for offset_k in (-1.0, 1.0):
        for slope in (0.9925, 1.0075):
            sights = [Sight(slope * c + offset_k, c, 25.0) for c in (0.0, -21.1)]
            assert straight(sights, kind) is not Straight.YES
            assert straight(sights[:1], kind) is not Straight.YES


def test_what_is_no_thermocouple_has_no_such_chip() -> None:
    """A digital probe that reads 6 °C in ice is in the wrong bath."""
    assert straight([Sight(6.0, 0.0, 25.0)], "other") is Straight.NO


def test_what_fits_neither_is_left_open() -> None:
    """22 °C in ice is a probe that lies on the table."""
    assert straight([Sight(22.0, 0.0, 25.0)], "T") is Straight.OPEN
