"""Help is there for everything, quick, and needs none of the heavy libraries."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click
import pytest

import rigmon
from rigmon.cli import cli

if TYPE_CHECKING:
    from tests.cli.conftest import Rigmon

HEAVY = ("numpy", "scipy", "matplotlib")
STARTS = 5
LOOK = f"""
import sys
from rigmon.cli import main
sys.argv[1:] = ["--help"]
try:
    main()
finally:
    print(*(name for name in {HEAVY} if name in sys.modules), file=sys.stderr)
"""


@pytest.mark.parametrize("name", sorted(cli.commands))
def test_every_command_and_option_has_help(rigmon: Rigmon, name: str) -> None:
    """In the list, on its own page, and for each option."""
    command = cli.commands[name]
    listed, page = rigmon("--help"), rigmon(name, "--help")
    assert listed.code == page.code == 0
    assert command.short_help
    assert f"  {name} " in listed.out
    assert command.short_help in listed.out
    assert command.help
    assert command.help.splitlines()[0].split(maxsplit=1)[0] in page.out
    options = [param for param in command.params if isinstance(param, click.Option)]
    assert [option.name for option in options if not option.help] == []


@pytest.mark.parametrize("words", [("export",), ("runs", "tag"), ("plan",)])
def test_examples_stand_on_lines_of_their_own(rigmon: Rigmon, words: tuple[str, ...]) -> None:
    """They are there to be copied."""
    lines = rigmon(*words, "--help").out.splitlines()
    assert any(line.startswith(f"    rigmon {' '.join(words)} ") for line in lines)
    assert not [line for line in lines if "\\b" in line]


def test_help_is_quick_and_loads_no_heavy_library(capsys: pytest.CaptureFixture[str]) -> None:
    """The best of several starts is shown; the machine decides how good that is."""
    env = {"PYTHONPATH": str(Path(rigmon.__file__).parents[1])}
    taken: list[float] = []
    for _ in range(STARTS):
        begun = time.perf_counter()
        looked = subprocess.run(
            [sys.executable, "-c", LOOK], env=env, capture_output=True, text=True, check=True
        )
        taken.append(time.perf_counter() - begun)
        assert looked.stdout.startswith("Usage: rigmon")
        assert looked.stderr.strip() == ""
    with capsys.disabled():
        print(f"\nrigmon --help: {1000.0 * min(taken):.0f} ms at best of {STARTS}")


def test_the_version_is_the_packages_own(rigmon: Rigmon) -> None:
    """One place to change it."""
    import rigmon as package

    told = rigmon("--version")
    assert (told.code, told.out) == (0, f"rigmon {package.__version__}\n")


def test_without_a_command_it_shows_its_help(rigmon: Rigmon) -> None:
    """Whoever just types its name learns what there is."""
    told = rigmon()
    assert "Usage: rigmon" in told.out + told.err
    assert "watch" in told.out + told.err
