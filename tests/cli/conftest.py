"""The program called in this process, and files for it."""

from __future__ import annotations

import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from rigmon.cli import main

RIG = """
[rigs.kitchen]
source = "serial"
port = "{port}"
"""


@dataclass(frozen=True)
class Told:
    """How a command ended.

    Args:
        code: its exit code.
        out: what it wrote to standard output.
        err: what it wrote to standard error.
    """

    code: int
    out: str
    err: str


Rigmon = Callable[..., Told]


@pytest.fixture
def rigmon(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Rigmon:
    """Runs a command in an empty directory."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)

    def run(*words: str | Path) -> Told:
        monkeypatch.setattr(sys, "argv", ["rigmon", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        assert isinstance(ended.value.code, int)
        told = Told(ended.value.code, *capsys.readouterr())
        assert "--debug" in words or "Traceback" not in told.out + told.err
        return told

    return run


@pytest.fixture
def rig_file(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a configuration with one rig on a port."""

    def write(port: str) -> Path:
        path = tmp_path / "rig.toml"
        path.write_text(RIG.format(port=port))
        return path

    return write


@pytest.fixture
def run_file(tmp_path: Path) -> Path:
    """A run of a minute, with a note in it."""
    path = tmp_path / "short.csv"
    rows = [f"{t},{-15 - 0.01 * t:.2f},{4 - 0.05 * t:.2f},,," for t in range(60)]
    rows[0] += "\n0,,,pour,maker,mix_g=1000"
    rows[30] += "\n30,,,note,maker,note=crème"
    path.write_text("\n".join(["time_s,bath_c,mix_c,mark,by,detail", *rows, ""]))
    return path
