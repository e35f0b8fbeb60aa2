"""`rigmon review`: what runs tell once they are over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from rigmon.cli import options

if TYPE_CHECKING:
    from rigmon.review.story import Story
    from rigmon.store import RunLog, RunRow

_FORMS = (".html", ".pdf", ".png")


def _report(ctx: click.Context, param: click.Parameter, value: Path | None) -> Path | None:
    if value is not None and value.suffix.lower() not in _FORMS:
        raise click.BadParameter(
            f"{value} ends in none of {', '.join(_FORMS)}.", ctx=ctx, param=param
        )
    return value


@click.command("review", short_help="Look back: one run as a story, several side by side.")
@click.argument("runs", nargs=-1, metavar="[RUN]...")
@click.option("--all", "all_", is_flag=True, help="All runs of the log, or of --rig.")
@options.rig
@click.option(
    "--out",
    type=options.FILE,
    callback=_report,
    metavar="FILE",
    help="A report of one run with figures: FILE ends in .html, .pdf or .png.",
)
@click.option("--json", "json_", is_flag=True, help="One JSON object instead of words.")
@options.log
def command(
    runs: tuple[str, ...],
    all_: bool,
    rig_id: str | None,
    out: Path | None,
    json_: bool,
    log_path: Path | None,
) -> None:
    r"""Look back on RUN, or on the last run: what happened when, what held it back, what to change.

    Several runs stand side by side, brought to common conditions by the model of the rig, with
    what differed. A RUN is an id, a part of one that only it has, or the word last. Ranges hold in
    eight of ten cases.

    \b
      rigmon review
      rigmon review last --out report.html
      rigmon review 20260704 20260711
      rigmon review --all --rig kitchen
    """
    from rigmon.errors import UsageError
    from rigmon.store.log import RunLog, default_log_path

    with RunLog(log_path or default_log_path(), create=False) as log:
        meant = _meant(log, runs, rig_id, all_=all_)
        if len(meant) == 1 and not all_:
            _one(log, meant[0].header.id, out, json_=json_)
            return
        if out is not None:
            raise UsageError(f"A report tells of one run, and {len(meant)} are meant: name one")
        _several(log, meant, json_=json_)


def _meant(log: RunLog, runs: tuple[str, ...], rig_id: str | None, *, all_: bool) -> list[RunRow]:
    from rigmon.errors import UsageError

    if all_ and runs:
        raise UsageError("Name runs, or give --all")
    if runs:
        ids = dict.fromkeys(log.find(run).id for run in runs)
        return [log.run(name) for name in ids]
    rows = [row for row in log.runs() if rig_id in (None, row.header.rig)]
    if not rows:
        whose = f" of a rig {rig_id!r}" if rig_id is not None else ""
        raise UsageError(f"The log {log.path} holds no run{whose} yet")
    return rows if all_ else rows[:1]


def _one(log: RunLog, run_id: str, out: Path | None, *, json_: bool) -> None:
    from rigmon.review import story

    told = story.of(log, run_id)
    if out is not None:
        _write(told, out)
    if json_:
        _tell(story.as_object(told))
    elif out is None:
        from rigmon.review.page import LABEL, lines

        for label, text in lines(told):
            click.echo(click.style(label, bold=True) + f"{'':{LABEL - len(label)}}{text}".rstrip())


def _write(told: Story, out: Path) -> None:
    from rigmon.errors import UsageError
    from rigmon.review import report

    try:
        report.write(told, out)
    except OSError as error:
        raise UsageError(
            f"{out} cannot be written ({error.strerror or error}): name another file"
        ) from None
    click.echo(f"The report is in {out}.", err=True)


def _several(log: RunLog, rows: list[RunRow], *, json_: bool) -> None:
    from rigmon.review.kept import measures
    from rigmon.review.logged import read
    from rigmon.review.side import as_object, beside, lines
    from rigmon.review.told import Told

    side = beside(log, measures(log, rows, _progress))
    if json_:
        _tell(as_object(side))
        return
    for line in lines(side, Told(read(log, rows[0].header.id, items=False).units)):
        click.echo(line)


def _progress(done: int, of: int) -> None:
    if of >= _WORTH_TELLING and (done % 10 == 0 or done == of):
        end = done == of
        click.echo(f"\rmeasured {done} of {of} runs", err=True, nl=end)


_WORTH_TELLING = 10


def _tell(found: dict[str, Any]) -> None:
    import json

    click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
