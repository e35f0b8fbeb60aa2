"""Whatever stands in a run file, reading it ends in a run or in a sentence."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigmon.errors import RunFileError
from rigmon.records import Place, ProbeSetup, RigSetup
from rigmon.store import RunFile, parse_run

ROWS = 20
FILES = 500 * (100 if os.environ.get("RIGMON_NIGHTLY") else 1)
SETUP = RigSetup(probes=(ProbeSetup("tc1", Place.BATH), ProbeSetup("tc2", Place.MIX)))

ODD = """0|12.5|-14,5|nan|inf|open|short|pour|puor|hand|1e999|ice_g=900|note="a|'|"|"a"b|#|1_0|−3|٣
\0|2026-10-25T02:00:00Z|0001-01-01|9999-12-31T23:59:59.999999-23:59|bath_c=-14.5"""
cell = st.sampled_from(["", *ODD.replace("\n", "|").split("|"), "ice_g=" + "9" * 400]) | st.text(
    max_size=12
)
sound_row = st.tuples(
    st.sampled_from(["0", "1.5", "3", "2026-10-25T02:00:00Z", "2026-10-25T02:00:00.5+02:00"]),
    st.sampled_from(["-14.5", "", "open"]),
    st.sampled_from(["", "4", "nan"]),
    st.sampled_from(["", "pour"]),
).map(list)
row = st.lists(cell, max_size=8) | sound_row
heading = st.sampled_from(
    [
        "time_s",
        "time",
        "bath_c",
        "mix_c",
        "mixer_w",
        "mark",
        "by",
        "detail",
        "x_a",
        "odd_c",
        "",
        "q",
    ]
)
sound = st.sampled_from(
    [
        ["time_s", "bath_c", "mix_c", "mark", "by", "detail"],
        ["time", "bath_c", "mix_c", "mark", "by", "detail"],
        ["tc1_c", "time_s", "mixer_w", "detail", "mark"],
    ]
)


def told(data: bytes, *, skip_bad: bool) -> RunFile | str:
    """The run, or what is said instead."""
    try:
        return parse_run(data, "run.csv", SETUP, skip_bad=skip_bad)
    except RunFileError as fault:
        return str(fault)


@settings(
    max_examples=FILES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(
    header=sound | sound | st.lists(heading, max_size=7),
    rows=st.lists(row, min_size=ROWS, max_size=ROWS),
    separator=st.sampled_from(",;\t"),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    skip_bad=st.booleans(),
)
def test_odd_rows_end_in_a_run_or_a_sentence(
    header: list[str], rows: list[list[str]], separator: str, end: str, skip_bad: bool
) -> None:
    """Ten thousand odd rows raise nothing but the error that names them."""
    text = end.join(separator.join(cells) for cells in [header, *rows])
    outcome = told(text.encode("utf-8", "surrogatepass"), skip_bad=skip_bad)
    if isinstance(outcome, str):
        assert outcome.startswith("run.csv")
    else:
        assert outcome.items
        assert all(sentence.startswith("run.csv:") for sentence in outcome.skipped)


@settings(max_examples=FILES, deadline=None)
@given(st.binary(max_size=300), st.booleans())
def test_odd_bytes_end_in_a_run_or_a_sentence(data: bytes, skip_bad: bool) -> None:
    """A file that was never a table is told apart by a sentence too."""
    outcome = told(b"time_s,bath_c\n" + data, skip_bad=skip_bad)
    assert not isinstance(outcome, str) or outcome.startswith("run.csv")
