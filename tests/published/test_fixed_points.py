"""The temperatures that probes are held to, against published ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from CoolProp.CoolProp import PropsSI

from rigmon.physics.boiling import boiling_c, standard_pressure_hpa
from rigmon.physics.brine import EUTECTIC_C
from rigmon.records import tolerance_k
from rigmon.service.references import ICE_SD_K, eutectic_slush, ice_point

if TYPE_CHECKING:
    from tests.published.conftest import Held

BY_ALTITUDE = """
 -400 1062.23 101.302
 -200 1037.51 100.638
    0 1013.25  99.974
  100 1001.29  99.642
  500  954.61  98.313
 1000  898.75  96.649
 1500  845.56  94.983
 2000  794.95  93.315
 2500  746.83  91.645
 3000  701.09  89.973
 4000  616.40  86.620
 5000  540.20  83.255
"""
"""Altitude [m], pressure of the standard atmosphere [hPa] by ISO 2533 (ICAO Doc 7488), boiling
point [°C] by IAPWS-95; computed apart from this program with CoolProp 8.0.0."""

CLASSES = """
 J 1 1.5 0.0040   J 2 2.5 0.0075
 T 1 0.5 0.0040   T 2 1.0 0.0075   T 3 1.0 0.015
 K 1 1.5 0.0040   K 2 2.5 0.0075   K 3 2.5 0.015
 N 1 1.5 0.0040   N 2 2.5 0.0075   N 3 2.5 0.015
 E 1 1.5 0.0040   E 2 2.5 0.0075   E 3 2.5 0.015
"""
"""Tolerance classes of IEC 60584-2 (1982), which IEC 60584-1:2013 keeps: type, class, fixed term
[K] and share of |t|; Labfacility, thermocouple reference data, section 9.1.1."""


def altitude_rows() -> list[tuple[float, float, float]]:
    """The rows above, as numbers."""
    rows = (line.split() for line in BY_ALTITUDE.strip().splitlines())
    return [(float(m), float(hpa), float(c)) for m, hpa, c in rows]


def class_rows() -> list[tuple[str, int, float, float]]:
    """The classes above, one a row."""
    words = CLASSES.split()
    fours = [words[i : i + 4] for i in range(0, len(words), 4)]
    return [(kind, int(number), float(fixed), float(share)) for kind, number, fixed, share in fours]


@pytest.mark.parametrize(("altitude_m", "hpa", "boils_c"), altitude_rows())
def test_boiling_point_by_altitude(
    held: Held, altitude_m: float, hpa: float, boils_c: float
) -> None:
    """Pressure and boiling point of the table, each to its last digit and 0.2 mK between two."""
    held(
        "Standard atmosphere, −400 to 5000 m",
        standard_pressure_hpa(altitude_m),
        hpa,
        within=0.0051,
        unit="hPa",
        source="ISO 2533",
    )
    held(
        "Boiling point of water, −400 to 5000 m",
        boiling_c(hpa),
        boils_c,
        within=0.0012,
        unit="°C",
        source="IAPWS-95 over ISO 2533",
    )


@pytest.mark.parametrize("hpa", [600.0, 750.0, 900.0, 980.0, 1013.25, 1030.0, 1050.0])
def test_boiling_point_by_pressure(held: Held, hpa: float) -> None:
    """An independent library with another equation of state; they part by 0.2 mK at most."""
    held(
        "Boiling point of water, 600 to 1050 hPa",
        boiling_c(hpa),
        float(PropsSI("T", "P", 100.0 * hpa, "Q", 0, "Water")) - 273.15,
        within=0.0005,
        unit="°C",
        source="CoolProp (IAPWS-95)",
    )


@pytest.mark.parametrize(("kind", "number", "fixed_k", "share"), class_rows())
@pytest.mark.parametrize("t_c", [-40.0, -20.0, 0.0, 40.0])
def test_tolerance_of_wire(
    held: Held, kind: str, number: int, fixed_k: float, share: float, t_c: float
) -> None:
    """The larger of the fixed term and the share of |t|, wherever a rig works."""
    held(
        "Tolerance of thermocouple wire, classes 1 to 3, −40 to 40 °C",
        tolerance_k(kind, number, t_c),
        max(fixed_k, share * abs(t_c)),
        within=1e-9,
        unit="K",
        source="IEC 60584-1, as Labfacility prints it",
    )


def test_ice_point_is_as_sure_as_a_kitchen_makes_it() -> None:
    """Between a good ice bath of tap water (0.02 K, k = 2) and an unstirred glass (0.5 K).

    General metrology practice, from memory; salts of hard water cost 0.015 K.
    """
    assert ice_point().c == 0.0
    assert 0.01 < ICE_SD_K < 0.25


def test_the_slush_is_the_eutectic(held: Held) -> None:
    """Ice, dihydrate and brine rest together at one temperature."""
    assert eutectic_slush().c == EUTECTIC_C
    held(
        "Slush of ice and too much salt",
        eutectic_slush().c,
        -21.13,
        within=0.1,
        unit="°C",
        source="Lange's Handbook, 15th ed., table 5.13",
    )


@pytest.mark.parametrize("t_c", [-41.0, 351.0])
def test_a_class_says_nothing_outside_its_range(t_c: float) -> None:
    """Class 1 of type T is defined from −40 to 350 °C."""
    with pytest.raises(ValueError, match="is defined from -40 to 350 °C"):
        tolerance_k("T", 1, t_c)
