"""What the firmware is tested with: its modules, compilers, a real MicroPython, and the vectors."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

collect_ignore = ["answers.py", "emulator.py"]
"""They run where the firmware's own modules are found."""

HERE = Path(__file__).parent
NOTES = HERE.parents[1] / "firmware_notes"
MICROPYTHON = NOTES / "micropython"
SKETCH = NOTES / "cpp" / "bowl_board"
VECTORS = sorted(path.stem for path in (HERE / "vectors").glob("*.txt"))

WARNINGS = ("-std=c++11", "-Wall", "-Wextra", "-Wpedantic", "-Werror")
PACKAGE = "@micropython/micropython-webassembly-pyscript"
PATIENCE_S = 120.0

Answer = Callable[[str], str]


def vectors(name: str) -> list[tuple[str, str]]:
    """The commands of a file, each with its answer."""
    lines = (HERE / "vectors" / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    cases = [line.split(" => ") for line in lines if line and not line.startswith("#")]
    return [(command, answer) for command, answer in cases]


@pytest.fixture(scope="session")
def firmware() -> tuple[Any, Any, Any]:
    """The two pure modules under Python, and what answers the vectors with them."""
    folders = [str(MICROPYTHON), str(HERE)]
    sys.path[:0] = folders
    try:
        import answers  # type: ignore[import-not-found] # by the path above
        import rigboard  # type: ignore[import-not-found]
        import riguplink  # type: ignore[import-not-found]
    finally:
        del sys.path[: len(folders)]
    return rigboard, riguplink, answers


@pytest.fixture(scope="session")
def rigboard(firmware: tuple[Any, Any, Any]) -> Any:
    """What makes lines and packs."""
    return firmware[0]


@pytest.fixture(scope="session")
def riguplink(firmware: tuple[Any, Any, Any]) -> Any:
    """What keeps samples and speaks MQTT."""
    return firmware[1]


def cpp_compiler() -> str:
    """The C++ compiler of this machine; a test that needs one is skipped where there is none."""
    found = shutil.which("g++")
    if found is None:
        pytest.skip("g++ is not installed: apt-get install g++")
    return found


@pytest.fixture(scope="session")
def compiler() -> str:
    """A C++ compiler."""
    return cpp_compiler()


def compiled(compiler: str, source: Path, to: Path, *more: str) -> Path:
    """A program made of one source, in which no warning went unnoticed."""
    made = subprocess.run(
        [compiler, *WARNINGS, *more, f"-I{SKETCH}", str(source), "-o", str(to)],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    return to


@pytest.fixture(scope="session")
def in_cpp(compiler: str, tmp_path_factory: pytest.TempPathFactory) -> Answer:
    """Answers commands with the C++ header."""
    program = compiled(compiler, HERE / "answers.cpp", tmp_path_factory.mktemp("cpp") / "answers")

    def answer(commands: str) -> str:
        done = subprocess.run(
            [program], input=commands, capture_output=True, text=True, timeout=30, check=True
        )
        return done.stdout

    return answer


@pytest.fixture(scope="session")
def in_micropython(tmp_path_factory: pytest.TempPathFactory) -> Answer:
    """Answers commands with the pure modules under a real MicroPython, built for WebAssembly."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        pytest.skip("node and npm are not installed: apt-get install nodejs npm")
    folder = tmp_path_factory.mktemp("npm")
    fetched = subprocess.run(
        [npm, "install", "--silent", "--no-audit", "--no-fund", "--prefix", folder, PACKAGE],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    if fetched.returncode != 0:
        pytest.skip(f"npm could not fetch {PACKAGE}: {fetched.stderr.strip()[-200:]}")
    files = [MICROPYTHON / "rigboard.py", MICROPYTHON / "riguplink.py", HERE / "answers.py"]

    def answer(commands: str) -> str:
        done = subprocess.run(
            [node, HERE / "in_micropython.mjs", folder / "node_modules" / PACKAGE, *files],
            input=commands,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    return answer


@pytest.fixture(scope="session")
def in_python(firmware: tuple[Any, Any, Any]) -> Answer:
    """Answers commands with the pure modules under this Python."""
    return lambda commands: f"{firmware[2].answers(commands)}\n"
