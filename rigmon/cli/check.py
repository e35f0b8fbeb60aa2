"""`rigmon check`: from port to forecast, what works and what to do."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from rigmon.cli import options
from rigmon.errors import UsageError

if TYPE_CHECKING:
    from rigmon.service.checking.finding import Finding

_TYPES = click.Choice(["T", "K", "J", "E", "N", "other"])


@click.command("check", short_help="See from port to forecast what works, and what to do.")
@options.config
@options.rig
@click.option("--port", metavar="PORT", help="Without --config: the port to listen to.")
@click.option(
    "--seconds",
    "for_s",
    type=click.FloatRange(1.0, 600.0),
    default=10.0,
    show_default=True,
    metavar="S",
    help="Listen so long.",
)
@click.option("--mixer", is_flag=True, help="Listen again while the mixer runs.")
@click.option("--in-ice", is_flag=True, help="All probes sit in ice and water now.")
@click.option(
    "--write",
    "write_path",
    type=options.FILE,
    metavar="RIG.toml",
    help="Make the first configuration; a file that is there is never overwritten.",
)
@click.option("--broker", metavar="HOST[:PORT]", help="With --write: a rig behind this broker.")
@click.option("--type", "kind", type=_TYPES, help="With --write: the probes' wires.")
@click.option(
    "--probe",
    "probes",
    multiple=True,
    metavar="NAME=PLACE",
    help="With --write: what a probe sits in.",
)
@click.option(
    "--recipe",
    "recipe_path",
    type=options.FILE,
    metavar="RECIPE.toml",
    help="With --write: the usual recipe.",
)
@options.log
def command(
    config_path: Path | None,
    rig_id: str | None,
    port: str | None,
    for_s: float,
    mixer: bool,
    in_ice: bool,
    write_path: Path | None,
    broker: str | None,
    kind: str | None,
    probes: tuple[str, ...],
    recipe_path: Path | None,
    log_path: Path | None,
) -> int:
    r"""Go from port to forecast and say what works and what to do, one line a finding.

    A line begins with + ok, ~ look or ! wrong. Ends with 0, or with 1 if anything is wrong.
    Without --config it looks at what is plugged in and says what to configure.

    \b
      rigmon check
      rigmon check --write rig.toml
      rigmon check --config rig.toml --mixer
    """
    if write_path is not None:
        if config_path is not None or mixer or in_ice:
            raise UsageError("--write makes a first configuration: leave out --config and tests")
        _write(write_path, rig_id, port, broker, kind, probes, recipe_path, for_s)
        return 0
    given = {"--broker": broker, "--type": kind, "--probe": probes, "--recipe": recipe_path}
    if stray := [name for name, value in given.items() if value]:
        raise UsageError(f"{stray[0]} goes with --write RIG.toml")
    from rigmon.service.checking.checking import Wanted, check

    wanted = Wanted(config_path, rig_id, port, for_s, mixer, 0.0 if in_ice else None, log_path)
    return check(wanted, _tell, _pause)


def _write(
    path: Path,
    rig_id: str | None,
    port: str | None,
    broker: str | None,
    kind: str | None,
    probes: tuple[str, ...],
    recipe_path: Path | None,
    for_s: float,
) -> None:
    import datetime

    from rigmon.service.checking.writing import PLACES, Answers, write

    places = []
    for word in probes:
        name, equals, place = word.partition("=")
        if not equals or not name or place not in PLACES:
            raise UsageError(
                f"--probe {word!r} is not understood: write NAME=PLACE with one of "
                f"{', '.join(PLACES)}"
            )
        places.append((name, place))
    answers = Answers(rig_id, port, broker, kind, tuple(places), recipe_path, for_s)
    today = datetime.datetime.now(datetime.UTC).astimezone()
    write(path, answers, _ask, _tell, f"{today:%Y-%m-%d}")


def _tell(finding: Finding) -> None:
    click.echo(finding.line)


def _ask(question: str, choices: Sequence[str], suggested: str) -> str:
    """The maker's answer; the suggestion where nobody is there to answer."""
    if not sys.stdin.isatty():
        return suggested
    kind = click.Choice(choices) if choices else None
    return str(click.prompt(question, default=suggested, type=kind))


def _pause(request: str) -> None:
    click.echo(f"  {request}", err=True)
    sys.stdin.readline()
