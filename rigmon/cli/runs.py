"""`rigmon runs`: what the log holds, and the alarms of one run."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import click

from rigmon.cli import options
from rigmon.units import clock


@click.group(
    "runs", short_help="List the runs in the log, or show one.", invoke_without_command=True
)
@options.log
@click.option("--rig", "rig_id", metavar="ID", help="Only runs of this rig.")
@click.pass_context
def command(context: click.Context, log_path: Path | None, rig_id: str | None) -> None:
    """List the runs in the log, the newest first."""
    if context.invoked_subcommand is None:
        _list(log_path, rig_id)


@command.command("show", short_help="Show the alarms of a run.")
@click.argument("run")
@options.log
def show(run: str, log_path: Path | None) -> None:
    """Show the alarms of a run: how many, how soon answered, which stood long or chattered.

    RUN is an id, a part of one that only it has, or the word last.
    """
    from rigmon.run.alarmtally import tallied
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        header = log.find(run)
        alarms = tallied([json.loads(line) for line in log.said(header.id)])
    click.echo(header.id + (", virtual rig" if header.virtual else ""))
    if not alarms:
        click.echo("No alarm sounded.")
        return
    heads = ("alarm", "priority", "raised", "stood longest", "answered", "chattered")
    table: list[tuple[str, ...]] = [heads]
    for alarm in alarms:
        answered = ", ".join(f"after {clock(s)} by {by}" for by, s in alarm.answered)
        table.append(
            (
                alarm.code,
                alarm.priority,
                str(len(alarm.raised_s)),
                clock(alarm.stood_s),
                answered or "–",
                "yes" if alarm.chattered else "no",
            )
        )
    _tell(table)


def _tell(table: list[tuple[str, ...]]) -> None:
    widths = [max(len(line[i]) for line in table) for i in range(len(table[0]))]
    for line in table:
        click.echo("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip())


def _list(log_path: Path | None, rig_id: str | None) -> None:
    from rigmon.store.log import RunLog, default_log_path

    path = log_path or default_log_path()
    with RunLog(path, create=False) as log:
        rows = [row for row in log.runs() if rig_id in (None, row.header.rig)]
    if not rows:
        click.echo(f"No runs in {path}.")
        return
    heads = ("run", "started", "lasted", "recipe", "readings", "marks", "state")
    table: list[tuple[str, ...]] = [heads]
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
    _tell(table)
    click.echo(f"\n{path}")
