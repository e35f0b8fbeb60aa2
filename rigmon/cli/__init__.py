"""The command line: how to ask and how to tell, nothing else."""

from __future__ import annotations

import sys
import traceback

import click

from rigmon import __version__
from rigmon.cli.demo import command as demo
from rigmon.cli.export import command as export
from rigmon.cli.mark import command as mark
from rigmon.cli.replay import command as replay
from rigmon.cli.runs import command as runs
from rigmon.cli.start import command as start
from rigmon.cli.watch import command as watch
from rigmon.errors import RigmonError

_INTERRUPTED = 130


@click.group(
    name="rigmon",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "-V", "--version", message="rigmon %(version)s")
@click.option("--debug", is_flag=True, help="Show the traceback of an error.")
def cli(debug: bool) -> None:
    """Stands beside a bowl of mix in ice and salt and says what to do next."""


for _command in (demo, watch, replay, runs, export, mark, start):
    cli.add_command(_command)


def main() -> None:
    """Run the program; every error ends in a sentence and the exit code of its kind."""
    debug = "--debug" in sys.argv[1:]
    try:
        code = cli.main(prog_name="rigmon", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.Abort:
        sys.exit(_INTERRUPTED)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except RigmonError as error:
        if debug:
            traceback.print_exc()
        click.echo(f"rigmon: {error}", err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        sys.exit(_INTERRUPTED)
    except BrokenPipeError:
        # Whoever read our words has gone; nothing is left to tell.
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:  # noqa: BLE001 - the last line of defence: no traceback reaches a maker
        if debug:
            traceback.print_exc()
        click.echo(
            f"rigmon: a fault of its own: {type(error).__name__}: {error}. "
            "The log keeps what was written; run it again with --debug to see where.",
            err=True,
        )
        sys.exit(1)
