"""SenML packs as boards send them."""

from __future__ import annotations

import json

import pytest

from rigmon.records import Fault, Reading, Unit
from rigmon.sources import BadLine, Decoded, Decoder

NOW = 1_785_000_000.0


def decoded(*records: object) -> Decoded:
    """A pack that arrived at NOW, decoded."""
    return Decoder().line(json.dumps(records).encode(), NOW)


def only(*records: object) -> Reading:
    """The only reading of a pack in which nothing is wrong."""
    result = decoded(*records)
    assert result.faults == ()
    (reading,) = result.readings
    return reading


def bath(**fields: object) -> dict[str, object]:
    """A record of the bath in °C."""
    return {"n": "bath", "u": "Cel"} | fields


def test_base_name_and_base_unit_serve_all_records() -> None:
    """A base field holds from its record on, until another record changes it."""
    result = decoded(
        {"bn": "rig-a/", "bu": "Cel", "n": "bath", "v": -14.25},
        {"n": "mix", "v": 3.5},
        {"bn": "rig-a/mixer", "bu": "W", "v": 140},
    )
    assert [(r.probe, r.value, r.unit) for r in result.readings] == [
        ("bath", -14.25, Unit.CELSIUS),
        ("mix", 3.5, Unit.CELSIUS),
        ("mixer", 140.0, Unit.WATT),
    ]


def test_record_of_base_fields_alone_is_no_reading() -> None:
    """Some senders put the base fields into a first record of their own."""
    reading = only({"bn": "rig-a/", "bu": "Cel"}, {"n": "bath", "v": -14.25})
    assert (reading.probe, reading.value) == ("bath", -14.25)


def test_base_value_is_added_to_values() -> None:
    """The value is the sum of base value and value, and either may be missing."""
    result = decoded(bath(bv=-14.0, v=-0.25), {"n": "mix", "u": "Cel"})
    assert [r.value for r in result.readings] == [-14.25, -14.0]


def test_kelvin_becomes_celsius() -> None:
    """0 °C is 273.15 K by definition of the Celsius scale."""
    assert only(bath(u="K", v=273.15)).value == 0.0


@pytest.mark.parametrize("junction_first", [True, False])
def test_cold_junction_goes_with_its_probe(junction_first: bool) -> None:
    """An emf keeps its unit and takes the cold junction of its own name, whichever comes first."""
    emf = {"n": "bath", "u": "mV", "v": -0.55}
    junction = {"n": "bath/cj", "u": "K", "v": 296.15}
    other = {"n": "mix", "u": "Cel", "v": 3.5}
    pack = [junction, emf, other] if junction_first else [emf, junction, other]
    first, second = decoded(*pack).readings
    assert first == Reading(NOW, "bath", -0.55, Unit.MILLIVOLT, cj_c=23.0)
    assert second.cj_c is None


def test_each_sample_takes_the_cold_junction_nearest_in_time() -> None:
    """A pack of several samples carries a cold junction for each."""
    result = decoded(
        {"bu": "mV", "n": "bath", "t": -2, "v": -0.5},
        {"n": "bath/cj", "u": "Cel", "t": -2, "v": 21.0},
        {"n": "bath", "t": -1, "v": -0.6},
        {"n": "bath/cj", "u": "Cel", "t": -1, "v": 22.0},
    )
    assert [(r.value, r.cj_c) for r in result.readings] == [(-0.5, 21.0), (-0.6, 22.0)]


@pytest.mark.parametrize("fault", list(Fault))
def test_fault_words_are_readings_without_value(fault: Fault) -> None:
    """What the converter says of a broken circuit reaches the probe's owner."""
    reading = only(bath(vs=fault.value))
    assert (reading.value, reading.fault) == (None, fault)


def test_pack_without_time_is_stamped_on_arrival() -> None:
    """Most boards have no clock."""
    reading = only(bath(v=1))
    assert (reading.t, reading.board_s) == (NOW, None)


def test_relative_times_count_back_from_arrival() -> None:
    """Base time and time add up, and below 2**28 their sum is relative to now."""
    result = decoded(bath(bt=-10, t=2.5, v=1), {"n": "mix", "u": "Cel", "v": 2})
    assert [(r.t, r.board_s) for r in result.readings] == [(NOW - 7.5, None), (NOW - 10.0, None)]


def test_absolute_time_is_taken_and_kept_as_the_boards() -> None:
    """A board with a set clock says when it measured, and duplicates are told by that."""
    reading = only(bath(bt=NOW - 100.0, t=40, v=1))
    assert (reading.t, reading.board_s) == (NOW - 60.0, NOW - 60.0)


