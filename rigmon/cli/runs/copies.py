"""`rigmon runs backup`, `restore`, `merge`: whole logs."""

from __future__ import annotations

import time
from pathlib import Path

import click

from rigmon.cli import options
from rigmon.cli.runs.telling import runs, several


@click.command("backup", short_help="Copy the whole log into a file, even during a run.")
@click.argument("file", type=options.FILE)
@options.log
def backup(file: Path, log_path: Path | None) -> None:
    """Copy the whole log, as it is now, into FILE; a run that is watched goes on meanwhile.

    The copy is checked. A file that is there is not overwritten.
    """
    from rigmon.store import backup as copying
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        number = copying.backup(log, file)
    size_mb = file.stat().st_size / 1e6
    click.echo(f"{file}: {runs(number)}, {size_mb:.1f} MB, checked")


@click.command("restore", short_help="Put a backup in the place of the log.")
@click.argument("file", type=options.FILE)
@options.log
def restore(file: Path, log_path: Path | None) -> None:
    """Put the backup FILE in the place of the log. What was there is kept beside it.

    Nothing may have the log open: not a watch, not a replay. To add the runs of FILE to those in
    the log instead: rigmon runs merge FILE.
    """
    from rigmon.store import backup as copying
    from rigmon.store.log import RunLog, default_log_path

    path = log_path or default_log_path()
    beside = copying.restore(path, file)
    with RunLog(path, create=False) as log:
        number = len(log.runs())
    click.echo(f"{path}: {runs(number)} from {file}")
    if beside is not None:
        click.echo(f"What was there: {beside}")


@click.command("merge", short_help="Take in the runs of another log, each once.")
@click.argument("other", type=options.FILE, metavar="OTHER.sqlite")
@options.log
def merge(other: Path, log_path: Path | None) -> None:
    """Take the runs of another machine's log, or of a backup, into this one.

    A run that is here already is told by its content and left as it is, so the same log may be
    merged again and again. What its runs taught of their rigs comes along. OTHER.sqlite is only
    read; runs deleted there stay there.
    """
    from rigmon.service.resume import LONGEST_BREAK_S
    from rigmon.store.log import RunLog, default_log_path
    from rigmon.store.merge import merge as take_in

    with RunLog(log_path or default_log_path()) as log:
        done = take_in(log, other, time.time() - LONGEST_BREAK_S)
    click.echo(f"{runs(len(done.taken))} taken in, {len(done.known)} here already")
    for there, here in done.renamed:
        click.echo(f"{there} is another run here, so the one taken in is {here}.")
    if done.grown:
        click.echo(f"Gone on since it was here last: {several(done.grown)}.")
    if done.deleted:
        click.echo(f"Deleted here, and left so: {several(done.deleted)}.")
    if done.waiting:
        click.echo(f"Not over yet, so left for the next time: {several(done.waiting)}.")
