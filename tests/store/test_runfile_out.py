"""A run written as a table reads back to the very same steps."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigmon.errors import RunFileError
from rigmon.records import (
    By,
    Condition,
    Fault,
    Item,
    Mark,
    MarkWord,
    Place,
    ProbeSetup,
    Reading,
    RigSetup,
    Unit,
)
from rigmon.store import RunFile, Step, clocked, read_run, write_run

SETUP = RigSetup(
    probes=(
        ProbeSetup("tc1", Place.BATH),
        ProbeSetup("tc2", Place.BATH),
        ProbeSetup("mix", Place.MIX),
        ProbeSetup("motor", Place.MIXER),
    )
)


def as_read(reading: Reading) -> float | None:
    """The value that came in, for probes that need no correction."""
    return reading.value


def written(
    fed: Iterable[tuple[float, Item]], ended_at: float | None = None, setup: RigSetup = SETUP
) -> tuple[str, RunFile, tuple[str, ...]]:
    """The text of a run written, the run read back, and what could not be written."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "out.csv"
        lost = write_run(path, setup, fed, ended_at, as_celsius=as_read)
        return path.read_text("utf-8"), read_run(path, setup), lost


def bits(step: Step) -> tuple[object, ...]:
    """A step with its numbers as bits, so that -0.0 and 0.0 differ."""
    values = (getattr(step, field.name) for field in fields(step))
    return type(step), *(struct.pack("<d", v) if isinstance(v, float) else v for v in values)


finite = st.floats(allow_nan=False, allow_infinity=False)
times = st.integers(-5_000, 90_000_000).map(lambda ms: ms / 1000) | st.integers(0, 5).map(float)
readings = st.builds(
    Reading,
    times,
    st.sampled_from(["tc1", "tc2", "mix", "spare", "bath_3"]),
    finite,
    by=st.sampled_from(["probe", "hand"]),
)
faults = st.builds(
    Reading,
    times,
    st.sampled_from(["tc1", "mix"]),
    st.none(),
    fault=st.sampled_from(Fault),
)
watts = st.builds(Reading, times, st.just("motor"), finite, st.just(Unit.WATT))
amounts = st.floats(0, allow_infinity=False).map(abs)
details = st.fixed_dictionaries(
    {},
    optional={
        "ice_g": amounts,
        "salt_g": amounts,
        "ice_c": finite.filter(lambda c: c != 0.0),
        "salt_kind": st.sampled_from(["fine", "rock"]),
        "note": st.text(st.characters(exclude_categories=["Cs"])),
    },
)
marks = st.builds(Mark, times, st.sampled_from(MarkWord), st.sampled_from(By), details)
feds = st.lists(st.tuples(times, st.one_of(readings, faults, watts, marks)), min_size=1)


@given(feds, st.none() | times)
def test_any_run_written_is_read_back_to_the_same_steps(
    fed: list[tuple[float, Item]], ended_at: float | None
) -> None:
    """Order, times, values to the last bit, faults, marks and clock rows all come back."""
    _, run, lost = written(fed, ended_at)
    assert [bits(step) for step in run.items] == [bits(step) for step in clocked(fed, ended_at)]
    assert lost == ()
    assert run.skipped == ()


def test_readings_of_one_moment_share_a_row_with_their_mark() -> None:
    """A run is as long as the moments in it, not as its readings."""
    fed: list[tuple[float, Item]] = [
        (0.0, Reading(1.0, "tc1", -15.0)),
        (1.0, Reading(1.0, "mix", 4.0)),
        (1.0, Mark(1.0, MarkWord.POUR, detail={"mix_g": 900.0})),
        (1.0, Reading(1.0, "tc1", -15.5)),
        (1.0, Reading(2.25, "mix", 3.9, by="hand")),
    ]
    text, _, _ = written(fed)
    assert text.splitlines() == [
        "time_s,bath_c,mix_c,bath_2_c,mixer_w,mark,by,detail",
        "1,-15.0,4.0,,,pour,maker,mix_g=900",
        "1,-15.5,,,,,,",
        "2.25,,3.9,,,,hand,",
    ]


