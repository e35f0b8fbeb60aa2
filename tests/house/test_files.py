"""What lies where in the repository, and what no file may say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "rigmon",
    "firmware_notes",
    "tests",
    "data",
}
LONGEST = 400
"""A module past this many lines is two."""
HERE = Path("tests/house/test_files.py")
UNSAID = re.compile(
    r"""
      \b (?: TODO | FIXME | XXX | HACK ) \b   # what is not done is not in the code
    | \b (?i: issues? ) \s+ \#?\d             # why it was written
    """,
    re.VERBOSE,
)


def test_top_level_is_what_the_house_says(files: tuple[Path, ...]) -> None:
    """At the top lie the two pages, the project file, the program and its four companions."""
    assert {path.parts[0] for path in files if not path.parts[0].startswith(".")} == TOP


def test_no_module_is_longer_than_a_head_holds(root: Path, files: tuple[Path, ...]) -> None:
    """Modules and tests stay within their longest."""
    python = [path for path in files if path.suffix == ".py"]
    lengths = {str(path): (root / path).read_text("utf-8").count("\n") for path in python}
    assert "rigmon/errors.py" in lengths
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST} == {}


def test_no_file_speaks_of_its_making(root: Path, files: tuple[Path, ...]) -> None:
    """The repository speaks of the product alone."""
    found = {}
    for path in files:
        if path == HERE:
            continue
        text = (root / path).read_bytes().decode("utf-8", errors="replace")
        said = [match.group() for match in UNSAID.finditer(text)]
        if said:
            found[str(path)] = said
    assert found == {}


@pytest.mark.parametrize("text", ["# TODO: later", "FIXME", "Issue #12"])
def test_what_may_not_be_said_is_found(text: str) -> None:
    """The words are caught where they stand in a sentence."""
    assert UNSAID.search(text)


def test_what_may_be_said_is_left_alone() -> None:
    """Words that only look like those are not caught."""
    assert not UNSAID.search("work/done, tradewinds, a hacksaw, xxx, the issue of ice, contracts")
