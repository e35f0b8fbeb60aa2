"""`rigmon runs`: runs are found, sorted, copied, merged, and go out and in again."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import pytest

from rigmon.cli.runs.files import FORMS
from rigmon.records import Mark, MarkWord, Reading
from rigmon.store import RunHeader, RunLog
from rigmon.store.tables_out import Form
from rigmon.store.upkeep import KEPT_S
from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

T0 = 1_783_173_600.0
SLIP = data_folder() / "rigs" / "slip.toml"
LOGGER = "Zeit;T1\n2026-07-04 16:00:00;-15,5\n2026-07-04 16:00:01;-15,4\n"
MAP = """
decimal = ","
[time]
column = "Zeit"
format = "%Y-%m-%d %H:%M:%S"
zone = "Europe/Berlin"
[[probe]]
column = "T1"
probe = "bath"
unit = "C"
"""


@pytest.fixture(autouse=True)
def two_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The usual log holds a real run and, a day later, a virtual one."""
    path = tmp_path / "runs.sqlite"
    monkeypatch.setenv("RIGMON_LOG", str(path))
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    with RunLog(path) as log:
        for n, rig in enumerate(("kitchen", "demo")):
            name = f"{rig}-2026070{4 + n}T140000Z"
            log.begin(RunHeader(name, rig, T0 + n * 86_400.0, "Plum", "", rig == "demo", "0"))
            log.add(name, Reading(0.0, "bath", -15.0 - n), 0.0)
            log.add(name, Mark(60.0, MarkWord.NOTE, detail={"note": f"Pear {n}"}), 0.0)
            log.end(name, 90.0)
    return path


def listed(rigmon: Rigmon, *words: str) -> list[str]:
    """Ids in the list of runs."""
    told = rigmon("runs", *words)
    assert told.code == 0
    return [line.split()[0] for line in told.out.splitlines() if "T140000Z" in line]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ((), ["demo", "kitchen"]),
        (("--rig", "kitchen"), ["kitchen"]),
        (("--since", "2026-07-05"), ["demo"]),
        (("--until", "2026-07-04"), ["kitchen"]),
        (("--since", "2026-07-04", "--until", "2026-07-05"), ["demo", "kitchen"]),
        (("--text", "pear 1"), ["demo"]),
        (("--text", "PLUM"), ["demo", "kitchen"]),
        (("--virtual",), ["demo"]),
        (("--real",), ["kitchen"]),
        (("--tag", "best"), ["kitchen"]),
        (("--tag", "best", "--tag", "worst"), []),
    ],
)
def test_runs_are_chosen_by_what_is_known_of_them(
    rigmon: Rigmon, words: tuple[str, ...], expected: list[str]
) -> None:
    """Rig, day, words, tags, real or virtual."""
    rigmon("runs", "tag", "kitchen", "best")
    assert [name.partition("-")[0] for name in listed(rigmon, *words)] == expected


def test_a_choice_that_leaves_none_says_so(rigmon: Rigmon, two_runs: Path) -> None:
    """It does not look like an empty log."""
    assert rigmon("runs", "--rig", "attic").out == f"No runs like that in {two_runs}.\n"
    assert rigmon("runs", "--deleted").out == f"No deleted runs in {two_runs}.\n"


def test_words_are_found_with_their_places(rigmon: Rigmon) -> None:
    """What stands where, and when a note was made."""
    assert rigmon("runs", "find", "pear", "0").out == (
        "kitchen-20260704T140000Z  note at 1:00: Pear 0\n"
    )
    assert rigmon("runs", "find", "plum").out.count("recipe: Plum") == 2
    assert rigmon("runs", "find", "fig").out.startswith("'fig' stands in no run in ")


def test_tags_are_shown_once_there_are_any(rigmon: Rigmon) -> None:
    """In the list and as they are set and taken off."""
    assert "tags" not in rigmon("runs").out.splitlines()[0]
    assert rigmon("runs", "tag", "kitchen", "best", "crushed").out == (
        "kitchen-20260704T140000Z: best crushed\n"
    )
    assert rigmon("runs").out.splitlines()[2].endswith(" ended               best crushed")
    told = rigmon("runs", "untag", "kitchen", "best", "fig")
    assert (told.out, told.err) == ("kitchen-20260704T140000Z: crushed\n", "It had no tag fig.\n")


