"""The page's keys, from one evening to the next."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from rigmon.outlets.page.keys import Keys
from rigmon.service.pagekeys import FILE, kept_keys


@pytest.fixture(autouse=True)
def data_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nobody's own keys are touched."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "rigmon"


def test_keys_last_and_are_their_owners_alone(data_home: Path) -> None:
    """A bookmark is good the next evening; a file that others could read is made anew."""
    keys, path = kept_keys()
    assert path == data_home / FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert kept_keys() == (keys, path)
    path.chmod(0o640)
    again, _ = kept_keys()
    assert again.full != keys.full
    path.write_text("nonsense")
    assert kept_keys()[0].full not in (keys.full, again.full)


def test_a_folder_that_cannot_be_written_costs_the_bookmark_alone(data_home: Path) -> None:
    """The key is good for this once."""
    data_home.parent.mkdir(parents=True)
    data_home.write_text("in the way")
    keys, path = kept_keys()

    assert path is None
    assert keys.full
    assert isinstance(keys, Keys)
