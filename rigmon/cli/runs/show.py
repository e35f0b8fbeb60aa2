"""`rigmon runs show`: the alarms of one run."""

from __future__ import annotations

import json
from pathlib import Path

import click

from rigmon.cli import options
from rigmon.cli.runs.telling import told
from rigmon.units import clock


@click.command("show", short_help="Show the alarms of a run.")
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
    told(table)
