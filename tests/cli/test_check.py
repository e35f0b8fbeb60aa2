"""`rigmon check`: what is asked wrongly is refused in a sentence, and nothing is written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigmon.virtual.scenario import data_folder

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

RIGS = data_folder() / "rigs"


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--type", "T"), "--type goes with --write"),
        (("--broker", "barn"), "--broker goes with --write"),
        (("--write", "new.toml", "--mixer"), "leave out --config and tests"),
        (("--write", "new.toml", "--probe", "bath"), "write NAME=PLACE"),
        (("--write", "new.toml", "--probe", "a=table"), "write NAME=PLACE with one of bath"),
        (("--write", "there.toml"), "there.toml is there already"),
        (("--write", "no/new.toml"), "there is no folder no"),
        (("--write", "new.toml", "--port", "a", "--broker", "b"), "a port or a broker"),
        (("--write", "new.toml", "--rig", "My Rig", "--port", "a"), "allowed are a-z, 0-9"),
        (("--write", "new.toml", "--broker", "barn:x"), "write HOST or HOST:PORT"),
        (("--write", "new.toml", "--recipe", "no.toml"), "no.toml"),
        (("--write", "new.toml", "--port", "/dev/ttyNOSUCH"), "There is no port /dev/ttyNOSUCH"),
        (("--config", str(RIGS / "slip.toml"), "--rig", "left"), "There is no rig 'left'"),
        (("--config", str(RIGS / "slip.toml"), "--port", "a"), "--port is for a first look"),
        (("--config", "no.toml"), "no.toml: there is no such file"),
    ],
)
def test_what_cannot_be_asked_is_refused(
    rigmon: Rigmon, tmp_path: Path, words: tuple[str, ...], sentence: str
) -> None:
    """With exit code 2, or 3 for what cannot be reached; a file that is there stays as it is."""
    (tmp_path / "there.toml").write_text("mine")
    told = rigmon("check", *words)
    assert told.code in (2, 3)
    assert sentence in told.err
    assert not (tmp_path / "new.toml").exists()
    assert (tmp_path / "there.toml").read_text() == "mine"


def test_a_virtual_rig_needs_no_port(rigmon: Rigmon) -> None:
    """Recipe, forecast, log, disk and page are looked at all the same."""
    told = rigmon("check", "--config", RIGS / "demo.toml", "--log", "runs.sqlite")
    assert told.code == 0
    assert "virtual rig: nothing is plugged in" in told.out
    for subject in ("recipe", "forecast", "log", "disk", "page"):
        assert f"+ ok     {subject} " in told.out
