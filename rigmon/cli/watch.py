"""`rigmon watch`: the daemon on real rigs."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options


@click.command("watch", short_help="Watch rigs live.")
@options.config
@options.recipe
@options.rig
@options.jsonl
@options.every
@click.option("--plain", is_flag=True, help="One line a second, for pipes and screen readers.")
@options.log
@click.option("--no-log", is_flag=True, help="Keep nothing.")
@options.page
def command(
    config_path: Path | None,
    recipe_path: Path | None,
    rig_id: str | None,
    jsonl: str | None,
    every: int,
    plain: bool,
    log_path: Path | None,
    no_log: bool,
    lan: bool,
    guests: bool,
    port: int | None,
    no_page: bool,
) -> int:
    """Watch the rigs of RIG.toml until Ctrl-C.

    A run begins with the first ice-in or pour (see `rigmon mark`), or when the bath gets cold, and
    ends with `rigmon mark end`. One that was broken off less than two hours ago is gone on with.
    """
    from rigmon.service.pageside import PageFlags
    from rigmon.service.watching import watch

    return watch(
        config_path,
        recipe_path,
        rig_id,
        jsonl,
        every,
        plain,
        log_path,
        keep_log=not no_log,
        debug=options.debugging(),
        page=PageFlags(no_page, lan, guests, port),
    )
