"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

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


def debugging() -> bool:
    """Whether `--debug` was given."""
    return bool(click.get_current_context().find_root().params.get("debug"))
