"""The thermocouple functions against the tables that NIST prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.probes.thermocouple import emf_mv, temperature_c

if TYPE_CHECKING:
    from tests.published.conftest import Held

HALF_LAST_DIGIT_MV = 0.0005 + 1e-9
SOURCE = "NIST Monograph 175"

PRINTED = """
    t       T       K       J       E       N
  -50  -1.819  -1.889  -2.431  -2.787  -1.269
  -45  -1.648  -1.709  -2.197  -2.523  -1.146
  -40  -1.475  -1.527  -1.961  -2.255  -1.023
  -35  -1.299  -1.343  -1.722  -1.984  -0.898
  -30  -1.121  -1.156  -1.482  -1.709  -0.772
  -25  -0.940  -0.968  -1.239  -1.432  -0.646
  -21  -0.794  -0.816  -1.044  -1.208  -0.544
  -20  -0.757  -0.778  -0.995  -1.152  -0.518
  -18  -0.683  -0.701  -0.896  -1.039  -0.467
  -15  -0.571  -0.586  -0.749  -0.868  -0.390
  -10  -0.383  -0.392  -0.501  -0.582  -0.260
   -5  -0.193  -0.197  -0.251  -0.292  -0.131
    0   0.000   0.000   0.000   0.000   0.000
    5   0.195   0.198   0.253   0.294   0.130
   10   0.391   0.397   0.507   0.591   0.261
   15   0.589   0.597   0.762   0.890   0.393
   20   0.790   0.798   1.019   1.192   0.525
   25   0.992   1.000   1.277   1.495   0.659
   30   1.196   1.203   1.537   1.801   0.793
   40   1.612   1.612   2.059   2.420   1.065
   50   2.036   2.023   2.585   3.048   1.340
   60   2.468   2.436   3.116   3.685   1.619
   70   2.909   2.851   3.650   4.330   1.902
   80   3.358   3.267   4.187   4.985   2.189
   90   3.814   3.682   4.726   5.648   2.480
  100   4.279   4.096   5.269   6.319   2.774
"""
"""NIST Monograph 175 (1993), tables of emf [mV] over temperature [°C], cold junction at 0 °C."""

ENDS = (
    ("T", -200.0, -5.603),
    ("T", 400.0, 20.872),
    ("K", -200.0, -5.891),
    ("K", 500.0, 20.644),
    ("K", 1372.0, 54.886),
    ("J", -210.0, -8.095),
    ("J", 760.0, 42.919),
    ("J", 1200.0, 69.553),
    ("E", -200.0, -8.825),
    ("E", 1000.0, 76.373),
    ("N", -200.0, -3.990),
    ("N", 600.0, 20.613),
    ("N", 1300.0, 47.513),
)
"""NIST Monograph 175 (1993), ranges printed with the inverse functions: type, °C, mV."""


def printed_points() -> list[tuple[str, float, float]]:
    """Every printed point: type, temperature [°C], emf [mV]."""
    header, *rows = (line.split() for line in PRINTED.strip().splitlines())
    table = [
        (kind, float(row[0]), float(mv))
        for row in rows
        for kind, mv in zip(header[1:], row[1:], strict=True)
    ]
    return [*table, *ENDS]


@pytest.mark.parametrize(("kind", "t_c", "mv"), printed_points())
def test_emf_rounds_to_the_printed_value(held: Held, kind: str, t_c: float, mv: float) -> None:
    """The emf must lie within half of the last printed digit, 0.5 µV, of the NIST table."""
    held(
        "Thermocouples T, K, J, E, N, voltage over their ranges",
        emf_mv(t_c, kind),
        mv,
        within=HALF_LAST_DIGIT_MV,
        unit="mV",
        source=SOURCE,
    )


@pytest.mark.parametrize(
    ("kind", "t_c", "mv"), [point for point in printed_points() if point not in ENDS]
)
def test_temperature_of_the_printed_emf_is_the_tables(
    held: Held, kind: str, t_c: float, mv: float
) -> None:
    """Half of the last printed digit is 0.025 K at most where a rig works (type N the most)."""
    held(
        "Thermocouples T, K, J, E, N, temperature, −50 to 100 °C",
        temperature_c(mv, kind),
        t_c,
        within=0.025,
        unit="°C",
        source=SOURCE,
    )
