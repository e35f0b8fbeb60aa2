"""`rigmon start`: begin a run of a rig that is watched."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options


@click.command("start", short_help="Begin a new run of a rig that is watched.")
@click.argument("rig_id", metavar="RIG")
@options.recipe
def command(rig_id: str, recipe_path: Path | None) -> None:
    """Begin a new run of RIG in the rigmon that watches it; the run before it ends.

    Without it a run begins with the first ice-in, pour or cold bath.
    """
    import shlex

    from rigmon.cli.mark import hand_over

    recipe = f" recipe={shlex.quote(str(recipe_path.resolve()))}" if recipe_path else ""
    hand_over(f"start{recipe}", rig_id)
