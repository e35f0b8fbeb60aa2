"""Whatever a wire carries, decoding it gives readings or a bad line, and good lines come through.

By default some 10,000 odd lines are tried; with RIGMON_NIGHTLY set in the environment, a million.
"""

from __future__ import annotations

import json
import math
import os
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigmon.records import ChecksumRule, Fault, LineForm, Reading, Unit
from rigmon.sources import BadLine, Decoder, checksum
from rigmon.sources.ledger import Cues, Ledger
from rigmon.sources.lines import LineBuffer, Listener

NOW = 1_785_000_000.0
TIMES = 100 if os.environ.get("RIGMON_NIGHTLY") else 1
LINES_AN_EXAMPLE = 20
ODD = settings(
    max_examples=170 * TIMES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
"""Three forms of 170 examples of 20 lines: a little more than 10,000 lines."""

GOOD = settings(max_examples=200 * TIMES, deadline=None)
COLUMNS = ("ms", "bath", "bath_cj", "-", "mix_mv", "mixer_w")

LINES = {
    LineForm.SENML: [
        b'[{"bn":"rig-a/","bu":"Cel","n":"bath","v":-14.25},{"n":"mix","v":3.5,"t":-1.5}]',
        b'[{"bt":1785000000,"n":"bath","u":"mV","v":-0.5},{"n":"bath/cj","u":"K","v":296.2}]',
        b'[{"n":"mix","vs":"open"},{"n":"mixer","u":"W","v":140,"s":9,"ut":1,"bver":10}]',
    ],
    LineForm.COLUMNS: [b"2500,-14.25,23.5,x,0.1,140", b"1;-1,5;;;nan;0", b"1 2 3 4 5 6*0F"],
    LineForm.FRAMES: [b"2500,FFC41900,1,2,00E41A80,0xFFC41900", b"1 00011901 2 3 0 FFFFFFFF"],
}
BYTES = st.one_of(
    st.sampled_from([b"", b"\x00", b"\xff", b'"', b"[", b"{", b"}]", b",", b"*", b"e999", b"-"]),
    st.sampled_from([b'"t":', b'"v":', b"null", b"NaN", b'"bn":"', b"\\ud800", b"0" * 30]),
    st.binary(max_size=8),
)
EDIT = st.tuples(st.integers(0, 120), st.integers(0, 12), BYTES)


def edited(line: bytes, edits: list[tuple[int, int, bytes]]) -> bytes:
    """A line with pieces cut out and put in."""
    for where, cut, piece in edits:
        at = where % (len(line) + 1)
        line = line[:at] + piece + line[at + cut :]
    return line


def odd_lines(form: LineForm) -> st.SearchStrategy[list[bytes]]:
    """Lines that were good once, and lines that never were."""
    spoilt = st.builds(edited, st.sampled_from(LINES[form]), st.lists(EDIT, min_size=1, max_size=3))
    return st.lists(
        st.one_of(spoilt, spoilt, spoilt, st.binary(max_size=60)),
        min_size=LINES_AN_EXAMPLE,
        max_size=LINES_AN_EXAMPLE,
    )


def sound(reading: Reading) -> bool:
    """Whether a reading can be worked with."""
    numbers = (reading.value, reading.cj_c, reading.board_s)
    return (
        all(number is None or math.isfinite(number) for number in numbers)
        and NOW - 86_400 <= reading.t <= NOW
        and (reading.value is None) == (reading.fault is not None)
        and reading.probe.isprintable()
        and bool(reading.probe)
    )


@pytest.mark.parametrize("form", list(LineForm))
def test_odd_lines_are_read_or_counted(form: LineForm) -> None:
    """Nothing but BadLine is raised, and every reading that is made is a sound one."""
    decoders = [Decoder(form, COLUMNS, rule) for rule in ChecksumRule]

    @ODD
    @given(odd_lines(form))
    def check(lines: list[bytes]) -> None:
        for line in lines:
            for decoder in decoders:
                try:
                    readings = decoder.line(line, NOW).readings
                except BadLine:
                    continue
                assert all(sound(reading) for reading in readings)

    check()


@GOOD
@given(st.binary(max_size=4000), st.lists(st.integers(0, 4000), max_size=8))
def test_listener_outlives_any_bytes_in_any_pieces(data: bytes, cuts: list[int]) -> None:
    """However a stream is cut into blocks, the same is made of it."""
    whole, pieces = Ledger(), Ledger()
    Listener("rig-a", Decoder(), whole, Cues()).feed(data, NOW)
    listener = Listener("rig-a", Decoder(), pieces, Cues())
    for start, end in pairwise([0, *sorted(cuts), len(data)]):
        listener.feed(data[start:end], NOW)
    assert pieces.counts() == whole.counts()


@GOOD
@given(
    st.lists(st.binary(max_size=60).map(lambda line: line.replace(b"\n", b""))),
    st.lists(st.integers(0, 3000), max_size=8),
)
def test_lines_come_out_of_the_buffer_as_they_went_in(lines: list[bytes], cuts: list[int]) -> None:
    """Blocks begin and end anywhere, lines do not."""
    data = b"".join(line + b"\n" for line in lines)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    buffer = LineBuffer()
    blocks = (data[start:end] for start, end in pairwise(edges))
    assert [line for block in blocks for line in buffer.feed(block)] == lines


VALUE = st.floats(-1e6, 1e6)
NAME = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,12}", fullmatch=True).filter(lambda n: n != "cj")


