"""A room imports only rooms on floors below its own."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from importlib.util import resolve_name

import pytest

FLOORS: Mapping[int, tuple[str, ...]] = {
    0: ("records", "units", "errors", "texts"),
    1: ("config", "physics", "probes"),
    2: ("estimate", "sources", "store", "virtual"),
    3: ("run",),
    4: ("plan", "review", "outlets"),
    5: ("service",),
    6: ("cli",),
    7: ("__main__",),
}
FLOOR = {room: floor for floor, rooms in FLOORS.items() for room in rooms}
FACTS = frozenset({"__version__"})
"""What the package itself knows, and any room may ask."""


def imported(module: str, packages: frozenset[str], source: str) -> Iterator[str]:
    """Dotted names that a module imports, wherever in it, even for types alone."""
    package = module if module in packages else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = resolve_name("." * node.level + (node.module or ""), package)
            yield from (f"{base}.{alias.name}" for alias in node.names)


def faults(modules: Mapping[str, str]) -> list[str]:
    """A sentence for every import that climbs."""
    packages = frozenset(
        name for name in modules if any(other.startswith(f"{name}.") for other in modules)
    )
    found = []
    for module, source in modules.items():
        room = module.split(".")[1] if "." in module else ""
        if room and room not in FLOOR:
            found.append(f"{module}: the room {room} has no floor")
            continue
        for name in imported(module, packages, source):
            top, _, rest = name.partition(".")
            other = rest.split(".")[0]
            if top != "rigmon" or other in {room, *FACTS}:
                continue
            if not room or FLOOR.get(other, 99) >= FLOOR[room]:
                found.append(f"{module}: imports rigmon.{other}")
    return found


def test_no_room_imports_its_own_floor_or_one_above(modules: dict[str, str]) -> None:
    """The import floors hold for every module of the program."""
    assert faults(modules) == []


@pytest.mark.parametrize(
    ("module", "source", "fault"),
    [
        ("rigmon.physics.brine", "import rigmon.run.monitor", "imports rigmon.run"),
        ("rigmon.physics.brine", "from rigmon.probes import its90", "imports rigmon.probes"),
        ("rigmon.physics.brine", "from rigmon import store", "imports rigmon.store"),
        ("rigmon.physics.brine", "from ..config import load", "imports rigmon.config"),
        ("rigmon.physics.brine", "from .. import estimate", "imports rigmon.estimate"),
        ("rigmon.run", "from ..cli import main", "imports rigmon.cli"),
        ("rigmon.run.monitor", "def f():\n    import rigmon.service", "imports rigmon.service"),
        ("rigmon.units", "import rigmon.records", "imports rigmon.records"),
        ("rigmon", "from rigmon.records import Reading", "imports rigmon.records"),
        ("rigmon.physics.brine", "import rigmon.cellar", "imports rigmon.cellar"),
        ("rigmon.cellar", "", "the room cellar has no floor"),
    ],
)
def test_an_import_that_climbs_is_found(module: str, source: str, fault: str) -> None:
    """Every way to write an import that climbs is caught."""
    house = {"rigmon": "", "rigmon.run.stages": "", module: source}
    assert faults(house) == [f"{module}: {fault}"]


@pytest.mark.parametrize(
    "source",
    [
        "from rigmon.records import Reading",
        "from rigmon import __version__, units",
        "from .mix import freezing_curve",
        "import rigmon.physics.mix",
        "import numpy as np",
    ],
)
def test_an_import_that_does_not_climb_is_left_alone(source: str) -> None:
    """Rooms below, the room itself and libraries may be imported."""
    assert faults({"rigmon": "", "rigmon.physics.brine": source}) == []
