"""`rigmon review` and `rigmon runs note`: what is asked wrongly is answered in a sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.store import RunLog
from tests.review.logs import put, recorded, slip

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon


@pytest.fixture
def two(tmp_path: Path) -> Path:
    """A log with two short runs."""
    rig = slip("barley-custard")
    items = recorded("slip-custard-4to1", rig.setup)
    path = tmp_path / "a.sqlite"
    with RunLog(path) as log:
        for day in range(2):
            put(log, items[: 900 + 100 * day], rig.setup, rig.recipe, day)
    return path


def test_the_last_run_is_told_or_the_one_named(rigmon: Rigmon, two: Path) -> None:
    """In words, and as one object of JSON."""
    told = rigmon("review", "--log", two)
    assert told.code == 0
    assert "Toasted barley custard, slip, 2026-07-0" in told.out.splitlines()[0]
    found = json.loads(rigmon("review", "20260704", "--json", "--log", two).out)
    assert found["run"] == "slip-20260704T140000Z"
    assert found["bath"]["ratio"] == 4.0


def test_several_stand_side_by_side(rigmon: Rigmon, two: Path) -> None:
    """Named, or all of them, each once."""
    named = rigmon("review", "20260704", "20260705", "20260704", "--log", two)
    every = json.loads(rigmon("review", "--all", "--json", "--log", two).out)
    assert named.code == 0
    assert named.out.splitlines()[0].split() == ["slip", "slip"]
    assert [one["run"] for one in every["runs"]] == [
        "slip-20260705T140000Z",
        "slip-20260704T140000Z",
    ]


def test_a_report_is_written_where_it_was_asked_for(rigmon: Rigmon, two: Path) -> None:
    """And a sentence says so, beside standard output."""
    told = rigmon("review", "last", "--out", "r.html", "--log", two)
    assert (told.code, told.out, told.err) == (0, "", "The report is in r.html.\n")
    assert Path("r.html").read_text(encoding="utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--out", "r.doc"), "r.doc ends in none of .html, .pdf, .png."),
        (("--all", "--out", "r.pdf"), "A report tells of one run, and 2 are meant: name one"),
        (("--all", "last"), "Name runs, or give --all"),
        (("nothing",), "There is no run 'nothing' in the log"),
        (("--all", "--rig", "shed"), "holds no run of a rig 'shed' yet"),
        (("--out", "no/such/folder/r.html"), "cannot be written"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(
    rigmon: Rigmon, two: Path, words: tuple[str, ...], sentence: str
) -> None:
    """With what was found, and no traceback."""
    told = rigmon("review", *words, "--log", two)
    assert told.code == 2
    assert sentence in " ".join(told.err.split())


def test_a_note_is_kept_and_shown(rigmon: Rigmon, two: Path) -> None:
    """The score with its meaning in words; without options what was said is shown again."""
    said = rigmon("runs", "note", "last", "--texture", "4", "--note", "a <b>little</b> sweet",
                  "--log", two)  # fmt: skip
    again = rigmon("runs", "note", "last", "--log", two)
    assert said.out == again.out
    assert "texture 4, smooth: no crystals felt" in said.out
    assert "a <b>little</b> sweet" in said.out
    assert "texture 4 of 5, smooth" in rigmon("review", "--log", two).out


def test_a_score_has_five_steps(rigmon: Rigmon, two: Path) -> None:
    """Six is none of them, and a run without a note says that there is none."""
    assert rigmon("runs", "note", "last", "--texture", "6", "--log", two).code == 2
    assert "nothing noted yet" in rigmon("runs", "note", "last", "--log", two).out
