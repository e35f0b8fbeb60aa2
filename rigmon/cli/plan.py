"""`rigmon plan`: a batch the evening before."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click

from rigmon.cli import options

if TYPE_CHECKING:
    from rigmon.config import Units
    from rigmon.plan.values import Compared, Plan
    from rigmon.records import Recipe
    from rigmon.service.prepare import Rig

_COMPARED = {
    "ratio": (0.5, 100.0),
    "ice_g": (10.0, 50_000.0),
    "salt_g": (1.0, 50_000.0),
    "room_c": (-30.0, 50.0),
    "mix_c": (-30.0, 60.0),
}
_PICTURES = (".pdf", ".png", ".svg")
_MOST_ALTERNATIVES = 8
_SALTS = (
    "sodium-chloride",
    "potassium-chloride",
    "calcium-chloride",
    "calcium-chloride-hexahydrate",
    "magnesium-chloride-hexahydrate",
)


class Figure(click.FloatRange):
    """A number within a range; what is no number at all is refused as well."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number."""
        found = super().convert(value, param, ctx)
        if not math.isfinite(found):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return found


def _comparison(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[str, tuple[float, ...]] | None:
    if value is None:
        return None
    key, equals, rest = value.partition("=")
    if key not in _COMPARED or not equals:
        raise click.BadParameter(
            f"{value!r} is not understood: write one of {', '.join(_COMPARED)} and its values, "
            "such as ratio=3,4,5.",
            ctx=ctx,
            param=param,
        )
    allowed, words = Figure(*_COMPARED[key]), rest.split(",")
    if len(words) > _MOST_ALTERNATIVES:
        raise click.BadParameter(
            f"{len(words)} values are more than {_MOST_ALTERNATIVES}.", ctx=ctx, param=param
        )
    return key, tuple(allowed.convert(word.strip(), param, ctx) for word in words)


def _picture(ctx: click.Context, param: click.Parameter, value: Path | None) -> Path | None:
    if value is not None and value.suffix.lower() not in _PICTURES:
        raise click.BadParameter(
            f"{value} ends in none of {', '.join(_PICTURES)}.", ctx=ctx, param=param
        )
    return value


@click.command("plan", short_help="Plan a batch: ice, salt, time, what helps.")
@click.argument("recipe", type=options.FILE, metavar="RECIPE.toml")
@click.option("--rig", "rig_path", type=options.FILE, metavar="RIG.toml", help="The rig's bowls.")
@click.option("--rig-id", metavar="ID", help="Which rig, if RIG.toml has several.")
@click.option("--mix-g", type=Figure(10.0, 50_000.0), metavar="G", help="Mass of the batch.")
@click.option(
    "--mix-c",
    type=Figure(-30.0, 60.0),
    default=4.0,
    show_default=True,
    metavar="C",
    help="Temperature of the mix as it is poured.",
)
@click.option("--ice-g", type=Figure(10.0, 50_000.0), metavar="G", help="Ice; suggested if left.")
@click.option("--salt-g", type=Figure(1.0, 50_000.0), metavar="G", help="Salt; see --ratio.")
@click.option("--ratio", type=Figure(0.5, 100.0), metavar="R", help="Ice to salt by mass.")
@click.option("--ice-kind", type=click.Choice(["cubes", "crushed"]), help="Form of the ice.")
@click.option("--salt-kind", type=click.Choice(["fine", "kosher", "rock"]), help="Grain of salt.")
@click.option(
    "--salt", type=click.Choice(_SALTS), default=_SALTS[0], show_default=True, help="What it is."
)
@click.option("--room-c", type=Figure(-30.0, 50.0), metavar="C", help="Temperature of the room.")
@click.option(
    "--seed",
    type=options.SEED,
    default=0,
    show_default=True,
    metavar="N",
    help="Seed of the rigs that are drawn for the ranges.",
)
@click.option(
    "--compare",
    callback=_comparison,
    metavar="KEY=A,B,...",
    help=f"Alternatives beside the plan, by one of {', '.join(_COMPARED)}.",
)
@click.option(
    "--out",
    type=options.FILE,
    callback=_picture,
    metavar="FILE",
    help="A page with pictures: FILE ends in .pdf, .png or .svg.",
)
@click.option("--json", "json_", is_flag=True, help="One JSON object instead of words.")
@options.log
def command(
    recipe: Path,
    rig_path: Path | None,
    rig_id: str | None,
    mix_g: float | None,
    mix_c: float,
    ice_g: float | None,
    salt_g: float | None,
    ratio: float | None,
    ice_kind: str | None,
    salt_kind: str | None,
    salt: str,
    room_c: float | None,
    seed: int,
    compare: tuple[str, tuple[float, ...]] | None,
    out: Path | None,
    json_: bool,
    log_path: Path | None,
) -> None:
    r"""Plan a batch of RECIPE: whether it fits, ice and salt, how long round 1 takes, what helps.

    Ice and salt that you do not give are those of the rig, or suggested. Times are ranges: one in
    ten rigs is quicker, one in ten slower. With --rig what the log has learned of it narrows them.

    \b
      rigmon plan custard.toml --rig rig.toml --out plan.pdf
      rigmon plan custard.toml --ice-kind cubes --salt-kind rock --compare ratio=3,4,5,6
    """
    from rigmon.plan.planning import plan
    from rigmon.plan.values import Wish
    from rigmon.records import IceKind, SaltKind, SaltName

    rig = _rig(recipe, rig_path, rig_id, log_path)
    mix = cast("Recipe", rig.recipe)
    wish = Wish(
        mix_g=mix_g,
        mix_c=mix_c,
        ice_g=ice_g,
        salt_g=salt_g,
        ratio=ratio,
        ice_kind=IceKind(ice_kind) if ice_kind else None,
        salt_kind=SaltKind(salt_kind) if salt_kind else None,
        salt=SaltName(salt),
        room_c=room_c,
        seed=seed,
    )
    made = plan(
        mix,
        wish,
        rig.setup if rig_path is not None else None,
        cast("tuple[Compared, tuple[float, ...]] | None", compare),
        prior=rig.prior,
        cup_ml=rig.units.cup_ml,
    )
    if out is not None:
        _draw(made, rig.units, out)
    _tell(made, rig.units, json_)


def _rig(recipe: Path, rig_path: Path | None, rig_id: str | None, log_path: Path | None) -> Rig:
    from rigmon.errors import UsageError
    from rigmon.records import RigSetup
    from rigmon.service.prepare import Rig, read_config, read_recipe, rigs_of

    if rig_path is None:
        if rig_id is not None:
            raise UsageError("--rig-id says which rig of a configuration: give that with --rig")
        return Rig(setup=RigSetup(), recipe=read_recipe(recipe))
    config = read_config(rig_path, links=False)
    if rig_id is None and len(config.rigs) > 1:
        names = ", ".join(one.setup.id for one in config.rigs)
        raise UsageError(f"{rig_path} has several rigs ({names}): say which with --rig-id")
    (rig,) = rigs_of(config, recipe, rig_id)
    return _known(rig, log_path or config.log.path)


def _known(rig: Rig, log_path: Path | None) -> Rig:
    """The rig as the log knows it; a log that is not there, or cannot be read, knows nothing."""
    from rigmon.errors import LogError
    from rigmon.service.memory import with_memory
    from rigmon.store.log import RunLog, default_log_path

    path = log_path or default_log_path()
    if not path.exists():
        return rig
    try:
        with RunLog(path, create=False) as log:
            known = with_memory(log, rig)
    except LogError as error:
        click.echo(f"Planned as for an unknown rig: {error}.", err=True)
        return rig
    if known is not rig:
        click.echo(f"Planned with what the log has learned of {rig.setup.id}.", err=True)
    return known


def _tell(made: Plan, units: Units, json_: bool) -> None:
    if json_:
        from rigmon.plan.asjson import as_json

        click.echo(as_json(made))
        return
    from rigmon.plan.page import LABEL, Words, lines

    for label, text in lines(made, Words(units.temperature, units.mass)):
        click.echo(click.style(label, bold=True) + f"{'':{LABEL - len(label)}}{text}".rstrip())


def _draw(made: Plan, units: Units, out: Path) -> None:
    from rigmon.errors import UsageError
    from rigmon.plan.figure import draw
    from rigmon.plan.page import Words

    try:
        draw(made, Words(units.temperature, units.mass), out)
    except OSError as error:
        raise UsageError(
            f"{out} cannot be written ({error.strerror or error}): name another file"
        ) from None
    click.echo(f"The page is in {out}.", err=True)
