"""The repository as its own tests see it."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the repository."""
    return ROOT


@pytest.fixture(scope="session")
def files() -> tuple[Path, ...]:
    """Every file of the repository that git does not ignore, relative to its top."""
    # CI and the clone may belong to different users; nothing is run from the repository here.
    ask = ["git", "-c", "safe.directory=*", "ls-files", "-z", "-co", "--exclude-standard"]
    listed = subprocess.run(ask, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    paths = (Path(name) for name in listed.split("\0") if name)
    return tuple(path for path in paths if (ROOT / path).is_file())


@pytest.fixture(scope="session")
def modules(root: Path) -> dict[str, str]:
    """The source of every module of the program, by its dotted name."""
    package = root / "rigmon"
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = path.read_text(encoding="utf-8")
    return found
