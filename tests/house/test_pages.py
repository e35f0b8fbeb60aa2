"""The README and DEVELOPERS show what the program prints, and name every command."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import click
import pytest

from rigmon.cli import cli


@pytest.fixture(scope="session")
def blocks(root: Path) -> ModuleType:
    """The script that rewrites the blocks."""
    spec = importlib.util.spec_from_file_location("readme_blocks", root / ".ci" / "readme.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_blocks_are_what_the_program_prints(page: str, root: Path, blocks: ModuleType) -> None:
    """Every help text and every output on a page is the real one; `.ci/readme.py` renews them."""
    text = (root / page).read_text("utf-8")
    assert text == blocks.rewritten(text)


def test_every_kind_of_block_is_rewritten_and_nothing_else(blocks: ModuleType) -> None:
    """What stands between the comments is replaced, around them nothing is."""
    page = (
        "a\n<!-- help: rigmon watch -->\n```\nold\n```\n<!-- /help -->\n```\nb\n```\n"
        "<!-- run: rigmon runs -->\n```text\n```\n<!-- /run -->\nc\n"
        "<!-- checks: tests/published -->\nold | older\n<!-- /checks -->\nd\n"
    )
    assert blocks.rewritten(page, lambda kind, command: f"{kind} of {command}\n") == (
        "a\n<!-- help: rigmon watch -->\n```\nhelp of rigmon watch\n```\n<!-- /help -->\n"
        "```\nb\n```\n<!-- run: rigmon runs -->\n```text\nrun of rigmon runs\n```\n<!-- /run -->\n"
        "c\n<!-- checks: tests/published -->\nchecks of tests/published\n<!-- /checks -->\nd\n"
    )


@pytest.mark.parametrize(
    "page",
    [
        "<!-- help: rigmon -->\n```\n```\n",
        "<!-- help: rigmon -->\nold\n<!-- /help -->\n",
        "<!-- help: rigmon -->\n```\n```\n<!-- /run -->\n",
        "<!-- checks: tests/published -->\n| a | b |\n",
    ],
)
def test_a_block_that_is_not_closed_is_refused(page: str, blocks: ModuleType) -> None:
    """A slip in the comments does not leave a block unwatched."""
    with pytest.raises(ValueError, match="not closed"):
        blocks.rewritten(page, "{} {}".format)


def test_only_the_program_is_run(blocks: ModuleType) -> None:
    """A page cannot make the script run something else."""
    with pytest.raises(ValueError, match="only commands of rigmon"):
        blocks.output("rm -r /")
    with pytest.raises(ValueError, match="only folders of tests"):
        blocks.checks("tests/../rigmon")


def every_command(command: click.Command, name: str) -> dict[str, click.Command]:
    """A command and those below it, by their full names."""
    found = {name: command}
    if isinstance(command, click.Group):
        for word, below in command.commands.items():
            found |= every_command(below, f"{name} {word}")
    return found


def test_every_command_and_option_has_help() -> None:
    """Nothing that can be typed is left without a sentence."""
    bare = []
    for name, command in every_command(cli, "rigmon").items():
        bare += [] if command.help else [name]
        for option in command.params:
            if isinstance(option, click.Option) and not option.help:
                bare.append(f"{name} {option.opts[-1]}")
    assert bare == []


def test_every_command_stands_in_the_readme(root: Path) -> None:
    """A reader of the README meets every command."""
    page = (root / "README.md").read_text("utf-8")
    words = {name.split()[-1] for name in every_command(cli, "rigmon")}
    assert {"watch", "replay", "demo"} <= words
    assert {word for word in words if not re.search(rf"\b{word}\b", page)} == set()
