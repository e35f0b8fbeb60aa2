"""`rigmon runs note`: what a batch was like, said after its run."""

from __future__ import annotations

import time
from pathlib import Path

import click

from rigmon.cli import options


@click.command("note", short_help="Say how a batch turned out.")
@click.argument("run")
@click.option(
    "--texture",
    type=click.IntRange(1, 5),
    metavar="1-5",
    help="Its texture, coarse to silky; the words for each step are above.",
)
@click.option("--note", "text", metavar="TEXT", help="In your own words.")
@options.log
def note(run: str, texture: int | None, text: str | None, log_path: Path | None) -> None:
    r"""Say how the batch of RUN turned out; without options, show what was said.

    The last score and the last note count; what the run was fed stays as it is.

    \b
      1  coarse: ice crunches between the teeth
      2  icy: crystals are felt on the tongue at once
      3  slightly icy: crystals are felt when it is pressed against the palate
      4  smooth: no crystals felt, not quite creamy
      5  silky: no crystals felt, melts evenly

    \b
      rigmon runs note last --texture 4 --note "a little sweet"
    """
    from rigmon.review.kept import tastings
    from rigmon.review.tasting import TEXTURES
    from rigmon.store.afterwards import taste
    from rigmon.store.entries import Tasting
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        name = log.find(run).id
        if texture is not None or text:
            taste(log, Tasting(name, time.time(), texture, (text or "").strip()))
        said = tastings(log).get(name)
    if said is None:
        click.echo(f"{name}: nothing noted yet")
        return
    if said.texture is not None:
        click.echo(f"{name}: texture {said.texture}, {TEXTURES[said.texture]}")
    if said.note:
        click.echo(f"{name}: {said.note}")
