"""`rigmon calibrate`: probes held to temperatures that are known."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from rigmon.cli import options

if TYPE_CHECKING:
    from rigmon.service.calibrating import Asked
    from rigmon.service.prepare import Rig

F = TypeVar("F", bound=Callable[..., Any])

_ICE = """\
Ice point, 0.0 °C. Fine ice of clean water, packed and filled up with cold water until no air is
left, in an insulated vessel; drain and repack as it melts. Tips 5 cm deep in the packed ice, not in
the water below it, not on the wall; leads dry. Stir now and then."""
_BOIL = """\
Boiling point, {c:.1f} °C (± {sd:.1f} K). Tips 5 cm deep in plain water at a rolling boil, off the
bottom and the wall.
Take care: steam and boiling water scald. Fix probes and leads so that nobody pulls the pot over,
keep them off flame and hot plate, and keep the board and its mains supply away from the steam."""
_SLUSH = """\
Eutectic slush, −21.1 °C. Two parts of fine or crushed ice and one of fine salt by mass, stirred
until it no longer gets colder; grains of salt and ice must both be left. Tips 5 cm deep.
Take care: brine below −10 °C and metal in it freeze skin in seconds. Dry, insulated gloves; free a
hand that sticks with lukewarm water, never by pulling."""
_COMPARE = """\
Both tips side by side in one bath that is stirred, 5 cm deep.
Take care: brine below −10 °C freezes skin in seconds, hot water scalds. Keep mains away."""


def _common(command: F) -> F:
    for option in reversed(
        (
            options.config,
            options.rig,
            click.option(
                "--from",
                "run_path",
                type=options.FILE,
                metavar="RUN.csv",
                help="Take the readings from a run file instead of the board.",
            ),
            click.option(
                "--typed",
                multiple=True,
                metavar="NAME=C,C,C",
                help="Values read off a hand-held thermometer, three or more.",
            ),
            click.option(
                "--wait",
                "wait_s",
                type=click.FloatRange(1.0, 86_400.0),
                default=900.0,
                show_default=True,
                metavar="S",
                help="Wait so long for the readings to stand still.",
            ),
            click.option("--dry-run", "dry", is_flag=True, help="Say the result, keep nothing."),
            options.log,
        )
    ):
        command = option(command)
    return command


_anyway = click.option("--anyway", is_flag=True, help="Take a probe that reads too far off, too.")
_probes = click.argument("probes", metavar="[PROBE]...", nargs=-1)


def _asked(given: dict[str, Any]) -> Asked:
    from rigmon.service.calibrating import Asked

    return Asked(**given)


@click.group("calibrate", short_help="Hold probes to known temperatures.")
def command() -> None:
    """Hold probes to temperatures that are known.

    The reading must stand still: two minutes at the least, for coarse or noisy boards up to eight.
    One point gives an offset, points far apart a factor too. The result goes into the log
    with its uncertainty; from the next run on it stands in for offset_k, gain and uncertainty_k of
    the configuration.
    """


@command.command("ice", short_help="Ice point, 0 °C.")
@_probes
@_common
@_anyway
def ice(probes: tuple[str, ...], **given: Any) -> int:
    """Hold PROBEs, or those of bath and mix, to the ice point."""
    from rigmon.service.calibrating import hold
    from rigmon.service.references import ice_point

    _instruct(_ICE, given)
    return hold(_asked(given), ice_point(), probes, click.echo)


@command.command("boil", short_help="Boiling water, by altitude or pressure.")
@_probes
@click.option(
    "--altitude", "altitude_m", type=float, metavar="M", help="Height of the kitchen above the sea."
)
@click.option(
    "--pressure",
    "pressure_hpa",
    type=float,
    metavar="HPA",
    help="Pressure in the kitchen, not reduced to sea level.",
)
@_common
@_anyway
def boil(
    probes: tuple[str, ...], altitude_m: float | None, pressure_hpa: float | None, **given: Any
) -> int:
    """Hold PROBEs to boiling water. The pressure makes it surer than the altitude."""
    from rigmon.probes.calibration import combined_k
    from rigmon.service.calibrating import hold
    from rigmon.service.references import boiling_point

    water = boiling_point(pressure_hpa, altitude_m)
    _instruct(_BOIL.format(c=water.c, sd=2.0 * combined_k(water.shares)), given)
    return hold(_asked(given), water, probes, click.echo)


@command.command("slush", short_help="Ice with salt left over, −21.1 °C.")
@_probes
@_common
@_anyway
def slush(probes: tuple[str, ...], **given: Any) -> int:
    """Hold PROBEs to a slush in which ice and salt are both left over."""
    from rigmon.service.calibrating import hold
    from rigmon.service.references import eutectic_slush

    _instruct(_SLUSH, given)
    return hold(_asked(given), eutectic_slush(), probes, click.echo)


@command.command("compare", short_help="Two probes in one bath.")
@click.argument("trusted")
@click.argument("probe")
@click.option(
    "--uncertainty-k",
    "hand_sd_k",
    type=click.FloatRange(0.0, 20.0, min_open=True),
    metavar="K",
    help="Standard uncertainty of the hand-held thermometer.",
)
@_common
def compare(trusted: str, probe: str, hand_sd_k: float | None, **given: Any) -> int:
    r"""Set PROBE right by TRUSTED, in one bath.

    TRUSTED is a probe of the rig, or a hand-held thermometer whose values are typed:

    \b
      rigmon calibrate compare bath mix --config rig.toml
      rigmon calibrate compare hand mix --typed hand=-14.2,-14.1,-14.2 --config rig.toml
    """
    from rigmon.service.calibrating import compare as compared

    _instruct(_COMPARE, given)
    return compared(_asked(given), trusted, probe, hand_sd_k, click.echo)


@command.command("list", short_help="What is known of each probe, and since when.")
@options.config
@options.rig
@options.log
def list_(config_path: Path | None, rig_id: str | None, log_path: Path | None) -> None:
    """List all calibrations of a rig's probes, the newest first, and how they have moved."""
    from rigmon.service.calibrationlist import listed, meant
    from rigmon.store.log import RunLog, default_log_path

    rig, usual = _rig(config_path, rig_id)
    with RunLog(log_path or usual or default_log_path(), create=False) as log:
        for line in listed(log, meant(log, rig, rig_id), time.time()):
            click.echo(line)


