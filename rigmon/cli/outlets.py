"""`rigmon outlets`: where alarms go beside the screen, and whether they arrive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options

if TYPE_CHECKING:
    from rigmon.config import Config


@click.group("outlets", short_help="List the outlets, or try them.", invoke_without_command=True)
@options.config
@options.log
@click.pass_context
def command(context: click.Context, config_path: Path | None, log_path: Path | None) -> None:
    """List the outlets of RIG.toml, each with its last result.

    The result comes from the rigmon that is watching, else from the newest runs in the log.
    """
    context.obj = config_path
    if context.invoked_subcommand is None:
        from rigmon.service.trying import listed

        for line in listed(_config(config_path), log_path):
            click.echo(line)


@command.command("test", short_help="Send a test message through one outlet, or all.")
@click.argument("name", required=False)
@options.config
@click.pass_context
def test(context: click.Context, name: str | None, config_path: Path | None) -> int:
    """Send a message marked as a test through the outlet NAME, or through all.

    NAME is its kind, its name, or both, as in `rigmon outlets test "mail ada"`. Ends with 0 if all
    went well, 3 if one could not be reached, 1 if one refused.
    """
    from rigmon.service.trying import tried

    worst = 0
    for code, sentence in tried(_config(config_path or context.obj), name):
        click.echo(sentence, err=code != 0)
        worst = max(worst, code)
    return worst


def _config(path: Path | None) -> Config:
    from rigmon.errors import UsageError
    from rigmon.service.prepare import read_config

    if path is None:
        raise UsageError("outlets stand in a configuration: give it with --config RIG.toml")
    return read_config(path)
