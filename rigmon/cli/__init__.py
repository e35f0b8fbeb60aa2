"""The command line: how to ask and how to tell, nothing else."""

from __future__ import annotations

import io
import os
import sys
import threading
import traceback
from pathlib import Path
from typing import Any

import click

from rigmon import __version__
from rigmon.cli.calibrate import command as calibrate
from rigmon.cli.check import command as check
from rigmon.cli.compare import command as compare
from rigmon.cli.demo import command as demo
from rigmon.cli.export import command as export
from rigmon.cli.mark import command as mark
from rigmon.cli.outlets import command as outlets
from rigmon.cli.plan import command as plan
from rigmon.cli.replay import command as replay
from rigmon.cli.review import command as review
from rigmon.cli.rig import command as rig
from rigmon.cli.runs import command as runs
from rigmon.cli.start import command as start
from rigmon.cli.suggest import command as suggest
from rigmon.cli.watch import command as watch
from rigmon.errors import RigmonError

_DEBUG = "--debug"
_FAULT = 1
_INTERRUPTED = 130


class _Commands(click.Group):
    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            # Whoever read our words has gone; nothing is left to tell, and nothing is wrong.
            return 0


@click.group(
    name="rigmon",
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "-V", "--version", message="rigmon %(version)s")
@click.option(_DEBUG, is_flag=True, help="Show the traceback of an error, and the last bad lines.")
def cli(debug: bool) -> None:
    """Stands beside a bowl of mix in ice and salt and says what to do next."""


for _command in (
    demo,
    plan,
    watch,
    replay,
    runs,
    review,
    rig,
    outlets,
    export,
    mark,
    start,
    calibrate,
    check,
    suggest,
    compare,
):
    cli.add_command(_command)


def _keep_examples(command: click.Command) -> None:
    """Let the examples in a command's help keep their lines."""
    # click looks for the backspace itself; a docstring that must stay readable has it in letters.
    command.help = (command.help or "").replace("\\b\n", "\b\n")
    if isinstance(command, click.Group):
        for below in command.commands.values():
            _keep_examples(below)


_keep_examples(cli)


def main() -> None:
    """Run the program; every error ends in a sentence and the exit code of its kind."""
    _settle_streams()
    words = [word for word in sys.argv[1:] if word != _DEBUG]
    debug = len(words) < len(sys.argv) - 1
    if not debug:
        threading.excepthook = _thread_failed
    code = _run([_DEBUG, *words] if debug else words, debug)
    try:
        sys.stdout.flush()
    except OSError:
        # Python would complain of it once more when it leaves.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(code)


def _run(words: list[str], debug: bool) -> int:
    try:
        code = cli.main(words, prog_name="rigmon", standalone_mode=False)
    except (click.exceptions.Abort, KeyboardInterrupt):
        return _INTERRUPTED
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except RigmonError as error:
        _tell(str(error), debug)
        return error.exit_code
    except OSError as error:
        what = f"{error.filename} cannot be used" if error.filename else "A file or device failed"
        _tell(f"{what}: {error.strerror or error}.", debug)
    except Exception as error:  # noqa: BLE001 - the last line of defence: no traceback reaches a maker
        fault = f"{type(error).__name__}: {error}"
        _tell(
            f"a fault of its own: {fault}. The log keeps what was written; run it again with "
            f"{_DEBUG} to see where.",
            debug,
        )
    else:
        return code if isinstance(code, int) else 0
    return _FAULT


def _tell(sentence: str, debug: bool) -> None:
    if debug:
        traceback.print_exc()
    click.echo(f"rigmon: {sentence}", err=True)


def _thread_failed(failure: threading.ExceptHookArgs) -> None:
    name = failure.thread.name if failure.thread is not None else "a thread"
    _tell(f"a fault of its own in {name}: {failure.exc_type.__name__}: {failure.exc_value}.", False)


def _settle_streams() -> None:
    """Have somewhere to write, and let a terminal without a sign for "°" show another."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - as long as the program
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