@command.command("undo", short_help="Take the newest calibration back.")
@click.argument("probe", required=False)
@options.config
@options.rig
@options.log
def undo(
    probe: str | None, config_path: Path | None, rig_id: str | None, log_path: Path | None
) -> None:
    """Take back the newest calibration, of all its probes or of PROBE; it stays in the list."""
    from rigmon.errors import UsageError
    from rigmon.service.calibrationlist import meant
    from rigmon.service.calibrationlist import undo as taken_back
    from rigmon.store.log import RunLog, default_log_path

    rig, usual = _rig(config_path, rig_id)
    with RunLog(log_path or usual or default_log_path(), create=False) as log:
        rigs = meant(log, rig, rig_id)
        if len(rigs) > 1:
            names = ", ".join(one.rig_id for one in rigs)
            raise UsageError(f"The log holds several rigs ({names}): say which with --rig")
        click.echo(taken_back(log, rigs[0], probe, time.time()))


def _rig(config_path: Path | None, rig_id: str | None) -> tuple[Rig | None, Path | None]:
    if config_path is None:
        return None, None
    from rigmon.service.calibrating import Asked, rig_asked

    return rig_asked(Asked(config_path, rig_id), link=False)


def _instruct(text: str, given: dict[str, Any]) -> None:
    """How the bath is made, and what can hurt; for whoever stands before one."""
    given.setdefault("anyway", False)
    if given["run_path"] is None:
        click.echo(text, err=True)
