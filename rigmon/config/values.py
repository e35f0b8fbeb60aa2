"""A configuration as the program uses it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from rigmon.config.outlets import Outlets
from rigmon.records import Link, Recipe, RigPrior, RigSetup
from rigmon.texts import Language
from rigmon.units import MassUnit, TemperatureUnit


@dataclass(frozen=True, slots=True)
class Units:
    """Units that the maker reads and measures in.

    Args:
        temperature: of temperatures.
        mass: of masses.
        cup_ml: size of the cup that recipes mean [ml].
        language: language of what the maker reads.
    """

    temperature: TemperatureUnit = "C"
    mass: MassUnit = "g"
    cup_ml: float = 240.0
    language: Language = "en"


@dataclass(frozen=True, slots=True)
class LogConfig:
    """The run log.

    Args:
        path: its file; None for the place where it usually lies.
        synchronous: FULL syncs the disk with every transaction, NORMAL leaves that to SQLite.
    """

    path: Path | None = None
    synchronous: Literal["FULL", "NORMAL"] = "FULL"


@dataclass(frozen=True, slots=True)
class PageConfig:
    """The page in the browser.

    Args:
        enabled: whether it is served.
        port: its port; None for the usual one, or the next that is free.
        host: address at which it is served; any but this machine's own asks for a key.
        guests: whether there is a second key, for looking only.
        names: more names that this machine is called by.
    """

    enabled: bool = True
    port: int | None = None
    host: str = "127.0.0.1"
    guests: bool = False
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RigConfig:
    """One rig.

    Args:
        setup: what it is.
        link: how its readings arrive; None where no source is configured.
        recipe_path: its usual recipe, if one is named.
    """

    setup: RigSetup
    link: Link | None = None
    recipe_path: Path | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """What a recorded run started from, so that it can be said again.

    Args:
        recipe: the mix, if it was known.
        prior: what was believed of the rig.
        seed: seed of the run's random numbers.
        version: version of the program that recorded it.
        started: when the run started, if that is known.
    """

    recipe: Recipe | None
    prior: RigPrior
    seed: int
    version: str
    started: datetime.datetime | None = None


@dataclass(frozen=True, slots=True)
class Config:
    """A configuration file.

    Args:
        rigs: the rigs, in the order of the file.
        units: units that the maker reads.
        log: the run log.
        page: the page in the browser.
        outlets: where alarms and figures go beside the screen.
        recorded: what a recorded run started from; only in a file that was exported with one.
    """

    rigs: tuple[RigConfig, ...] = ()
    units: Units = Units()
    log: LogConfig = LogConfig()
    page: PageConfig = PageConfig()
    outlets: Outlets = field(default_factory=Outlets)
    recorded: Recorded | None = None
