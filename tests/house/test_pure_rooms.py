"""The rooms that work things out have no clock, no thread, no socket and no file."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping

import pytest

PURE = ("physics", "probes", "estimate", "run")
OUTSIDE = frozenset(
    {
        "asyncio",
        "concurrent",
        "datetime",
        "io",
        "logging",
        "multiprocessing",
        "os",
        "pathlib",
        "queue",
        "random",
        "select",
        "shutil",
        "signal",
        "socket",
        "sqlite3",
        "subprocess",
        "sys",
        "tempfile",
        "threading",
        "time",
        "urllib",
    }
)
CALLS = frozenset({"open", "print", "input", "exec", "eval"})


def reaching_out(source: str) -> Iterator[str]:
    """What in a module reaches out of the program, or keeps a state of its own."""
    for node in ast.walk(ast.parse(source)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            names = [node.module or ""]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            yield from {node.func.id} & CALLS
        elif isinstance(node, ast.Global):
            yield "global"
        yield from {name.partition(".")[0] for name in names} & OUTSIDE


def test_pure_rooms_do_not_reach_out(modules: Mapping[str, str]) -> None:
    """Time is an argument there, and what they need to know is handed to them.

    A table that comes with the package, read through importlib.resources, is part of the program.
    """
    rooms = {name: source for name, source in modules.items() if name.split(".")[1:2]}
    pure = {name: source for name, source in rooms.items() if name.split(".")[1] in PURE}
    assert {name.split(".")[1] for name in pure} == set(PURE)
    found = {name: sorted(reaching_out(source)) for name, source in pure.items()}
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize(
    ("source", "what"),
    [
        ("import time", "time"),
        ("import os.path", "os"),
        ("from pathlib import Path", "pathlib"),
        ("def f():\n    import threading", "threading"),
        ("def f():\n    return open('x')", "open"),
        ("def f():\n    global x", "global"),
    ],
)
def test_reaching_out_is_found(source: str, what: str) -> None:
    """Imports anywhere in the module and calls of builtins are caught."""
    assert list(reaching_out(source)) == [what]
