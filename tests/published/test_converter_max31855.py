"""Straight-line converter chips against what such a chip was computed to report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigmon.probes.converter import SENSITIVITY_UV_PER_K, straight_line_c, undo_straight_line_c
from rigmon.probes.thermocouple import emf_mv

if TYPE_CHECKING:
    from tests.published.conftest import Held

COMPUTED = """
K   15   -21  -19.226
K   15   -15  -13.649
K   15   -10   -8.956
K   15    -5   -4.227
K   15     0    0.537
K   15     5    5.330
K   15    20   19.873
K   15    50   49.550
K   15   100   99.777
K   20   -21  -19.099
K   20   -15  -13.522
K   20   -10   -8.830
K   20    -5   -4.100
K   20     0    0.664
K   20     5    5.457
K   20    20   20.000
K   20    50   49.677
K   20   100   99.904
K   25   -21  -18.996
K   25   -15  -13.419
K   25   -10   -8.727
K   25    -5   -3.997
K   25     0    0.767
K   25     5    5.560
K   25    20   20.103
K   25    50   49.780
K   25   100  100.007
K   30   -21  -18.915
K   30   -15  -13.338
K   30   -10   -8.645
K   30    -5   -3.916
K   30     0    0.848
K   30     5    5.641
K   30    20   20.184
K   30    50   49.861
K   30   100  100.088
T   25   -21   -9.221
T   25   -15   -4.956
T   25   -10   -1.352
T   25    -5    2.297
T   25     0    5.989
T   25     5    9.719
T   25    20   21.122
T   25    50   45.003
T   25   100   87.985
J   25   -21  -15.050
J   25   -15   -9.957
J   25   -10   -5.679
J   25    -5   -1.373
J   25     0    2.960
J   25     5    7.320
J   25    20   20.546
J   25    50   47.570
J   25   100   93.877
E   25   -21  -10.393
E   25   -15   -5.943
E   25   -10   -2.191
E   25    -5    1.599
E   25     0    5.424
E   25     5    9.279
E   25    20   21.025
E   25    50   45.328
E   25   100   88.161
N   25   -21   -8.161
N   25   -15   -3.912
N   25   -10   -0.349
N   25    -5    3.234
N   25     0    6.833
N   25     5   10.420
N   25    20   21.319
N   25    50   43.788
N   25   100   83.348
"""
"""Type, cold junction [°C], true [°C], reported [°C]. Computed apart from this program with the
package thermocouples-reference 0.20 and the equation of the MAX31855 data sheet (Maxim 19-5793);
sensitivity of type K read there, of the others from memory."""

SOURCE = "MAX31855 data sheet, computed with thermocouples-reference 0.20"
ROUNDED_TO_C = 0.0005 + 1e-6


def computed_rows() -> list[tuple[str, float, float, float]]:
    """The rows above, as numbers."""
    rows = (line.split() for line in COMPUTED.strip().splitlines())
    return [(kind, float(cj), float(true), float(read)) for kind, cj, true, read in rows]


@pytest.mark.parametrize(("kind", "cj_c", "true_c", "reported_c"), computed_rows())
def test_chip_reports_what_was_computed(
    held: Held, kind: str, cj_c: float, true_c: float, reported_c: float
) -> None:
    """The straight line must give the computed row to its last printed digit."""
    held(
        "Straight-line converter chip, what it reports, −21 to 100 °C",
        straight_line_c(true_c, cj_c, kind),
        reported_c,
        within=ROUNDED_TO_C,
        unit="°C",
        source=SOURCE,
    )


@pytest.mark.parametrize(("kind", "cj_c", "true_c", "reported_c"), computed_rows())
def test_undoing_the_chip_gives_the_true_temperature(
    held: Held, kind: str, cj_c: float, true_c: float, reported_c: float
) -> None:
    """Undone, a computed report must be the true temperature to what its rounding allows."""
    steepest = 1.5
    held(
        "Straight-line converter chip undone, −21 to 100 °C",
        undo_straight_line_c(reported_c, cj_c, kind),
        true_c,
        within=steepest * ROUNDED_TO_C,
        unit="°C",
        source=SOURCE,
    )


@pytest.mark.parametrize(
    ("kind", "end_c"), [("K", 1000.0), ("J", 1000.0), ("E", 1000.0), ("N", 1000.0), ("T", 400.0)]
)
def test_sensitivity_is_the_mean_slope_of_the_reference_function(
    held: Held, kind: str, end_c: float
) -> None:
    """The chip's line runs from 0 °C to the end of its scale, which confirms those from memory."""
    held(
        "Straight-line converter chip, sensitivity, types K, J, E, N, T",
        SENSITIVITY_UV_PER_K[kind],
        1000.0 * emf_mv(end_c, kind) / end_c,
        within=0.0015,
        unit="µV/K",
        source="mean slope of NIST's reference function over the chip's scale",
    )
