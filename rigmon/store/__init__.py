"""What is kept: the run log, and run files in and out."""

from rigmon.store.archive import Archive, steps
from rigmon.store.columns import Column, column_of, probe_column, probe_columns
from rigmon.store.entries import Calibrated, Learned, RunHeader, RunRow, RunState
from rigmon.store.log import RunLog, default_log_path
from rigmon.store.runfile import RunFile, parse_run, read_run
from rigmon.store.runfile_out import AsCelsius, write_run
from rigmon.store.schema import Synchronous
from rigmon.store.steps import ClockRow, Step, clocked

__all__ = [
    "Archive",
    "AsCelsius",
    "Calibrated",
    "ClockRow",
    "Column",
    "Learned",
    "RunFile",
    "RunHeader",
    "RunLog",
    "RunRow",
    "RunState",
    "Step",
    "Synchronous",
    "clocked",
    "column_of",
    "default_log_path",
    "parse_run",
    "probe_column",
    "probe_columns",
    "read_run",
    "steps",
    "write_run",
]
