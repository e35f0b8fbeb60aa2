"""What a probe's reading is worth: emf to temperature, converters undone, spikes refused."""

from rigmon.probes.converter import (
    SENSITIVITY_UV_PER_K,
    Converted,
    converted,
    corrected_c,
    linearised,
    straight_line_c,
    undo_straight_line_c,
)
from rigmon.probes.screen import FAULT_CODE_C, LIMITS_C, Screen, Screened
from rigmon.probes.thermocouple import EMF_RANGE_MV, emf_mv, seebeck_uv_per_k, temperature_c

__all__ = [
    "EMF_RANGE_MV",
    "FAULT_CODE_C",
    "LIMITS_C",
    "SENSITIVITY_UV_PER_K",
    "Converted",
    "Screen",
    "Screened",
    "converted",
    "corrected_c",
    "emf_mv",
    "linearised",
    "seebeck_uv_per_k",
    "straight_line_c",
    "temperature_c",
    "undo_straight_line_c",
]
