"""`rigmon runs`: what the log holds."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from rigmon.cli import options
from rigmon.units import clock


@click.command("runs", short_help="List the runs in the log.")
@options.log
@click.option("--rig", "rig_id", metavar="ID", help="Only runs of this rig.")
def command(log_path: Path | None, rig_id: str | None) -> None:
    """List the runs in the log, the newest first."""
    from rigmon.store.log import RunLog, default_log_path

    path = log_path or default_log_path()
    with RunLog(path, create=False) as log:
        rows = [row for row in log.runs() if rig_id in (None, row.header.rig)]
    if not rows:
        click.echo(f"No runs in {path}.")
        return
    table = [("run", "started", "lasted", "recipe", "readings", "marks", "state")]
    for row in rows:
        moment = datetime.datetime.fromtimestamp(row.header.started_unix, datetime.UTC)
        state = row.state.value + (", virtual rig" if row.header.virtual else "")
        table.append(
            (
                row.header.id,
                f"{moment.astimezone():%Y-%m-%d %H:%M}",
                clock(row.duration_s),
                row.header.recipe or "–",
                str(row.readings),
                str(row.marks),
                state,
            )
        )
    widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
    for line in table:
        click.echo("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip())
    click.echo(f"\n{path}")
