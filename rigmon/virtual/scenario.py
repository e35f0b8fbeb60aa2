"""A batch to be played: which rig, which mix, what the maker means to do, and what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rigmon.config import load_recipe
from rigmon.errors import UsageError
from rigmon.physics.ingredients import compose
from rigmon.physics.mix import freezing_curve
from rigmon.records import Place, Recipe
from rigmon.virtual.board import BoardSetup
from rigmon.virtual.maker import Plan
from rigmon.virtual.parameters import RigParameters
from rigmon.virtual.probe import ProbeParameters, Upset
from rigmon.virtual.tables import MixTables

_USUAL_BOARD = BoardSetup()


@dataclass(frozen=True, slots=True)
class Channel:
    """One input of the board.

    Args:
        name: the probe's name on the wire.
        place: what it sits in.
        kind: thermocouple letter.
        parameters: what the probe is like; None draws it.
    """

    name: str
    place: Place
    kind: str = "T"
    parameters: ProbeParameters | None = None


@dataclass(frozen=True, slots=True)
class Scenario:
    """One batch to be played.

    Args:
        name: what it is called in file names.
        rig: id of the rig, and name of its configuration among the demonstration's data.
        recipe: name of the recipe there.
        plan: what the maker means to do.
        parameters: the rig, before it is varied from day to day; None draws it whole.
        channels: the board's inputs.
        upsets: what goes wrong.
        room_c: temperature of the room [°C].
        bowl_c: temperature of the inner bowl before it is set into the bath [°C].
        board: how the board writes.
        about: one sentence on what this run shows.
    """

    name: str
    rig: str
    recipe: str
    plan: Plan
    parameters: RigParameters | None = None
    channels: tuple[Channel, ...] = (Channel("bath", Place.BATH), Channel("mix", Place.MIX))
    upsets: tuple[Upset, ...] = ()
    room_c: float = 22.0
    bowl_c: float = 6.0
    board: BoardSetup = _USUAL_BOARD
    about: str = ""


def data_folder() -> Path:
    """Where the demonstration's rigs, recipes and runs lie, installed or in the source tree."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "data"
    return installed if installed.is_dir() else package.parent / "data"


def recipe_path(scenario: Scenario) -> Path:
    """The file of a scenario's recipe."""
    return data_folder() / "recipes" / f"{scenario.recipe}.toml"


def recipe_of(scenario: Scenario) -> Recipe:
    """A scenario's recipe, its composition worked out."""
    return compose(load_recipe(recipe_path(scenario)))


def mix_tables(scenario: Scenario, rig: RigParameters) -> MixTables:
    """How the mix of a scenario truly freezes."""
    composition = recipe_of(scenario).composition
    if composition is None:
        raise UsageError(f"{recipe_path(scenario)}: the recipe has no composition.")
    return MixTables(freezing_curve(composition), rig.freezing_shift_k, rig.freezing_stretch)
