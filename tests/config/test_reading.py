"""A file that cannot be read at all is refused in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigmon.config import load_config
from rigmon.errors import ConfigError

Write = Callable[..., Path]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "[rigs.a]\nport = /dev/ttyUSB0\n",
            (
                "rig.toml:2 column 8: this is not TOML, a value is missing or is none; "
                "text needs quotation marks"
            ),
        ),
        (
            "[rigs.a]\nport\n",
            "rig.toml:2 column 5: this is not TOML, an = is missing behind the key",
        ),
        (
            "room_c = 1\nroom_c = 2\n",
            (
                "rig.toml:2 column 11: this is not TOML, this key or table is given a second time; "
                "keep one"
            ),
        ),
        (
            "[log]\n[log]\n",
            "rig.toml:2 column 5: this is not TOML, this table is given a second time; keep one",
        ),
        (
            '[rigs.a]\nport = "/dev\n',
            (
                "rig.toml:2 column 13: this is not TOML, a text is not closed; it needs a "
                "quotation mark at its end"
            ),
        ),
        (
            'columns = ["bath",\n"mix"\n',
            "rig.toml:2: this is not TOML, a list is not closed; it needs a ] at its end",
        ),
        (
            'port = "C:\\Users"\n',
            (
                "rig.toml:1 column 13: this is not TOML, a \\ in a text must be doubled, "
                "or the text put in single quotes"
            ),
        ),
        (
            "a = 1 b = 2\n",
            (
                "rig.toml:1 column 7: this is not TOML, something stands behind the value; "
                "each key needs a line of its own"
            ),
        ),
        ("a = " + "[" * 5000, "rig.toml: brackets are nested too deeply to be read"),
        ("a = " + "9" * 5000, "rig.toml: a number has too many digits to be read"),
    ],
)
def test_a_file_that_is_not_toml_is_pointed_at(write: Write, text: str, says: str) -> None:
    """Where TOML itself breaks, line and column are said in words without a parser's terms."""
    with pytest.raises(ConfigError) as raised:
        load_config(write(text))
    assert str(raised.value) == says


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """A path that leads nowhere is named."""
    path = tmp_path / "nowhere.toml"
    with pytest.raises(ConfigError) as raised:
        load_config(path)
    assert str(raised.value) == f"{path}: there is no such file; check the path"


def test_a_directory_is_no_configuration(tmp_path: Path) -> None:
    """A directory is refused as such."""
    with pytest.raises(ConfigError) as raised:
        load_config(tmp_path)
    assert str(raised.value) == f"{tmp_path}: this is a directory; name the file in it"


def test_a_path_through_a_file_is_said(write: Write) -> None:
    """What the operating system says of an odd path becomes one sentence."""
    path = write("") / "more.toml"
    with pytest.raises(ConfigError) as raised:
        load_config(path)
    assert str(raised.value) == f"{path}: the file cannot be read (Not a directory)"


def test_a_file_in_another_encoding_is_pointed_at(tmp_path: Path) -> None:
    """The line with the first byte that is not UTF-8 is named."""
    path = tmp_path / "rig.toml"
    path.write_bytes("[rigs.a]\nmixer = 'Rührer'\n".encode("latin-1"))
    with pytest.raises(ConfigError) as raised:
        load_config(path)
    assert str(raised.value) == f"{path}:2: this is not UTF-8 text, save it as UTF-8"


def test_a_file_without_permission_is_said(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that may not be read is named with what to do."""

    def refused(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    path = write("")
    # The tests may run as root, whom no permission stops.
    monkeypatch.setattr(Path, "read_bytes", refused)
    with pytest.raises(ConfigError) as raised:
        load_config(path)
    assert str(raised.value) == (
        "rig.toml: you may not read this file; change its permissions or its owner"
    )
