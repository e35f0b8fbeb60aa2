"""`rigmon outlets`: what there is, and whether it can be heard."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

_RIG = '[rigs.kitchen]\nsource = "virtual"\n'
_LAMP = '[outlets.command.lamp]\nrun = ["true", "{text}"]\n'
_GONE = '[outlets.webhook.house]\nurl = "http://127.0.0.1:1/tok3n"\n'
_FAILS = '[outlets.command.siren]\nrun = ["false"]\n'

Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes a configuration."""

    def written(text: str) -> Path:
        path = tmp_path / "rig.toml"
        path.write_text(_RIG + text)
        return path

    return written


def test_every_outlet_is_listed_with_its_last_result(rigmon: Rigmon, write: Write) -> None:
    """One that has sent nothing says so; none at all is said."""
    told = rigmon("outlets", "--config", write(_LAMP + _GONE))
    assert told.code == 0
    assert told.out.splitlines() == [
        "webhook house  nothing sent yet",
        "command lamp   nothing sent yet",
    ]
    assert "has no outlets" in rigmon("outlets", "--config", write("")).out


@pytest.mark.parametrize(
    ("outlets", "words", "code", "says"),
    [
        (_LAMP, (), 0, "command lamp, virtual rig, N s: true ran."),
        (_LAMP + _GONE, ("lamp",), 0, "command lamp, virtual rig, N s: true ran."),
        (_FAILS, (), 1, "command siren, virtual rig, N s: false failed with exit code 1."),
        (_GONE, (), 3, "webhook house, virtual rig, N s: 127.0.0.1:1 cannot be reached: "),
        (_FAILS + _GONE + _LAMP, (), 3, "command lamp, virtual rig, N s: true ran."),
        (_FAILS + _GONE, ("command",), 1, "command siren"),
        (_LAMP, ("lmap",), 2, "There is no outlet 'lmap' in the configuration; there are"),
        ("", (), 2, "The configuration has no outlets"),
        ('[outlets.homie]\nbroker = "127.0.0.1:1"\n', (), 3, "homie kitchen, virtual rig, N s: No"),
    ],
)
def test_a_test_message_says_what_happened_and_how_long_it_took(
    rigmon: Rigmon, write: Write, outlets: str, words: tuple[str, ...], code: int, says: str
) -> None:
    """One sentence for each; the worst of them is the exit code."""
    told = rigmon("outlets", "test", *words, "--config", write(outlets))
    assert told.code == code
    assert says in re.sub(r"[0-9]+\.[0-9] s:", "N s:", told.out + told.err)
    assert "tok3n" not in told.out + told.err


def test_without_a_configuration_it_says_what_is_missing(rigmon: Rigmon) -> None:
    """Outlets stand nowhere else."""
    told = rigmon("outlets", "test")
    assert (told.code, "--config" in told.err) == (2, True)


def test_the_outlets_of_the_readme_are_understood(
    rigmon: Rigmon, write: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a reader copies is a configuration that holds, with one outlet of each kind."""
    page = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    example = page.split("## Telling other things")[1].split("```toml\n")[1].split("```")[0]
    (tmp_path / "broker.password").write_text("sesame\n")
    (tmp_path / "house.headers").write_text("Authorization: Bearer sesame\n")
    monkeypatch.setenv("MAIL_PASSWORD", "sesame")
    told = rigmon("outlets", "--config", write(example))
    assert [line.split()[0] for line in told.out.splitlines()] == [
        "homie",
        "webhook",
        "command",
        "mail",
    ]
