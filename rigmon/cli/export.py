"""`rigmon export`: a logged run as files."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options


@click.command("export", short_help="Write a logged run as CSV, with what replays it.")
@click.argument("run")
@click.argument("out", type=options.FILE, metavar="OUT.csv")
@options.log
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
def command(run: str, out: Path, log_path: Path | None, overwrite: bool) -> None:
    r"""Write RUN (an id, a part of one, or `last`) to OUT.csv, and beside it OUT.toml.

    \b
      rigmon export last evening.csv
      rigmon replay evening.csv --config evening.toml --jsonl -
    """
    import shlex

    from rigmon.service.export import export
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        run_id, beside, lost = export(log, run, out, overwrite=overwrite)
    for sentence in lost:
        click.echo(f"left out: {sentence}", err=True)
    click.echo(f"{run_id}: {out} and {beside}")
    csv, toml = shlex.quote(str(out)), shlex.quote(str(beside))
    click.echo(f"Replay it: rigmon replay {csv} --config {toml}")