def test_a_deleted_run_is_gone_and_comes_back(rigmon: Rigmon) -> None:
    """With a sentence each time that says what to do."""
    told = rigmon("runs", "delete", "last", "kitchen")
    assert told.out.splitlines()[0] == (
        "Deleted demo-20260705T140000Z; it comes back with: "
        "rigmon runs undelete demo-20260705T140000Z"
    )
    assert listed(rigmon) == []
    assert len(listed(rigmon, "--deleted")) == 2
    assert rigmon("runs", "show", "kitchen-20260704T140000Z").code == 2
    assert rigmon("runs", "undelete", "kitchen").out == "kitchen-20260704T140000Z is back.\n"
    assert len(listed(rigmon)) == 1


def test_purging_names_first_and_does_it_only_when_told(rigmon: Rigmon) -> None:
    """Nothing goes for good by a slip."""
    assert rigmon("runs", "purge").out.endswith("is deleted.\n")
    rigmon("runs", "delete", "demo")
    told = rigmon("runs", "purge").out
    assert told.endswith("1 run would go for good; to do it: rigmon runs purge --yes\n")
    assert len(listed(rigmon, "--deleted")) == 1
    assert rigmon("runs", "purge", "--yes").out == "Gone for good: demo-20260705T140000Z.\n"
    assert listed(rigmon, "--deleted") == []


def test_a_run_deleted_a_month_ago_goes_with_the_next_delete(
    rigmon: Rigmon, two_runs: Path
) -> None:
    """And not before."""
    rigmon("runs", "delete", "demo")
    with RunLog(two_runs) as log, log.writing() as db:
        db.execute("UPDATE run SET deleted_unix = deleted_unix - ?", (KEPT_S + 1.0,))
        db.execute("UPDATE run SET deleted_unix = NULL WHERE rig = 'kitchen'")
    assert len(listed(rigmon, "--deleted")) == 1
    told = rigmon("runs", "delete", "kitchen").out
    assert told.endswith("Gone for good, deleted over 30 days ago: demo-20260705T140000Z.\n")
    assert len(listed(rigmon, "--deleted")) == 1


