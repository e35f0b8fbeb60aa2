"""Runs come out as tables of one schema, alike in every format, and read back as they are."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigmon.errors import RunFileError, UsageError
from rigmon.records import Reading, Unit
from rigmon.store import RunLog
from rigmon.store.fingerprint import fingerprint
from rigmon.store.tables import TABLES, Kind, RunTables
from rigmon.store.tables_out import Folder, Form, described
from rigmon.store.upkeep import tag

if TYPE_CHECKING:
    from tests.store.conftest import Put

DAY = "rig=porch/day=2026-07-04"
NO_PARQUET = "pyarrow is not installed: pip install 'rigmon[parquet]'"
TABLE_FORMS: tuple[Form, ...] = ("csv", "json", "parquet")


def in_celsius(reading: Reading) -> float | None:
    """A temperature that is a quarter off, to tell it from the value."""
    return None if reading.unit is Unit.WATT or reading.value is None else reading.value + 0.25


@pytest.fixture
def full(log: RunLog, put: Put) -> RunLog:
    """A log with one run of every kind of thing."""
    put(log, "a", end=False)
    log.add("a", Reading(2.5, "mixer", 40.0, Unit.WATT), 2.0)
    log.add("a", Reading(2.75, "bath", float("nan"), cj_c=21.5, sd_k=0.5, board_s=7.0), 2.0)
    log.say("a", 2.5, "notice", '{"text":"„ja“,\\n"}')
    log.end("a", 3.0)
    tag(log, ["a"], ["plum", "fig"])
    return log


def written(log: RunLog, folder: Path, form: Form) -> str:
    """Write the run; returns its fingerprint."""
    row, content = log.run("a"), fingerprint(log, "a")
    rows = RunTables(log, row, content, lambda probe: probe, in_celsius).rows()
    Folder(folder, form).put(row, content, rows)
    return content


def read(path: Path, form: Form, table: str) -> list[Mapping[str, Any]]:
    """The rows of a table, their times as text."""
    if form == "csv":
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))
    if form == "json":
        return [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    import pyarrow.parquet as pq

    rows = pq.read_table(path, partitioning=None).to_pylist()
    return [
        {
            name: f"{cell:%Y-%m-%dT%H:%M:%S}.{cell.microsecond // 1000:03d}Z"
            if hasattr(cell, "microsecond")
            else cell
            for name, cell in row.items()
        }
        for row in rows
    ]


def as_text(cell: object) -> str:
    """A cell as a table of text has it."""
    if cell is None:
        return ""
    return str(cell).lower() if isinstance(cell, bool) else str(cell)


@pytest.mark.parametrize("form", TABLE_FORMS)
def test_every_format_holds_the_same(full: RunLog, tmp_path: Path, form: Form) -> None:
    """Each table in its folder, with the columns of the schema, and the same cells."""
    if form == "parquet":
        pytest.importorskip("pyarrow", reason=NO_PARQUET)
    both: tuple[Form, Form] = ("json", form)
    for one in both:
        written(full, tmp_path / one, one)
    for table in TABLES:
        (path,) = (tmp_path / form / table.name / DAY).iterdir()
        (plain,) = (tmp_path / "json" / table.name / DAY).iterdir()
        rows = read(path, form, table.name)
        assert {tuple(row) for row in rows} == {tuple(field.name for field in table.fields)}
        wanted = read(plain, "json", table.name)
        assert rows == (
            [{name: as_text(cell) for name, cell in row.items()} for row in wanted]
            if form == "csv"
            else wanted
        )


def test_what_stands_in_the_tables_is_what_was_logged(full: RunLog, tmp_path: Path) -> None:
    """Absolute and relative times, the place, the corrected temperature, amounts and tags."""
    content = written(full, tmp_path / "out", "json")
    found = {
        table.name: read(next((tmp_path / "out" / table.name / DAY).iterdir()), "json", table.name)
        for table in TABLES
    }
    (run,) = found["runs"]
    assert run["started"] == "2026-07-04T14:00:00.000Z"
    assert run["ended"] == "2026-07-04T14:00:03.000Z"
    assert (run["tags"], run["readings"], run["content"]) == ("fig plum", 4, content)
    bath, mix, mixer, lost = found["readings"]
    assert (bath["time"], bath["time_s"], bath["seq"]) == ("2026-07-04T14:00:00.000Z", 0.0, 1)
    assert (bath["temperature_c"], bath["value"], bath["unit"]) == (-14.75, -15.0, "Cel")
    assert (mix["place"], mixer["temperature_c"], mixer["value"]) == ("mix", None, 40.0)
    assert (lost["value"], lost["cj_c"], lost["sd_k"], lost["board_s"]) == (None, 21.5, 0.5, 7.0)
    (mark,) = found["marks"]
    assert (mark["mark"], mark["mix_g"], mark["ice_g"], mark["note"]) == ("pour", 900, None, "Plum")
    assert json.loads(mark["detail"]) == {"mix_g": 900.0, "note": "Plum"}
    (condition,) = found["conditions"]
    assert (condition["code"], condition["active"]) == ("log-stopped", True)
    assert [said["line"] for said in found["said"]] == list(full.said("a"))
    turns = [row["seq"] for name in ("readings", "marks", "conditions") for row in found[name]]
    assert sorted(turns) == [1, 2, 3, 4, 5, 6]


def test_an_engine_reads_the_folders_of_two_machines_as_one(
    full: RunLog, put: Put, tmp_path: Path
) -> None:
    """Rig and day come from the folders; types are those of the schema; names do not collide."""
    pa = pytest.importorskip("pyarrow", reason=NO_PARQUET)
    ds = pytest.importorskip("pyarrow.dataset", reason=NO_PARQUET)

    written(full, tmp_path / "all", "parquet")
    with RunLog(tmp_path / "second.sqlite") as second:
        put(second, "a", -20.0)
        written(second, tmp_path / "all", "parquet")
    kinds = {
        Kind.TEXT: pa.string(),
        Kind.NUMBER: pa.float64(),
        Kind.COUNT: pa.int64(),
        Kind.FLAG: pa.bool_(),
        Kind.TIME: pa.timestamp("us", tz="UTC"),
    }
    for table in TABLES:
        data = ds.dataset(tmp_path / "all" / table.name, format="parquet", partitioning="hive")
        own = {field.name: kinds[field.kind] for field in table.fields}
        assert {name: data.schema.field(name).type for name in own} == own
        assert set(data.schema.names) - set(own) == {"rig", "day"}
    readings = ds.dataset(tmp_path / "all" / "readings", format="parquet", partitioning="hive")
    here = (ds.field("rig") == "porch") & (ds.field("day") == "2026-07-04")
    rows = readings.to_table(filter=here & (ds.field("place") == "bath"))
    assert sorted(rows.column("value").to_pylist(), key=str) == [-15.0, -20.0, None]


def test_a_folder_takes_one_kind_of_export_alone(tmp_path: Path) -> None:
    """Nothing is laid among other things, nor among another format or schema."""
    Folder(tmp_path / "out", "csv")
    Folder(tmp_path / "out", "csv")
    with pytest.raises(UsageError, match=r"an export of another kind \(csv, schema 1\)"):
        Folder(tmp_path / "out", "json")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "photo").touch()
    with pytest.raises(UsageError, match="mine holds other things; name a new or empty folder"):
        Folder(tmp_path / "mine", "csv")
    (tmp_path / "out" / "_schema.json").write_text("[]")
    with pytest.raises(UsageError, match="cannot be understood"):
        Folder(tmp_path / "out", "csv")
    (tmp_path / "file").touch()
    with pytest.raises(RunFileError, match="out cannot be written: "):
        Folder(tmp_path / "file" / "out", "csv")


def test_without_its_library_parquet_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One sentence, and no folder is made."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(UsageError, match=r"needs the library pyarrow.*pip install 'rigmon\[parq"):
        Folder(tmp_path / "out", "parquet")
    assert not (tmp_path / "out").exists()


def test_the_schema_stands_in_the_developers_page() -> None:
    """Every column with its type and meaning; none that is not there."""
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    for table in TABLES:
        for field in table.fields:
            kind = field.kind.value + ("" if field.always else ", or none")
            assert f"| `{field.name}` | {kind} | {field.says} |" in page, (table.name, field.name)


def test_an_export_says_itself_what_it_holds() -> None:
    """For whoever finds the folder without this page."""
    found = described("json")
    assert list(found["tables"]) == [table.name for table in TABLES]
    assert found["tables"]["readings"][0] == {
        "name": "run_id",
        "type": "text",
        "null": False,
        "says": "the run",
    }
    assert described("run-files")["tables"] == {}