@GOOD
@given(
    st.lists(
        st.tuples(
            NAME,
            st.sampled_from([Unit.CELSIUS, Unit.MILLIVOLT, Unit.WATT]),
            st.one_of(VALUE, st.sampled_from(list(Fault))),
            st.floats(-86_399, 0),
        ),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from(["", "rig-a/", "urn:dev:mac:0024befffe804ff1:"]),
    st.booleans(),
)
def test_senml_round_trip(
    samples: list[tuple[str, Unit, float | Fault, float]], base: str, summed: bool
) -> None:
    """What a board packs is what comes out: names, units, values, faults and times."""
    pack = [
        {"n": name, "u": unit.value, "t": t}
        | ({"vs": value.value} if isinstance(value, Fault) else {"v": value})
        for name, unit, value, t in samples
    ]
    pack[0]["bn"] = base
    line = json.dumps(pack).encode()
    ending = f"*{checksum(line):02X}".encode() if summed else b""
    decoded = Decoder(max_bytes=4096).line(line + ending + b"\r\n", NOW)
    assert decoded.faults == ()
    assert decoded.readings == tuple(
        Reading(NOW + t, name, None, unit, fault=value)
        if isinstance(value, Fault)
        else Reading(NOW + t, name, value, unit)
        for name, unit, value, t in samples
    )


@GOOD
@given(
    st.lists(st.one_of(st.none(), VALUE), min_size=2, max_size=6),
    st.integers(0, 2**32 - 1),
    st.sampled_from([",", ";", "\t", ", "]),
)
def test_columns_round_trip(values: list[float | None], ms: int, separator: str) -> None:
    """Every number lands on the probe that its column names; a missing one on none."""
    names = [f"p{n}" for n in range(len(values))]
    fields = [str(ms), *("" if value is None else repr(value) for value in values)]
    line = separator.join(fields).encode()
    decoded = Decoder(LineForm.COLUMNS, ["ms", *names]).line(line, NOW)
    assert decoded.readings == tuple(
        Reading(NOW, name, value, board_s=ms / 1000.0)
        for name, value in zip(names, values, strict=True)
        if value is not None
    )


@GOOD
@given(st.integers(-(2**13), 2**13 - 1), st.integers(-(2**11), 2**11 - 1), st.sampled_from(" ,;\t"))
def test_frames_round_trip(probe_quarters: int, chip_sixteenths: int, separator: str) -> None:
    """A word made by the data sheet's layout gives back the two temperatures it was made of."""
    word = (probe_quarters & 0x3FFF) << 18 | (chip_sixteenths & 0xFFF) << 4
    line = f"{word:08x}{separator}00E41A80".encode()
    reading = Decoder(LineForm.FRAMES, ["bath", "mix"]).line(line, NOW).readings[0]
    if word:
        assert (reading.value, reading.cj_c) == (probe_quarters / 4, chip_sixteenths / 16)
    else:
        assert reading.probe == "mix"
