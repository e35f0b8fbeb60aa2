"""`rigmon suggest`: the next ratio, mass of ice and grain."""

from __future__ import annotations

from pathlib import Path

import click

from rigmon.cli import options
from rigmon.cli.plan import Figure

_GOALS = ("fastest", "least-salt", "least-ice", "smoothest", "no-recharge")
_USUAL_PCT = 30.0


@click.command("suggest", short_help="Say what ice and salt to try next, and how sure that is.")
@click.argument("rig_id", metavar="[RIG]", required=False)
@click.option(
    "--goal",
    type=click.Choice(_GOALS),
    default=_GOALS[0],
    show_default=True,
    help="What the next batch is to be better at.",
)
@click.option(
    "--target-frozen",
    "target_pct",
    type=Figure(5.0, 60.0),
    metavar="PCT",
    help="Share of the mix's water to freeze by beating; by default what the runs reach, to 30.",
)
@click.option(
    "--within",
    "within_min",
    type=Figure(3.0, 60.0),
    metavar="MIN",
    help="By when, from the pour, where ice or salt is to be spared.",
)
@click.option("--same-grain", is_flag=True, help="No other ice or salt than was tried.")
@click.option("--beyond", is_flag=True, help="Also more than one step from what was tried.")
@click.option("--seed", type=options.SEED, default=0, show_default=True, metavar="N",
              help="Seed of the rigs that are drawn.")  # fmt: skip
@click.option("--json", "json_", is_flag=True, help="One JSON object instead of words.")
@options.log
def command(
    rig_id: str | None,
    goal: str,
    target_pct: float | None,
    within_min: float | None,
    same_grain: bool,
    beyond: bool,
    seed: int,
    json_: bool,
    log_path: Path | None,
) -> None:
    r"""Say which ratio of ice to salt, which mass of ice and which grain RIG should be given next.

    The physics of the rig, learned from every second of its runs, says what other amounts would
    have done; how runs scatter says how far to trust that. Where the evidence is thin, nothing is
    suggested, but the runs that would tell. Never more salt than dissolves, more ice than fits, or
    more than a step from what was tried.

    \b
      rigmon suggest kitchen
      rigmon suggest kitchen --goal least-salt --within 20
    """
    from rigmon.errors import UsageError
    from rigmon.review.asdata import suggestion_json
    from rigmon.review.gathered import gather, rig_of
    from rigmon.review.judging import SPARING, Goal, Wish
    from rigmon.review.suggesting import suggest
    from rigmon.review.suggestwords import LABEL, lines
    from rigmon.store.log import RunLog, default_log_path

    if within_min is not None and Goal(goal) not in SPARING:
        raise UsageError(
            f"--within is for goals that spare ice or salt, and {goal} has none: leave it out"
        )
    wish = Wish(Goal(goal), target_pct, within_min and 60.0 * within_min, beyond, same_grain, seed)
    with RunLog(log_path or default_log_path(), create=False) as log:
        held = gather(log, rig_of(log, rig_id), target_pct or _USUAL_PCT)
    said = suggest(held.runs, held.memory, held.setup, wish, held.left_out)
    if json_:
        click.echo(suggestion_json(said))
        return
    click.echo(held.rig + (", virtual rig" if held.virtual else ""))
    for label, text in lines(said, held.told):
        click.echo(click.style(label, bold=True) + f"{'':{LABEL - len(label)}}{text}".rstrip())
