"""`rigmon runs export`, `import`: runs out for other tools, and in from other files."""

from __future__ import annotations

import datetime
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options
from rigmon.cli.runs.telling import runs, several
from rigmon.cli.runs.which import Which, which
from rigmon.units import clock, temperature

if TYPE_CHECKING:
    from rigmon.store import RunFile
    from rigmon.store.tables_out import Form


FORMS = ("csv", "json", "parquet", "run-files")
"""Those of `rigmon.store.tables_out`, which are not asked for the sake of a quick help."""

_REMARKS = 10


@click.command("export", short_help="Write all runs as tables for other tools.")
@click.argument("folder", type=options.FILE)
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMS),
    default="csv",
    show_default=True,
    help="Tables as parquet, csv or JSON lines; or a run file for each run, to replay.",
)
@options.log
@which
def export(folder: Path, form: Form, log_path: Path | None, chosen: Which) -> None:
    r"""Write runs into FOLDER: readings, marks, conditions, what was said, and the runs themselves.

    Each run is a file of its own under TABLE/rig=ID/day=DAY, as engines for such folders expect
    it; folders of several machines may be laid together. A further export adds what is new.

    \b
      rigmon runs export tables --format parquet --real --since 2026-01-01
    """
    from rigmon.service.sharing import share
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        done = share(log, chosen.of(log, log.runs()), folder, form, time.time())
    for remark in done.remarks[:_REMARKS]:
        click.echo(remark, err=True)
    if len(done.remarks) > _REMARKS:
        click.echo(f"and {len(done.remarks) - _REMARKS} more like these", err=True)
    there = f", {done.there} there already" if done.there else ""
    click.echo(f"{folder}: {runs(done.written)} written as {form.replace('-', ' ')}{there}")
    if done.waiting:
        click.echo(f"Not over yet, so left for the next time: {several(done.waiting)}.")


@click.command("import", short_help="Take a run from a file into the log.")
@click.argument("file", type=options.FILE, metavar="FILE.csv")
@click.option(
    "--map",
    "mapping",
    type=options.FILE,
    metavar="MAP.toml",
    help="Which column of somebody else's table is what; not needed for a run file.",
)
@options.recipe
@options.config
@options.rig
@click.option("--check", is_flag=True, help="Only say what was understood; keep nothing.")
@click.option("--skip-bad", is_flag=True, help="Leave out rows that cannot be read.")
@options.log
def take_in(
    file: Path,
    mapping: Path | None,
    recipe_path: Path | None,
    config_path: Path | None,
    rig_id: str | None,
    check: bool,
    skip_bad: bool,
    log_path: Path | None,
) -> None:
    r"""Take the run in FILE.csv into the log, as if it had been watched.

    It is a run file, or any table that MAP.toml explains. A run that the log holds already is
    recognised by its content.

    \b
      rigmon runs import logger.csv --map logger.toml --check
    """
    from rigmon.service import importing
    from rigmon.store.log import RunLog, default_log_path

    rig = importing.rig_to_import(config_path, recipe_path, rig_id)
    run = importing.read(file, mapping, rig, skip_bad=skip_bad)
    for sentence in (*run.skipped, *run.notes):
        click.echo(sentence, err=True)
    _tell(file, run)
    if check:
        return
    with RunLog(log_path or default_log_path()) as log:
        known = importing.twin(log, run)
        if known is not None:
            name = known.header.id
            click.echo(f"That run is in the log already: {name}")
            if known.deleted_unix is not None:
                click.echo(f"It is deleted; it comes back with: rigmon runs undelete {name}")
            return
        click.echo(f"Kept as {importing.take_in(log, run, rig)}")
    if run.started_unix is None:
        click.echo("The file has no date, so it stands under the moment of the import.")


def _tell(file: Path, run: RunFile) -> None:
    from rigmon.records import Unit
    from rigmon.service.importing import contents

    held = contents(run)
    began = ""
    if run.started_unix is not None:
        moment = datetime.datetime.fromtimestamp(run.started_unix, datetime.UTC).astimezone()
        began = f" from {moment:%Y-%m-%d %H:%M:%S %z}"
    click.echo(f"{file}: {clock(held.duration_s)}{began}")
    for one in held.series:
        least, most = (
            (f"{one.least:.0f} W", f"{one.most:.0f} W")
            if one.unit is Unit.WATT
            else (temperature(one.least), temperature(one.most))
        )
        click.echo(f"  {one.probe}: {one.number} readings, {least} to {most}")
    click.echo(f"  marks: {', '.join(word.value for word in held.marks) or 'none'}")
