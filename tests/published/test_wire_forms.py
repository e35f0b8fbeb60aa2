"""The wire's forms against the papers that define them."""

from __future__ import annotations

import json

import pytest

from rigmon.records import Unit
from rigmon.sources import Decoder, checksum
from rigmon.sources.frames import decode_word

# RFC 8428, "Sensor Measurement Lists (SenML)", August 2018, section 5.1.
SINGLE = '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'
SEVERAL_TYPES = """[
    {"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
    {"n":"label","vs":"Machine Room"},
    {"n":"open","vb":false},
    {"n":"nfc-reader","vd":"aGkgCg"}
]"""
COLLECTION = """[
    {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":27.2},
    {"n":"humidity","u":"%RH","v":80}
]"""
CURRENTS = """[
    {"bn":"urn:dev:ow:10e2073a01080063:","bt":1.276020076001e+09,"bu":"A","bver":5,
     "n":"voltage","u":"V","v":120.1},
    {"n":"current","t":-5,"v":1.2},
    {"n":"current","t":-4,"v":1.3},
    {"n":"current","t":-3,"v":1.4},
    {"n":"current","t":-2,"v":1.5},
    {"n":"current","t":-1,"v":1.6},
    {"n":"current","v":1.7}
]"""


def test_single_data_point() -> None:
    """RFC 8428 section 5.1.1: a temperature of 23.1 °C, measured roughly now."""
    (reading,) = Decoder().line(SINGLE.encode(), now=1e9).readings
    assert (reading.t, reading.value, reading.unit) == (1e9, 23.1, Unit.CELSIUS)
    assert reading.probe == "10e2073a01080063"


def test_multiple_data_types() -> None:
    """RFC 8428 section 5.1.5: of a temperature, a text, a switch and data, one is a reading."""
    decoded = Decoder().line(SEVERAL_TYPES.encode(), now=1e9)
    assert [(r.probe, r.value) for r in decoded.readings] == [("temp", 23.1)]
    assert len(decoded.faults) == 3


def test_collection_of_resources() -> None:
    """RFC 8428 section 5.1.6: 27.2 °C at Mon Oct 31 16:27:09 UTC 2011, and a humidity."""
    decoded = Decoder().line(COLLECTION.encode(), now=1_320_078_430.0)
    (reading,) = decoded.readings
    assert (reading.probe, reading.value, reading.t) == ("temperature", 27.2, 1_320_078_429.0)
    assert len(decoded.faults) == 1


def test_multiple_data_points_in_time() -> None:
    """RFC 8428 section 5.1.2: six samples, each at its second; the unit made one that rigs have."""
    line = CURRENTS.replace('"bu":"A"', '"bu":"W"').encode()
    decoded = Decoder().line(line, now=1_276_020_080.0)
    assert [r.value for r in decoded.readings] == [1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    assert [r.t for r in decoded.readings] == [1_276_020_076.001 + s for s in range(-5, 1)]
    assert decoded.faults[0].startswith("voltage has the unit 'V'")


@pytest.mark.parametrize(("t", "absolute"), [(2**28 - 1, False), (2**28, True)])
def test_times_from_2_to_the_28_are_absolute(t: int, absolute: bool) -> None:
    """RFC 8428 section 4.5.3: values below 2**28 are relative to now, others are Unix time.

    A time relative to now and ahead of it is no time of a measurement; it is the board's own.
    """
    line = json.dumps([{"n": "bath", "u": "Cel", "t": t, "v": 1}]).encode()
    (reading,) = Decoder().line(line, now=2.0**28 + 100.0).readings
    assert reading.t == (2.0**28 if absolute else 2.0**28 + 100.0)


def test_checksum_of_a_published_sentence() -> None:
    """The GGA sentence printed in many descriptions of NMEA 0183 ends in *47 (from memory)."""
    body = b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert checksum(body) == 0x47


# MAX31855 data sheet (Maxim 19-5793), tables 4 and 5; from memory, and each row checked by hand
# against the weights of its bits.
PROBE_BITS = {
    "01100100000000": 1600.0,
    "00111110100000": 1000.0,
    "00000110010011": 100.75,
    "00000001100100": 25.0,
    "00000000000000": 0.0,
    "11111111111111": -0.25,
    "11111111111100": -1.0,
    "11110000011000": -250.0,
}
CHIP_BITS = {
    "011111110000": 127.0,
    "011001001001": 100.5625,
    "000110010000": 25.0,
    "000000000000": 0.0,
    "111111111111": -0.0625,
    "111111110000": -1.0,
    "111011000000": -20.0,
    "110010010000": -55.0,
}


@pytest.mark.parametrize(("bits", "celsius"), PROBE_BITS.items())
def test_thermocouple_temperature_of_the_data_sheet(bits: str, celsius: float) -> None:
    """The table of thermocouple temperatures, with the chip at 25 °C."""
    assert decode_word(int(bits, 2) << 18 | 0x1900) == (celsius, 25.0, None)


@pytest.mark.parametrize(("bits", "celsius"), CHIP_BITS.items())
def test_chip_temperature_of_the_data_sheet(bits: str, celsius: float) -> None:
    """The table of reference junction temperatures, with the thermocouple at 25 °C."""
    assert decode_word(0b00000001100100 << 18 | int(bits, 2) << 4) == (25.0, celsius, None)
