"""Rewrites the blocks of the README and DEVELOPERS that show what the program prints.

A block stands between two comments. The help of a command is a fence between

    <!-- help: rigmon watch --> and <!-- /help -->

a command with its output a fence between

    <!-- run: rigmon replay data/runs/slip-custard-4to1.csv --every 300 --> and <!-- /run -->

and the tables of what the tests of a folder held to published figures stand between

    <!-- checks: tests/published --> and <!-- /checks -->

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
OPENS = re.compile(r"<!-- (?:help|run|checks): ")
FENCE = re.compile(r"(<!-- (help|run): ([^\n]+) -->\n```\w*\n)(.*?)(```\n<!-- /\2 -->)", re.DOTALL)
TABLES = re.compile(r"(<!-- (checks): ([^\n]+) -->\n)(.*?)(<!-- /\2 -->)", re.DOTALL)
TITLED = re.compile(r"^=+ How we know =+\n(.*?)^=", re.DOTALL | re.MULTILINE)
_PROGRAM = "from rigmon.cli import main; main()"
_PATIENCE_S = 60.0
_TESTS_PATIENCE_S = 300.0


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


def checks(folder: str) -> str:
    """The tables with which the tests of a folder end, once all of them have passed.

    Raises:
        ValueError: it is no folder of tests, or its tests fail or end without a table.
    """
    if folder not in {str(path.relative_to(ROOT)) for path in (ROOT / "tests").iterdir()}:
        raise ValueError(f"{folder}: only folders of tests are run")
    pytest = [sys.executable, "-m", "pytest", "-q", "-rA", "--color=no", "-p", "no:cacheprovider"]
    done = subprocess.run(  # noqa: S603 - our own tests
        [*pytest, folder],
        cwd=ROOT,
        env={key: value for key, value in os.environ.items() if not key.startswith("PYTEST_")},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=_TESTS_PATIENCE_S,
    )
    found = TITLED.search(done.stdout)
    if done.returncode != 0 or found is None:
        last = (done.stdout + done.stderr).splitlines()[-1:]
        raise ValueError(f"{folder}: its tests failed or show no table: {last}")
    return f"\n{found[1].strip()}\n\n"


def shown(kind: str, what: str) -> str:
    """What stands in a block."""
    if kind == "checks":
        return checks(what)
    return output(f"{what} --help") if kind == "help" else f"$ {what}\n{output(what)}"


def rewritten(page: str, show: Callable[[str, str], str] = shown) -> str:
    """A page with its blocks as the program prints them now.

    Raises:
        ValueError: a block is not closed as it should be.
    """
    if len(OPENS.findall(page)) != len(FENCE.findall(page)) + len(TABLES.findall(page)):
        raise ValueError("a block is not closed, or has no fence")
    for kind in (FENCE, TABLES):
        page = kind.sub(lambda block: block[1] + show(block[2], block[3]) + block[5], page)
    return page


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
