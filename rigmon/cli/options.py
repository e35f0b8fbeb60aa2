"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

FILE = click.Path(path_type=Path)
SEED = click.IntRange(0, 2**63 - 1)

config = click.option(
    "--config", "config_path", type=FILE, metavar="RIG.toml", help="Configuration of the rig."
)
recipe = click.option(
    "--recipe", "recipe_path", type=FILE, metavar="RECIPE.toml", help="What the mix is made of."
)
rig = click.option("--rig", "rig_id", metavar="ID", help="Which rig, if there are several.")
log = click.option(
    "--log",
    "log_path",
    type=FILE,
    metavar="LOG.sqlite",
    help="The run log; by default it lies in your data directory.",
)
jsonl = click.option(
    "--jsonl",
    metavar="FILE",
    help="JSON lines instead of words for people; - for standard output.",
)
every = click.option(
    "--every",
    default=1,
    show_default=True,
    type=click.IntRange(1, 3600),
    metavar="S",
    help="A state every S seconds of the run.",
)


_PAGE = (
    click.option("--no-page", is_flag=True, help="Serve no page."),
    click.option(
        "--port",
        type=click.IntRange(1, 65_535),
        metavar="N",
        help="Port of the page; 8466 by default, or the next that is free.",
    ),
    click.option(
        "--guests", is_flag=True, help="An address for looking only as well; implies --lan."
    ),
    click.option(
        "--lan",
        is_flag=True,
        help="Open the page to your network, for those who have its address with the key.",
    ),
)
Command = TypeVar("Command", bound=Callable[..., Any])


def page(command: Command) -> Command:
    """The options of the page in the browser."""
    for option in _PAGE:
        command = option(command)
    return command


def debugging() -> bool:
    """Whether `--debug` was given."""
    return bool(click.get_current_context().find_root().params.get("debug"))
