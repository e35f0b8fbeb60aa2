"""`rigmon replay`: a run file through the monitor."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options


@click.command("replay", short_help="Run a recorded run through the monitor.")
@click.argument("run", type=options.FILE, metavar="RUN.csv")
@options.recipe
@options.config
@options.rig
@options.jsonl
@options.every
@click.option(
    "--seed", type=options.SEED, metavar="N", help="Seed of the forecasts' random numbers."
)
@click.option("--skip-bad", is_flag=True, help="Leave out rows that cannot be read.")
@options.log
def command(
    run: Path,
    recipe_path: Path | None,
    config_path: Path | None,
    rig_id: str | None,
    jsonl: str | None,
    every: int,
    seed: int | None,
    skip_bad: bool,
    log_path: Path | None,
) -> None:
    """Run RUN.csv through the very monitor that watches live, as fast as it goes.

    The same files and seed give the same words. Without --log nothing is kept.
    """
    import sys
    from contextlib import nullcontext

    from rigmon.outlets.glance import Glance
    from rigmon.outlets.jsonlines import JsonLines
    from rigmon.outlets.plain import PlainView
    from rigmon.service.jsonstream import json_stream
    from rigmon.service.replay import replay, rig_to_replay
    from rigmon.store.log import RunLog
    from rigmon.store.runfile import read_run

    rig = rig_to_replay(config_path, recipe_path, rig_id, seed)
    file = read_run(run, rig.setup, skip_bad=skip_bad)
    for sentence in (*file.skipped, *file.notes):
        click.echo(sentence, err=True)
    name = rig.setup.id
    kept = RunLog(log_path) if log_path is not None else nullcontext()
    with kept as log, json_stream(jsonl) as stream:
        outlet = (
            JsonLines(stream, every)
            if stream is not None
            else PlainView(
                sys.stdout, {name: Glance(name, speech=rig.speech)}, 0.0, every if every > 1 else 60
            )
        )
        run_id = replay(file, rig, lambda said: outlet.tell(name, said), log)
    if run_id is not None:
        click.echo(f"Kept as {run_id} in {log_path}.", err=True)
