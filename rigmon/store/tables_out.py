"""Tables written as CSV, JSON lines or Parquet, in folders that an engine reads as they are."""

from __future__ import annotations

import csv
import datetime
import json
import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

from rigmon.errors import RunFileError, UsageError
from rigmon.store.entries import RunRow
from rigmon.store.tables import RUNS, SCHEMA_VERSION, TABLES, Cell, Cells, Kind, Table, day_of

Form = Literal["csv", "json", "parquet", "run-files"]
ENDINGS: Mapping[Form, str] = {
    "csv": "csv",
    "json": "jsonl",
    "parquet": "parquet",
    "run-files": "csv",
}
_ABOUT = "_schema.json"
"""Engines pass over files whose names begin with a line."""


class Folder:
    """The folder of an export.

    Args:
        path: the folder; it is made where it is not there.
        form: what lies in it.

    Raises:
        UsageError: something else lies there, or a library is missing.
        RunFileError: it cannot be written.
    """

    def __init__(self, path: Path, form: Form) -> None:
        self._path = path
        self._form = form
        self._write = _writer(form)
        self._open()

    def place(self, table: str, row: RunRow, content: str) -> Path:
        """The file of a run in a table; its folder is there.

        Args:
            table: name of the table, "" for none.
            row: the run.
            content: fingerprint of its items, so that runs of one name from two machines can lie
                side by side.

        Raises:
            RunFileError: its folder cannot be made.
        """
        head = row.header
        folder = self._path / table / f"rig={quote(head.rig, safe='')}" / f"day={day_of(row)}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise _unwritable(folder, fault) from None
        name = f"{quote(head.id, safe='')}-{content[:8]}.{ENDINGS[self._form]}"
        return folder / name

    def has(self, row: RunRow, content: str) -> bool:
        """Whether a run with that content lies there whole."""
        return self.place(RUNS.name, row, content).exists()

    def put(self, row: RunRow, content: str, rows: Mapping[str, Sequence[Cells]]) -> None:
        """Write the rows of a run, those of the runs last: a run that stands there is whole.

        Raises:
            RunFileError: they cannot be written.
        """
        for table in (*TABLES[1:], RUNS):
            if not rows.get(table.name):
                continue
            target = self.place(table.name, row, content)
            part = target.with_name(f".{target.name}.{os.getpid()}.part")
            try:
                self._write(part, table, rows[table.name])
                part.replace(target)
            except OSError as fault:
                raise _unwritable(target, fault) from None
            finally:
                with suppress(OSError):
                    part.unlink()

    def _open(self) -> None:
        about = self._path / _ABOUT
        wanted = described(self._form)
        try:
            self._path.mkdir(parents=True, exist_ok=True)
            if about.is_file():
                found = json.loads(about.read_text("utf-8"))
                same = all(found.get(key) == wanted[key] for key in ("format", "schema"))
                if not same:
                    raise UsageError(
                        f"{self._path} holds an export of another kind "
                        f"({found.get('format')}, schema {found.get('schema')}); name a new folder"
                    )
            elif any(self._path.iterdir()):
                raise UsageError(f"{self._path} holds other things; name a new or empty folder")
            else:
                text = json.dumps(wanted, ensure_ascii=False, indent=1)
                about.write_text(f"{text}\n", "utf-8")
        except (ValueError, AttributeError):
            raise UsageError(f"{about} cannot be understood; name a new folder") from None
        except OSError as fault:
            raise _unwritable(self._path, fault) from None


def described(form: Form) -> dict[str, Any]:
    """What an export says of itself: its format, and the columns of its tables."""
    tables = () if form == "run-files" else TABLES
    return {
        "written_by": "rigmon",
        "format": form,
        "schema": SCHEMA_VERSION,
        "partitions": ["rig", "day"],
        "tables": {
            table.name: [
                {"name": f.name, "type": f.kind.value, "null": not f.always, "says": f.says}
                for f in table.fields
            ]
            for table in tables
        },
    }


Write = Callable[[Path, Table, Sequence[Cells]], None]


def _writer(form: Form) -> Write:
    match form:
        case "parquet":
            return _parquet()
        case "json":
            return _as_json_lines
        case _:
            return _as_csv


def _as_csv(path: Path, table: Table, rows: Sequence[Cells]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([field.name for field in table.fields])
        writer.writerows([_plain(cell) for cell in cells] for cells in rows)


def _plain(cell: Cell) -> str:
    match cell:
        case None:
            return ""
        case bool():
            return "true" if cell else "false"
        case datetime.datetime():
            return _iso(cell)
        case float():
            return repr(cell)
    return str(cell)


def _as_json_lines(path: Path, table: Table, rows: Sequence[Cells]) -> None:
    names = [field.name for field in table.fields]
    with path.open("w", encoding="utf-8", newline="") as file:
        for cells in rows:
            plain = [_iso(c) if isinstance(c, datetime.datetime) else c for c in cells]
            file.write(json.dumps(dict(zip(names, plain, strict=True)), ensure_ascii=False) + "\n")


def _iso(moment: datetime.datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _parquet() -> Write:
    try:
        import pyarrow  # noqa: PLC0415 - large, and needed for this alone
        import pyarrow.parquet  # noqa: PLC0415 - see above
    except ImportError:
        raise UsageError(
            "Parquet needs the library pyarrow, which is not here; install it: "
            "pip install 'rigmon[parquet]'"
        ) from None
    kinds = {
        Kind.TEXT: pyarrow.string(),
        Kind.NUMBER: pyarrow.float64(),
        Kind.COUNT: pyarrow.int64(),
        Kind.FLAG: pyarrow.bool_(),
        Kind.TIME: pyarrow.timestamp("us", tz="UTC"),
    }

    def write(path: Path, table: Table, rows: Sequence[Cells]) -> None:
        fields = [
            pyarrow.field(one.name, kinds[one.kind], not one.always, {"says": one.says})
            for one in table.fields
        ]
        about = {"written_by": "rigmon", "schema": str(SCHEMA_VERSION)}
        schema = pyarrow.schema(fields, metadata=about)
        columns = [
            pyarrow.array(column, type=field.type)
            for column, field in zip(zip(*rows, strict=True), schema, strict=True)
        ]
        pyarrow.parquet.write_table(pyarrow.Table.from_arrays(columns, schema=schema), path)

    return write


def _unwritable(path: Path, fault: OSError) -> RunFileError:
    return RunFileError(f"{path} cannot be written: {fault.strerror or fault}")