def test_what_comes_late_is_told_by_a_clock_row() -> None:
    """Before a reading that came when the clock had gone past it, a bare row holds the clock."""
    fed: list[tuple[float, Item]] = [
        (0.0, Reading(1.0, "tc1", -15.0)),
        (4.0, Reading(3.5, "tc1", -15.1)),
        (4.0, Reading(4.0, "tc1", -15.2)),
    ]
    text, _, _ = written(fed, 6.0, RigSetup(probes=SETUP.probes[:1]))
    times = [line.split(",")[0] for line in text.splitlines()]
    assert times == ["time_s", "1", "4", "3.5", "4", "6"]


def test_times_are_written_to_a_millisecond() -> None:
    """Nobody needs more of a time, and a spreadsheet shows no more."""
    text, run, _ = written([(0.0, Reading(0.1 + 0.2, "tc1", 1.0))])
    assert text.splitlines()[1].startswith("0.3,1.0,")
    assert run.items[0].t == 0.3


def test_values_are_written_as_the_caller_linearises_them(tmp_path: Path) -> None:
    """What stands in the file is the temperature, whatever the board sent."""
    path = tmp_path / "out.csv"
    emf = Reading(1.0, "tc1", -0.5, Unit.MILLIVOLT, cj_c=20.0)
    write_run(path, SETUP, [(0.0, emf)], None, as_celsius=lambda _: 7.125)
    assert read_run(path, SETUP).items == (Reading(1.0, "tc1", 7.125),)


def test_what_a_table_cannot_hold_is_said_and_moves_the_clock() -> None:
    """A value that is no temperature, a reading without a column and a condition leave a time."""
    fed: list[tuple[float, Item]] = [
        (0.0, Reading(1.0, "tc1", float("inf"))),
        (1.0, Reading(2.0, "x_9", 4.0)),
        (2.0, Condition(3.0, "log-stopped", True, "The disk is full.")),
        (3.0, Reading(4.0, "tc1", -15.0)),
    ]
    _, run, lost = written(fed)
    assert [type(step).__name__ for step in run.items] == ["ClockRow"] * 3 + ["Reading"]
    assert [step.t for step in run.items] == [1.0, 2.0, 3.0, 4.0]
    assert [("'tc1'" in what, "'x_9'" in what) for what in lost] == [(True, False), (False, True)]


def test_a_run_without_readings_can_be_read_back() -> None:
    """Marks alone still make a table with a probe's column in it."""
    mark = Mark(2.0, MarkWord.NOTE, detail={"note": 'thick, "smooth"\nand cold'})
    _, run, _ = written([(0.0, mark)], None, RigSetup())
    assert run.items == (mark,)


def test_comments_stand_on_top(tmp_path: Path) -> None:
    """A file can say where it comes from, and is read as without it."""
    path = tmp_path / "out.csv"
    fed = [(0.0, Reading(1.0, "tc1", -15.0))]
    write_run(path, SETUP, fed, None, as_celsius=as_read, comments=["virtual rig\nrun porch"])
    assert path.read_text("utf-8").splitlines()[:2] == ["# virtual rig", "# run porch"]
    assert len(read_run(path, SETUP).items) == 1


def test_a_file_that_is_there_is_only_replaced_when_asked(tmp_path: Path) -> None:
    """An earlier export is not lost by a second one."""
    path = tmp_path / "out.csv"
    path.write_text("mine")
    with pytest.raises(RunFileError, match="is there already"):
        write_run(path, SETUP, [], 1.0, as_celsius=as_read)
    assert path.read_text() == "mine"
    write_run(path, SETUP, [], 1.0, as_celsius=as_read, overwrite=True)
    assert path.read_text().startswith("time_s")
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    """A fault halfway leaves neither half a file nor a scrap beside it."""

    def broken(reading: Reading) -> float:
        raise ZeroDivisionError

    fed = [(0.0, Reading(1.0, "tc1", -15.0))]
    with pytest.raises(ZeroDivisionError):
        write_run(tmp_path / "out.csv", SETUP, fed, None, as_celsius=broken)
    with pytest.raises(RunFileError, match="cannot be written: No such file or directory"):
        write_run(tmp_path / "none" / "out.csv", SETUP, fed, None, as_celsius=as_read)
    assert list(tmp_path.iterdir()) == []