def test_a_backup_is_taken_restored_and_merged(
    rigmon: Rigmon, two_runs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The log as it was; or its runs beside those that came since."""
    assert rigmon("runs", "backup", "b.sqlite").out.startswith("b.sqlite: 2 runs, 0.1 MB, checked")
    again = rigmon("runs", "backup", "b.sqlite")
    assert (again.code, again.err) == (
        2,
        "rigmon: b.sqlite is there already and is not overwritten; name another file\n",
    )
    rigmon("runs", "delete", "kitchen")
    rigmon("runs", "purge", "--yes")
    assert rigmon("runs", "merge", "b.sqlite").out == "1 run taken in, 1 here already\n"
    assert rigmon("runs", "merge", "b.sqlite").out == "0 runs taken in, 2 here already\n"
    rigmon("runs", "tag", "last", "late")
    told = rigmon("runs", "restore", "b.sqlite")
    assert told.out.startswith(f"{two_runs}: 2 runs from b.sqlite\nWhat was there: {two_runs}.befo")
    assert "late" not in rigmon("runs").out
    monkeypatch.setattr("rigmon.store.backup._PATIENCE_S", 0.05)
    with RunLog(two_runs):
        held = rigmon("runs", "restore", "b.sqlite")
    assert held.code == 1
    assert held.err.endswith(
        "is in use: end what watches, replays or reads it, then restore again\n"
    )


def test_an_export_adds_what_is_new(rigmon: Rigmon, two_runs: Path) -> None:
    """Runs that were written stay; one that goes on is left for the next time."""
    with RunLog(two_runs) as log:
        log.begin(RunHeader("kitchen-now", "kitchen", time.time(), "", "", False, "0"))
        first = rigmon("runs", "export", "out", "--real").out
        assert first == (
            "out: 1 run written as csv\nNot over yet, so left for the next time: kitchen-now.\n"
        )
        log.end("kitchen-now", 1.0)
    assert rigmon("runs", "export", "out").out == "out: 2 runs written as csv, 1 there already\n"
    found = sorted(path.parent.parent.name for path in Path("out/runs").rglob("*.csv"))
    assert found == ["rig=demo", "rig=kitchen", "rig=kitchen"]
    told = rigmon("runs", "export", "out", "--format", "json")
    assert told.code == 2
    assert told.err.startswith("rigmon: out holds an export of another kind")


def test_the_forms_are_those_that_there_are() -> None:
    """The help knows them without asking the store."""
    assert get_args(Form) == FORMS


def test_every_run_is_exported_as_a_run_file_that_comes_in_again(
    rigmon: Rigmon, run_file: Path, two_runs: Path
) -> None:
    """With its configuration beside it; a log that holds it recognises it, another takes it."""
    assert rigmon("runs", "import", run_file, "--config", SLIP).code == 0
    told = rigmon("runs", "export", "out", "--format", "run-files", "--rig", "slip")
    assert told.out == "out: 1 run written as run files\n"
    assert rigmon("runs", "export", "out", "--format", "run-files", "--rig", "slip").out == (
        "out: 0 runs written as run files, 1 there already\n"
    )
    (csv,) = Path("out/rig=slip").rglob("*.csv")
    words = ("runs", "import", csv, "--config", csv.with_suffix(".toml"))
    assert "That run is in the log already: slip-" in rigmon(*words).out
    assert "Kept as slip-" in rigmon(*words, "--log", "new.sqlite").out


def test_somebody_elses_table_comes_in_once(rigmon: Rigmon) -> None:
    """Looked at first, kept, then recognised, also where it was deleted since."""
    Path("logger.csv").write_text(LOGGER)
    Path("map.toml").write_text(MAP)
    words = ("runs", "import", "logger.csv", "--map", "map.toml", "--rig", "attic")
    seen = (
        "logger.csv: 0:01 from 2026-07-04 14:00:00 +0000\n"
        "  bath: 2 readings, −15.5 °C to −15.4 °C\n"
        "  marks: none\n"
    )
    assert rigmon(*words, "--check").out == seen
    assert listed(rigmon, "--rig", "attic") == []
    assert rigmon(*words).out == f"{seen}Kept as attic-20260704T140000Z\n"
    known = f"{seen}That run is in the log already: attic-20260704T140000Z\n"
    assert rigmon(*words).out == known
    rigmon("runs", "delete", "attic")
    assert rigmon(*words).out == (
        f"{known}It is deleted; it comes back with: rigmon runs undelete attic-20260704T140000Z\n"
    )


def test_another_run_of_the_same_second_gets_a_number(rigmon: Rigmon) -> None:
    """Neither is lost, neither is taken for the other."""
    Path("map.toml").write_text(MAP)
    for name, table in (("a.csv", LOGGER), ("b.csv", LOGGER.replace("15,4", "15,3"))):
        Path(name).write_text(table)
        told = rigmon("runs", "import", name, "--map", "map.toml", "--rig", "attic")
        assert told.code == 0
    assert told.out.endswith("Kept as attic-20260704T140000Z-2\n")
    assert len(listed(rigmon, "--rig", "attic")) == 2


def test_a_table_that_is_not_understood_is_told_by_the_line(rigmon: Rigmon) -> None:
    """Of the mapping, of the table, or of what a rig may be called; and nothing is kept."""
    Path("logger.csv").write_text(LOGGER.replace("-15,4", "warm"))
    Path("map.toml").write_text(MAP)
    words = ("runs", "import", "logger.csv", "--map", "map.toml")
    told = rigmon(*words)
    assert (told.code, told.out) == (2, "")
    assert told.err.startswith("rigmon: logger.csv:3 T1: found 'warm', a number is needed; name")
    assert rigmon(*words, "--rig", "My Kitchen").err == (
        "rigmon: 'My Kitchen' cannot be a rig's name; allowed are a-z, 0-9 and -\n"
    )
    skipped = rigmon(*words, "--skip-bad", "--check")
    assert skipped.code == 0
    assert skipped.err.startswith("logger.csv:3 T1: found 'warm'")
    Path("map.toml").write_text(MAP.replace("zone", "zome"))
    assert "map.toml:6 time.zome: unknown key, the nearest known one is zone" in rigmon(*words).err
    assert listed(rigmon, "--rig", "rig") == []


@pytest.mark.parametrize(
    "words", [("tag", "kitchen", "x"), ("delete", "kitchen"), ("purge", "--yes")]
)
def test_a_log_that_cannot_be_written_is_told_and_stays(
    rigmon: Rigmon, two_runs: Path, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program holds it; one sentence, and nothing has changed."""
    monkeypatch.setattr("rigmon.store.schema._BUSY_S", 0.05)
    if words[0] == "purge":
        rigmon("runs", "delete", "demo")
    with RunLog(two_runs):
        before = len(listed(rigmon))
        with closing(sqlite3.connect(two_runs, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            told = rigmon("runs", *words)
    assert told.code == 1
    assert told.err.startswith(f"rigmon: The run log {two_runs} cannot be written: another program")
    assert told.err.count("\n") == 1
    assert len(listed(rigmon)) == before
