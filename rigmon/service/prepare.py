"""From files to rigs that can be watched: configuration, recipe, and what is known beforehand."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from pathlib import Path

from rigmon import __version__
from rigmon.config import Config, Units, load_config, load_recipe, parse_config, run_document
from rigmon.errors import ConfigError, UsageError
from rigmon.estimate.cloud import PRIOR
from rigmon.physics.ingredients import compose
from rigmon.physics.mix import freezing_curve
from rigmon.records import Link, ProbeSetup, Recipe, RigPrior, RigSetup, VirtualLink
from rigmon.run.alarms import NOTICES, RULES, trips
from rigmon.run.speech import Speech
from rigmon.store.entries import RunHeader


@dataclass(frozen=True, slots=True)
class Rig:
    """One rig, ready to be watched or replayed.

    Args:
        setup: what it is.
        recipe: its mix, composition resolved; None if none was named.
        prior: what is believed of it.
        seed: seed of the run's random numbers.
        units: units that the maker reads.
        link: how its readings arrive; None for a replay.
        configured: its probes as configured, where calibrations have changed those of `setup`.
    """

    setup: RigSetup
    recipe: Recipe | None = None
    prior: RigPrior = PRIOR
    seed: int = 0
    units: Units = field(default_factory=Units)
    link: Link | None = None
    configured: tuple[ProbeSetup, ...] | None = None

    @property
    def virtual(self) -> bool:
        """Whether this is the virtual rig, which every outlet must say."""
        return isinstance(self.link, VirtualLink)

    @property
    def speech(self) -> Speech:
        """The maker's language and units."""
        units = self.units
        return Speech(units.language, units.temperature, units.mass, units.cup_ml)


def read_config(path: Path, *, links: bool = True) -> Config:
    """A configuration, its alarm codes checked against the table of alarms.

    Raises:
        ConfigError: it cannot be read or says something that cannot be.
    """
    config = load_config(path, {**RULES, **NOTICES}.keys(), links=links)
    for rig in config.rigs:
        for code, trip in trips(rig.setup.alarms).items():
            limit = trip.limit
            if not limit.lowest <= limit.set_point <= limit.highest:
                unit = f" {limit.unit}".rstrip()
                raise ConfigError(
                    f"{path} alarms.{code}.set_point: found {limit.set_point:g}, allowed are "
                    f"{limit.lowest:g} to {limit.highest:g}{unit} ({limit.of})"
                )
    return config


def read_recipe(path: Path, cup_ml: float = 240.0) -> Recipe:
    """A recipe with its composition.

    Raises:
        ConfigError: it cannot be read, names an unknown ingredient, or cannot freeze.
    """
    try:
        recipe = compose(load_recipe(path, cup_ml))
        if recipe.composition is not None:
            freezing_curve(recipe.composition)
    except ValueError as error:
        said = str(error)
        raise ConfigError(said if said.startswith(str(path)) else f"{path}: {said}") from None
    return recipe


def rigs_of(config: Config, recipe_path: Path | None, only: str | None = None) -> tuple[Rig, ...]:
    """The rigs of a configuration with their recipes.

    Args:
        config: the configuration.
        recipe_path: a recipe that goes before those that the configuration names.
        only: id of the one rig that is meant, if the configuration has several.

    Raises:
        UsageError: no such rig, or none at all.
        ConfigError: a recipe cannot be read.
    """
    if not config.rigs:
        raise UsageError("The configuration has no rig: add a table [rigs.kitchen] with its source")
    chosen = [rig for rig in config.rigs if only is None or rig.setup.id == only]
    if not chosen:
        names = ", ".join(rig.setup.id for rig in config.rigs)
        raise UsageError(f"There is no rig {only!r} in the configuration; there are: {names}")
    if recipe_path is not None and len(chosen) > 1:
        names = ", ".join(rig.setup.id for rig in chosen)
        raise UsageError(
            f"One recipe cannot be for several rigs ({names}): say which with --rig, or name a "
            "recipe for each in the configuration"
        )
    known = config.recorded
    rigs = []
    for rig in chosen:
        path = recipe_path or rig.recipe_path
        recipe = known.recipe if known is not None else None
        if path is not None:
            recipe = read_recipe(path, config.units.cup_ml)
        rigs.append(
            Rig(
                setup=rig.setup,
                recipe=recipe,
                prior=known.prior if known is not None else PRIOR,
                seed=known.seed if known is not None else 0,
                units=config.units,
                link=rig.link,
            )
        )
    return tuple(rigs)


def document_of(
    rig: Rig, setup: RigSetup, started: datetime.datetime, version: str = __version__
) -> str:
    """All that a run starts from, as a configuration that stands alone.

    Args:
        rig: the rig with its recipe, prior and seed.
        setup: the rig's probes and bowls as they are to be written.
        started: when the run started.
        version: version of the program that watched it.
    """
    return run_document(setup, rig.recipe, rig.prior, rig.seed, version, rig.units, started)


def header_of(rig: Rig, started_unix: float) -> RunHeader:
    """What the log is told of a run that starts at `started_unix` [s]."""
    moment = datetime.datetime.fromtimestamp(started_unix, datetime.UTC)
    return RunHeader(
        id=f"{rig.setup.id}-{moment:%Y%m%dT%H%M%SZ}",
        rig=rig.setup.id,
        started_unix=started_unix,
        recipe=rig.recipe.name if rig.recipe is not None else "",
        document=document_of(rig, rig.setup, moment),
        virtual=rig.virtual,
        version=__version__,
    )


def logged_rig(header: RunHeader) -> Rig:
    """The rig of a logged run as it was when the run started, without its link.

    Raises:
        ConfigError: a newer program wrote it.
    """
    (rig,) = rigs_of(parse_config(header.document, header.id), None)
    return rig
