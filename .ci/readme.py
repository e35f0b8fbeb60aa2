"""Rewrites the blocks of the README and DEVELOPERS that show what the program prints.

A block is a fence between two comments. The help of a command stands between

    <!-- help: rigmon watch --> and <!-- /help -->

and a command with its output between

    <!-- run: rigmon replay data/runs/slip-custard-4to1.csv --every 300 --> and <!-- /run -->

`python .ci/readme.py` rewrites them; with `--check` it only says which are out of date.
"""

from __future__ import annotations

import argparse
import os
import re
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("README.md", "DEVELOPERS.md")
OPENS = re.compile(r"<!-- (?:help|run): ")
BLOCK = re.compile(r"(<!-- (help|run): ([^\n]+) -->\n```\w*\n)(.*?)(```\n<!-- /\2 -->)", re.DOTALL)
_PROGRAM = "from rigmon.cli import main; main()"
_PATIENCE_S = 60.0


def output(command: str) -> str:
    """What a command of the program prints, 80 columns wide, in an empty home, seen from the top.

    Raises:
        ValueError: it is no command of the program.
        subprocess.CalledProcessError: the command failed.
    """
    program, *arguments = shlex.split(command)
    if program != "rigmon":
        raise ValueError(f"{command}: only commands of rigmon are run")
    with tempfile.TemporaryDirectory() as home:
        places = {"HOME": home, "XDG_DATA_HOME": home, "XDG_RUNTIME_DIR": home}
        done = subprocess.run(  # noqa: S603 - the program itself, on the words of our own pages
            [sys.executable, "-c", _PROGRAM, *arguments],
            cwd=ROOT,
            env={**os.environ, **places, "COLUMNS": "80", "NO_COLOR": "1", "TZ": "UTC"},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=True,
            timeout=_PATIENCE_S,
        )
    return "".join(f"{line.rstrip()}\n" for line in done.stdout.splitlines())


def shown(kind: str, command: str) -> str:
    """What stands in a block."""
    return output(f"{command} --help") if kind == "help" else f"$ {command}\n{output(command)}"


def rewritten(page: str, show: Callable[[str, str], str] = shown) -> str:
    """A page with its blocks as the program prints them now.

    Raises:
        ValueError: a block is not closed as it should be.
    """
    if len(OPENS.findall(page)) != len(BLOCK.findall(page)):
        raise ValueError("a block is not closed, or has no fence")
    return BLOCK.sub(lambda block: block[1] + show(block[2], block[3]) + block[5], page)


def main() -> int:
    """Rewrite the pages, or say which are out of date."""
    parser = argparse.ArgumentParser(description="Keep the program's words in the pages true.")
    parser.add_argument("--check", action="store_true", help="change nothing; fail if any would")
    check = parser.parse_args().check
    stale = 0
    for name in PAGES:
        path = ROOT / name
        before = path.read_text(encoding="utf-8")
        after = rewritten(before)
        if after == before:
            continue
        stale += 1
        print(f"{name} {'is out of date: run python .ci/readme.py' if check else 'rewritten'}")
        if not check:
            path.write_text(after, encoding="utf-8")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
