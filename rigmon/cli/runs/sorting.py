"""`rigmon runs find`, `tag`, `untag`, `delete`, `undelete`, `purge`: runs found and sorted."""

from __future__ import annotations

import datetime
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options
from rigmon.cli.runs.telling import runs, several
from rigmon.units import clock

if TYPE_CHECKING:
    from rigmon.store import RunLog


@click.command("find", short_help="Find words in the runs.")
@click.argument("words", nargs=-1, required=True)
@options.log
def find(words: tuple[str, ...], log_path: Path | None) -> None:
    """Find WORDS in the runs: in their ids, recipes, tags and notes, and say where they stand."""
    from rigmon.store.upkeep import hits

    sought = " ".join(words)
    found = 0
    with _log(log_path) as log:
        tasted = log.tastings()
        for row in log.runs():
            for hit in hits(log, row, sought, tasted):
                where = hit.what if hit.at is None else f"{hit.what} at {clock(hit.at)}"
                name = row.header.id
                click.echo(name if hit.what == "id" else f"{name}  {where}: {hit.text}")
                found += 1
        if not found:
            click.echo(f"{sought!r} stands in no run in {log.path}.")


@click.command("tag", short_help="Put tags on a run.")
@click.argument("run")
@click.argument("words", nargs=-1, required=True, metavar="TAG...")
@options.log
def tag(run: str, words: tuple[str, ...], log_path: Path | None) -> None:
    r"""Put tags on RUN, to find it by.

    \b
      rigmon runs tag last plum crushed-ice
    """
    from rigmon.store import upkeep

    with _log(log_path) as log:
        name = log.find(run).id
        upkeep.tag(log, [name], words)
        click.echo(f"{name}: {' '.join(log.run(name).tags)}")


@click.command("untag", short_help="Take tags off a run.")
@click.argument("run")
@click.argument("words", nargs=-1, required=True, metavar="TAG...")
@options.log
def untag(run: str, words: tuple[str, ...], log_path: Path | None) -> None:
    """Take tags off RUN."""
    from rigmon.store import upkeep

    with _log(log_path) as log:
        name = log.find(run).id
        had_not = upkeep.untag(log, [name], words)
        click.echo(f"{name}: {' '.join(log.run(name).tags) or 'no tags'}")
    if had_not:
        click.echo(f"It had no tag {', '.join(had_not)}.", err=True)


@click.command("delete", short_help="Delete runs; they can be brought back.")
@click.argument("names", nargs=-1, required=True, metavar="RUN...")
@options.log
def delete(names: tuple[str, ...], log_path: Path | None) -> None:
    """Delete runs: they are listed no more, and what they taught of their rig is left out.

    For 30 days rigmon runs undelete brings them back; then the next delete or purge takes them
    away for good.
    """
    from rigmon.store import upkeep

    now = time.time()
    with _log(log_path) as log:
        meant = tuple(dict.fromkeys(log.find(name).id for name in names))
        upkeep.delete(log, meant, now)
        for name in meant:
            click.echo(f"Deleted {name}; it comes back with: rigmon runs undelete {name}")
        gone = upkeep.purge(log, now - upkeep.KEPT_S)
    if gone:
        click.echo(f"Gone for good, deleted over 30 days ago: {several(gone)}.")


@click.command("undelete", short_help="Bring deleted runs back.")
@click.argument("names", nargs=-1, required=True, metavar="RUN...")
@options.log
def undelete(names: tuple[str, ...], log_path: Path | None) -> None:
    """Bring deleted runs back, with what they taught. rigmon runs --deleted lists them."""
    from rigmon.store import upkeep

    with _log(log_path) as log:
        meant = tuple(dict.fromkeys(log.find(name, deleted=True).id for name in names))
        upkeep.undelete(log, meant)
    for name in meant:
        click.echo(f"{name} is back.")


@click.command("purge", short_help="Take deleted runs away for good.")
@click.option("--yes", is_flag=True, help="Really do it; without it they are only named.")
@options.log
def purge(yes: bool, log_path: Path | None) -> None:
    """Take all deleted runs out of the log for good, without waiting for their 30 days."""
    from rigmon.store import upkeep

    with _log(log_path) as log:
        rows = log.runs(deleted=True)
        if not rows:
            click.echo(f"No run in {log.path} is deleted.")
            return
        if yes:
            gone = upkeep.purge(log, float("inf"))
            click.echo(f"Gone for good: {several(gone)}.")
            return
        for row in rows:
            moment = datetime.datetime.fromtimestamp(row.deleted_unix or 0.0, datetime.UTC)
            click.echo(f"{row.header.id}  deleted on {moment.astimezone():%Y-%m-%d}")
    click.echo(f"{runs(len(rows))} would go for good; to do it: rigmon runs purge --yes")


def _log(path: Path | None) -> RunLog:
    from rigmon.store.log import RunLog, default_log_path

    return RunLog(path or default_log_path(), create=False)
