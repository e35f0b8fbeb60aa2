"""`rigmon demo`: a virtual rig through a real wire."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from rigmon.cli import options


@click.command("demo", short_help="Watch a virtual rig, no hardware needed.")
@click.option("--whole", is_flag=True, help="Go on through rest, round 2 and hardening, faster.")
@click.option(
    "--speed",
    default=20.0,
    show_default=True,
    type=click.FloatRange(1.0, 120.0),
    metavar="N",
    help="Seconds of the batch that pass in a second.",
)
@click.option("--plain", is_flag=True, help="One line a second, for pipes and screen readers.")
@click.option(
    "--via",
    type=click.Choice(["serial", "mqtt"]),
    default="serial",
    show_default=True,
    help="The wire: a pseudo-terminal, or a broker inside the program (extra mqtt-demo).",
)
@click.option(
    "--seed",
    default=7,
    show_default=True,
    type=options.SEED,
    metavar="N",
    help="Another batch.",
)
@options.log
@options.page
def command(
    whole: bool,
    speed: float,
    plain: bool,
    via: Literal["serial", "mqtt"],
    seed: int,
    log_path: Path | None,
    lan: bool,
    guests: bool,
    port: int | None,
    no_page: bool,
) -> int:
    """Watch a virtual batch: ice in, pour, round 1, with alarms and a maker who heeds them.

    Its board writes SenML lines into a pseudo-terminal, as a real one would.
    """
    from rigmon.service.demo import demo
    from rigmon.service.pageside import PageFlags

    page = PageFlags(no_page, lan, guests, port)
    return demo(speed, whole, plain, via, seed, log_path, options.debugging(), page)