@pytest.mark.parametrize(
    "clock_s", [12.5, 946_684_812.5, NOW - 90_000.0, NOW + 3.0, NOW + 90_000.0, 1e300]
)
def test_clock_never_set_is_replaced_by_arrival(clock_s: float) -> None:
    """Seconds since its start, the year 2000, yesterday or tomorrow: the board cannot know."""
    reading = only(bath(t=clock_s, v=1))
    assert (reading.t, reading.board_s) == (NOW, clock_s)


def test_unset_clock_still_spaces_the_samples_of_a_pack() -> None:
    """The newest sample is stamped on arrival and the others before it by the board's clock."""
    result = decoded(bath(bt=946_684_800, t=8, v=1), bath(t=10, v=2), bath(t=9, v=3))
    assert [r.t for r in result.readings] == [NOW - 2.0, NOW, NOW - 1.0]


@pytest.mark.parametrize("pack", [[bath(t=-90_000, v=1)], [bath(bt=5, t=90_000, v=0), bath(v=1)]])
def test_reading_older_than_a_day_is_refused(pack: list[dict[str, object]]) -> None:
    """No run lasts so long; what is dropped is told."""
    result = decoded(*pack, {"bt": 0, "n": "mix", "u": "Cel", "v": 2})
    assert result.faults == ("bath was measured more than a day ago",)
    assert "mix" in {r.probe for r in result.readings}


@pytest.mark.parametrize(
    ("record", "sentence"),
    [
        ({"n": "air", "u": "%RH", "v": 80}, "the unit '%RH'"),
        ({"n": "air", "v": 80}, "no unit"),
        ({"n": "air", "u": "Cel", "vs": "damp"}, "a text that is not open"),
        ({"n": "air", "vb": True}, "is not a number"),
        ({"n": "air", "vd": "aGkgCg"}, "is not a number"),
        ({"n": "air", "u": "Cel", "v": None}, "has no value"),
        ({"n": "air", "u": "Cel", "v": float("nan")}, "has no value"),
    ],
)
def test_record_that_is_no_reading_is_told_and_costs_no_other(
    record: dict[str, object], sentence: str
) -> None:
    """The rest of the pack is still read."""
    result = decoded(record, bath(v=-14.25))
    assert [r.probe for r in result.readings] == ["bath"]
    (fault,) = result.faults
    assert fault.startswith("air")
    assert sentence in fault


def test_sum_alone_is_passed_over() -> None:
    """RFC 8428 lets a record carry a sum and no value; a rig has no use for it."""
    assert decoded({"n": "mixer", "u": "W", "s": 1200.0}) == Decoded()


def test_unknown_fields_are_passed_over() -> None:
    """A later sender may say more than we read."""
    assert only(bath(v=1, ut=5, colour="blue")).value == 1.0


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}",
        b'{"n":"bath","u":"Cel","v":1}',
        b"[1]",
        b"[[]]",
        b'[{"u":"Cel","v":1}]',
        b'[{"n":"bath/","bn":"/","u":"Cel","v":1}]',
        b'[{"n":"b\\ud800th","u":"Cel","v":1}]',
        b'[{"n":7,"u":"Cel","v":1}]',
        b'[{"n":"bath","u":["Cel"],"v":1}]',
        b'[{"n":"bath","u":"Cel"}]',
        b'[{"n":"bath","u":"Cel","v":1,"vs":"open"}]',
        b'[{"n":"bath","u":"Cel","v":true}]',
        b'[{"n":"bath","u":"Cel","v":"1"}]',
        b'[{"n":"bath","u":"Cel","v":1e999}]',
        b'[{"n":"bath","u":"Cel","v":1e308,"bv":1e308}]',
        b'[{"n":"bath","u":"Cel","v":1' + b"0" * 400 + b"}]",
        b'[{"n":"bath","u":"Cel","v":1,"t":"now"}]',
        b'[{"n":"bath","u":"Cel","v":1,"t":1e308,"bt":1e308}]',
        b'[{"n":"bath","u":"Cel","v":1,"must_":1}]',
        b'[{"bver":11,"n":"bath","u":"Cel","v":1}]',
        b"[" * 1000,
        b'[{"n":"bath","u":"Cel","v":1',
        b'[{"n":"bath","u":"Cel","v":1}][{"n":"bath","u":"Cel","v":1}]',
    ],
)
def test_line_that_is_no_pack_is_a_bad_line(line: bytes) -> None:
    """Nothing else than BadLine comes of it."""
    with pytest.raises(BadLine):
        Decoder().line(line, NOW)
