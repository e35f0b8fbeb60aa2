"""What holds our figures to published ones: it refuses, it fails, and it shows the worst point."""

from __future__ import annotations

import importlib.util
import math
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.published.conftest import Held, Row

Rows = dict[tuple[str, str], "Row"]


@pytest.fixture(scope="module")
def published(root: Path) -> Iterator[ModuleType]:
    """The conftest of the published checks."""
    path = root / "tests" / "published" / "conftest.py"
    spec = importlib.util.spec_from_file_location("published_checks", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, spec.name, module)
        spec.loader.exec_module(module)
        yield module


@pytest.fixture
def rows() -> Rows:
    """No rows yet."""
    return {}


@pytest.fixture
def hold(published: ModuleType, rows: Rows) -> Held:
    """Holds points of brine, and keeps them in the rows."""
    holding: Callable[[Rows, str], Held] = published.holding
    return holding(rows, "brine")


def test_a_figure_too_far_off_fails_and_says_what_was_held(hold: Held) -> None:
    """Name, both figures, tolerance and source stand in the message."""
    hold("Brine, 10 %", -6.55, -6.56, within=0.011, unit="°C", source="CRC")
    told = r"Brine, 10 %: ours -6.5 °C, published -6.56 °C, off by 0.06, 0.011 allowed \(CRC\)"
    with pytest.raises(AssertionError, match=told):
        hold("Brine, 10 %", -6.5, -6.56, within=0.011, unit="°C", source="CRC")


def test_no_number_is_a_figure_too_far_off(hold: Held) -> None:
    """NaN agrees with nothing."""
    with pytest.raises(AssertionError):
        hold("Brine, 10 %", math.nan, -6.56, within=0.01, unit="°C", source="CRC")


@pytest.mark.parametrize(
    ("within", "published_c", "source"),
    [
        (0.0, -6.56, "CRC"),
        (-0.1, -6.56, "CRC"),
        (math.inf, -6.56, "CRC"),
        (math.nan, -6.56, "CRC"),
        (0.01, math.nan, "CRC"),
        (0.01, -6.56, ""),
        (0.01, -6.56, "CRC | Lange"),
    ],
)
def test_a_check_that_says_nothing_is_refused(
    hold: Held, rows: Rows, within: float, published_c: float, source: str
) -> None:
    """A tolerance of 0 or without end, no figure, no source, or what a table cannot carry."""
    with pytest.raises(ValueError, match="Brine"):
        hold("Brine", -6.56, published_c, within=within, unit="°C", source=source)
    assert rows == {}


def test_one_name_has_one_unit(hold: Held) -> None:
    """Points in °C and in K are not points of one row."""
    hold("Brine", -6.56, -6.56, within=0.01, unit="°C", source="CRC")
    with pytest.raises(ValueError, match=r"in °C and in K"):
        hold("Brine", -6.56, -6.56, within=0.01, unit="K", source="CRC")


def test_a_row_shows_the_worst_of_its_points(hold: Held, rows: Rows) -> None:
    """The point that uses most of its tolerance is shown, with their number; each source apart."""
    for ours, published_c, within in ((-1.0, -1.005, 0.01), (-6.2, -6.56, 0.5), (-9.0, -9.0, 0.1)):
        hold("Brine", ours, published_c, within=within, unit="°C", source="CRC")
    hold("Brine", -3.05, -2.97, within=0.09, unit="°C", source="Lange")
    assert [row.told() for row in rows.values()] == [
        "| Brine | 3 | −6.56 °C | 0.5 °C | −6.2 °C | CRC |",
        "| Brine | 1 | −2.97 °C | 0.09 °C | −3.05 °C | Lange |",
    ]


def test_last_digits_of_a_library_do_not_change_a_row(hold: Held, rows: Rows) -> None:
    """Figures are as fine as the tolerance asks, and rounding noise does not pick another point."""
    for noise in (0.0, 3e-15, -7e-15):
        hold("Emf", 20.872 + noise, 20.872, within=1e-11, unit="mV", source="NIST")
        hold("Density", 1.1088 + noise, 1.10848 + noise, within=8e-4, unit="g/ml", source="CRC")
    assert [row.told() for row in rows.values()] == [
        "| Emf | 3 | 20.872 mV | 1e-11 mV | 20.8720 mV | NIST |",
        "| Density | 3 | 1.10848 g/ml | 0.0008 g/ml | 1.1088 g/ml | CRC |",
    ]
