"""`rigmon runs`: what the log holds, sorted, copied, and out and in."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options
from rigmon.cli.runs.copies import backup, merge, restore
from rigmon.cli.runs.files import export, take_in
from rigmon.cli.runs.note import note
from rigmon.cli.runs.show import show
from rigmon.cli.runs.sorting import delete, find, purge, tag, undelete, untag
from rigmon.cli.runs.telling import told
from rigmon.cli.runs.which import Which, which
from rigmon.units import clock

if TYPE_CHECKING:
    from rigmon.store import RunRow


@click.group(
    "runs",
    short_help="List the runs in the log; sort, copy and share them.",
    invoke_without_command=True,
)
@options.log
@which
@click.option("--deleted", is_flag=True, help="The deleted runs instead.")
@click.pass_context
def command(context: click.Context, log_path: Path | None, chosen: Which, deleted: bool) -> None:
    """List the runs in the log, the newest first.

    RUN in the commands below is an id, a part of one that only it has, or the word last.
    """
    if context.invoked_subcommand is None:
        _list(log_path, chosen, deleted=deleted)


for _command in (
    show,
    note,
    find,
    tag,
    untag,
    delete,
    undelete,
    purge,
    export,
    take_in,
    merge,
    backup,
    restore,
):
    command.add_command(_command)


def _list(log_path: Path | None, chosen: Which, *, deleted: bool) -> None:
    from rigmon.store.log import RunLog, default_log_path

    path = log_path or default_log_path()
    with RunLog(path, create=False) as log:
        rows = chosen.of(log, log.runs(deleted=deleted))
    if not rows:
        what = "deleted runs" if deleted else "runs"
        click.echo(f"No {what}{' like that' if chosen.narrows else ''} in {path}.")
        return
    tagged = any(row.tags for row in rows)
    heads = ("run", "started", "lasted", "recipe", "readings", "marks", "state")
    table = [(*heads, *(["tags"] if tagged else []))]
    for row in rows:
        line = _line(row)
        table.append((*line, *([" ".join(row.tags)] if tagged else [])))
    told(table)
    click.echo(f"\n{path}")


def _line(row: RunRow) -> tuple[str, ...]:
    moment = datetime.datetime.fromtimestamp(row.header.started_unix, datetime.UTC)
    return (
        row.header.id,
        f"{moment.astimezone():%Y-%m-%d %H:%M}",
        clock(row.duration_s),
        row.header.recipe or "–",
        str(row.readings),
        str(row.marks),
        row.state.value + (", virtual rig" if row.header.virtual else ""),
    )
