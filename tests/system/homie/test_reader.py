"""The reader that rigs are held to, held itself to what the convention says by example.

Homie convention 5, sections "Payload" and "Properties".
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.system.homie.conftest import Valid

ENGINE_TEMPERATURE = {
    "name": "Engine temperature",
    "settable": False,
    "unit": "°C",
    "datatype": "float",
    "format": "-20:120",
}


@pytest.mark.parametrize(("payload", "good"), [("21.5", True), ("-20", True), ("120.5", False)])
def test_engine_temperature_of_the_convention(valid: Valid, payload: str, good: bool) -> None:
    """Its own example reports 21.5 for a float from −20 to 120."""
    assert valid(ENGINE_TEMPERATURE, payload) is good


@pytest.mark.parametrize(
    ("datatype", "form", "payload", "good"),
    [
        ("integer", "", "-9223372036854775808", True),
        ("integer", "10:15", "15", True),
        ("integer", "10:15", "16", False),
        ("integer", "", "-", False),
        ("integer", "", "", False),
        ("integer", "", "1 000", False),
        ("integer", "", "1.0", False),
        ("float", "", "-1.5e-3", True),
        ("float", "", "2E8", True),
        ("float", "", "-", False),
        ("float", "", "", False),
        ("float", "", "NaN", False),
        ("float", "", "Infinity", False),
        ("float", "", "1.2.3", False),
        ("float", "", " 1", False),
        ("enum", "car,bus", "car", True),
        ("enum", "car,bus", "Car", False),
        ("enum", "car,bus", "", False),
        ("string", "", "", True),
    ],
)
def test_payloads_that_the_convention_names(
    valid: Valid, datatype: str, form: str, payload: str, good: bool
) -> None:
    """What it allows is taken, and what it names as invalid is not."""
    assert valid({"datatype": datatype, "format": form}, payload) is good
