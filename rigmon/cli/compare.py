"""`rigmon compare`: two runs held against each other."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options


@click.command("compare", short_help="Say how likely the second of two runs was really better.")
@click.argument("a", metavar="A")
@click.argument("b", metavar="B")
@click.option("--seed", type=options.SEED, default=0, show_default=True, metavar="N",
              help="Seed of the rigs that are drawn.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="One JSON object instead of words.")
@options.log
def command(a: str, b: str, seed: int, json_: bool, log_path: Path | None) -> None:
    r"""Say how likely it is that B was really better than A, two runs of one rig.

    Mix, room and ice are first brought to those of the earlier run, shown line by line; ratio, mass
    of ice and grain are what is judged. Below 70 % there is no evidence yet.

    A and B are ids, parts of one that only one run has, or the word last.

    \b
      rigmon compare 20260704 last
    """
    from rigmon.review.asdata import comparison_json
    from rigmon.review.comparewords import lines
    from rigmon.review.comparing import compare
    from rigmon.review.gathered import two
    from rigmon.review.suggestwords import LABEL
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        one, other, held = two(log, a, b)
    said = compare(one, other, held.runs, held.memory, held.setup, seed)
    if json_:
        click.echo(comparison_json(said))
        return
    click.echo(held.rig + (", virtual rig" if held.virtual else ""))
    for label, text in lines(said, held.told):
        click.echo(click.style(label, bold=True) + f"{'':{LABEL - len(label)}}{text}".rstrip())
