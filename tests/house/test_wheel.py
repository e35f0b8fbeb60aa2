"""What the wheel carries, and that the version stands in one place."""

from __future__ import annotations

import email
import email.message
import re
import tomllib
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

import rigmon


@pytest.fixture(scope="module")
def wheel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Every file of the wheel by its name in it."""
    folder = tmp_path_factory.mktemp("wheel")
    (built,) = WheelBuilder(str(root)).build(directory=str(folder), versions=["standard"])
    with zipfile.ZipFile(built) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture(scope="module")
def metadata(wheel: dict[str, bytes]) -> email.message.Message:
    """The wheel's metadata."""
    (name,) = (name for name in wheel if name.endswith(".dist-info/METADATA"))
    return email.message_from_bytes(wheel[name])


def test_the_wheel_carries_the_program_and_the_scenario(
    wheel: dict[str, bytes], root: Path, files: tuple[Path, ...]
) -> None:
    """All of rigmon/, and data/ as rigmon/data, and nothing else."""
    carried = {name: data for name, data in wheel.items() if ".dist-info/" not in name}
    program = {str(path): path for path in files if path.parts[0] == "rigmon"}
    scenario = {f"rigmon/{path}": path for path in files if path.parts[0] == "data"}
    expected = program | scenario
    assert {"rigmon/py.typed", "rigmon/physics/ingredients.csv"} <= expected.keys()
    assert "rigmon/data/rigs/demo.toml" in expected
    assert carried.keys() == expected.keys()
    assert all(carried[name] == (root / path).read_bytes() for name, path in expected.items())


def test_the_version_stands_in_one_place(root: Path, metadata: email.message.Message) -> None:
    """The wheel has the version that the program tells, and the project file names none."""
    assert metadata["Version"] == rigmon.__version__
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    assert "version" not in project
    assert project["dynamic"] == ["version"]


def test_the_wheel_says_licence_and_command(
    wheel: dict[str, bytes], metadata: email.message.Message
) -> None:
    """MIT, and one command."""
    (name,) = (name for name in wheel if name.endswith(".dist-info/entry_points.txt"))
    assert metadata["License-Expression"] == "MIT"
    assert wheel[name].decode() == "[console_scripts]\nrigmon = rigmon.cli:main\n"


def test_the_program_needs_no_test_tool(root: Path, metadata: email.message.Message) -> None:
    """What only the tests or an extra need is not installed with the program."""
    needs = metadata.get_all("Requires-Dist") or []
    plain = {re.split(r"[<>=;\s]", need)[0].lower() for need in needs if "extra ==" not in need}
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    extra = project["optional-dependencies"]["test"]
    tools = {re.split(r"[<>=]", need)[0].lower() for need in extra}
    assert {"numpy", "pyserial"} <= plain
    assert {"pytest", "amqtt"} <= tools
    assert plain & tools == set()


def test_what_is_tested_is_what_lies_here(root: Path, files: tuple[Path, ...]) -> None:
    """A program installed before the last change is not mistaken for this one: install it again."""
    installed = Path(rigmon.__file__).parent
    here = [path.relative_to("rigmon") for path in files if path.parts[0] == "rigmon"]
    stale = [
        str(path)
        for path in here
        if not (installed / path).is_file()
        or (installed / path).read_bytes() != (root / "rigmon" / path).read_bytes()
    ]
    assert stale == []
