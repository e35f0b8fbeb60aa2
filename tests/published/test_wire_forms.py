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
    {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
    {"n":"humidity","u":"%RH","v":30},
    {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
    {"n":"humidity","u":"%RH","v":67}
]"""
VOLTAGE = """[
    {"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
    {"n":"current","u":"A","v":1.2}
]"""
MEASUREMENTS = """[
    {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
    {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965},
    {"t":60,"v":20.3},
    {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965},
    {"t":120,"v":20.7},
    {"u":"lon","t":120,"v":24.30623}, {"u":"lat","t":120,"v":60.07966},
    {"u":"%EL","t":150,"v":98},
    {"t":180,"v":21.2},
    {"u":"lon","t":180,"v":24.30628}, {"u":"lat","t":180,"v":60.07967}
]"""
RESOLVED = """
    %RH 1.320067464e+09 20          lon 1.320067464e+09 24.30621   lat 1.320067464e+09 60.07965
    %RH 1.320067524e+09 20.3        lon 1.320067524e+09 24.30622   lat 1.320067524e+09 60.07965
    %RH 1.320067584e+09 20.7        lon 1.320067584e+09 24.30623   lat 1.320067584e+09 60.07966
    %EL 1.320067614e+09 98
    %RH 1.320067644e+09 21.2        lon 1.320067644e+09 24.30628   lat 1.320067644e+09 60.07967
"""
THERMOSTAT = """[
    {"bn":"urn:dev:ow:10e2073a01080063:"},
    {"n":"temp","u":"Cel","v":23.1},
    {"n":"heat","u":"/","v":1},
    {"n":"fan","u":"/","v":0}
]"""
LIGHTS_OFF = """[
    {"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},
    {"n":"2001:db8::4","v":0.5},
    {"n":"2001:db8::3","t":0.1,"v":0},
    {"n":"2001:db8::4","t":0.1,"v":0}
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
    """RFC 8428 section 5.1.6: two devices at Mon Oct 31 16:27:09 UTC 2011, two values each.

    The last record has the third one's base name and the first one's base time.
    """
    decoded = Decoder().line(COLLECTION.encode(), now=1_320_078_430.0)
    assert [(r.probe, r.value) for r in decoded.readings] == [
        ("temperature", 25.2),
        ("temperature", 12.3),
    ]
    assert {r.t for r in decoded.readings} == {1_320_078_429.0}
    assert len(decoded.faults) == 2
    as_celsius = COLLECTION.replace("%RH", "Cel").encode()
    last = Decoder().line(as_celsius, now=1_320_078_430.0).readings[-1]
    assert (last.probe, last.value, last.t) == ("humidity", 67.0, 1_320_078_429.0)


def test_voltage_and_current_now() -> None:
    """RFC 8428 section 5.1.2: both at an unspecified time; a rig has a use for neither unit."""
    decoded = Decoder().line(VOLTAGE.encode(), now=1e9)
    assert decoded.readings == ()
    assert [fault.split()[0] for fault in decoded.faults] == ["voltage", "current"]
    for unit in ("V", "A"):
        line = VOLTAGE.replace(f'"u":"{unit}"', '"u":"W"').encode()
        (reading,) = Decoder().line(line, now=1e9).readings
        assert (reading.t, reading.unit) == (1e9, Unit.WATT)


@pytest.mark.parametrize("unit", ["%RH", "lon", "lat", "%EL"])
def test_multiple_measurements_are_what_they_resolve_to(unit: str) -> None:
    """RFC 8428 sections 5.1.3 and 5.1.4: a moving device, and the same with every base resolved.

    A rig takes no humidity and no position, so one unit at a time is made one that it takes.
    """
    name = "urn:dev:ow:10e2073a01080063"
    words = RESOLVED.split()
    resolved = [
        {"n": name, "u": u, "t": float(t), "v": float(v)}
        for u, t, v in zip(words[::3], words[1::3], words[2::3], strict=True)
    ]
    assert len(resolved) == 13
    lines = [MEASUREMENTS, json.dumps(resolved, separators=(",", ":"))]
    forms = [line.replace(f'"{unit}"', '"Cel"').encode() for line in lines]
    packed, flat = (Decoder().line(form, now=1_320_067_700.0) for form in forms)
    assert packed.readings == flat.readings
    expected = [(one["t"], one["v"]) for one in resolved if one["u"] == unit]
    assert [(r.t, r.value) for r in packed.readings] == expected
    assert {r.probe for r in packed.readings} == {"10e2073a01080063"}


def test_setting_an_actuator() -> None:
    """RFC 8428 section 5.1.7: a set point of 23.1 °C behind a record of the base name alone."""
    decoded = Decoder().line(THERMOSTAT.encode(), now=1e9)
    assert [(r.probe, r.value) for r in decoded.readings] == [("temp", 23.1)]
    assert len(decoded.faults) == 2


def test_lights_going_off_at_a_time_ahead() -> None:
    """RFC 8428 section 5.1.7: the last two records stand 0.1 s after the first two.

    Seen once that time has come; the unit made one that rigs have.
    """
    line = LIGHTS_OFF.replace('"bu":"/"', '"bu":"Cel"').encode()
    decoded = Decoder().line(line, now=1_320_078_430.0)
    found = [(r.probe, r.value, round(r.t - 1_320_078_429.0, 6)) for r in decoded.readings]
    assert found == [("3", 0.5, 0.0), ("4", 0.5, 0.0), ("3", 0.0, 0.1), ("4", 0.0, 0.1)]


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
