"""All benches, one after another: `python tests/bench/all.py [--quick]`.

A full run takes some hours, a quick one six minutes. A quick one writes its tables to
RESULTS.md, a full one to FULL.md: let the machine be quiet.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from showing import ROOT, is_quick

BENCHES = (
    "replay",
    "latency",
    "process",
    "page",
    "store",
    "wire_decode",
    "ensemble",
    "plan",
    "foresight",
    "forecast_skill",
    "trend",
)
AT_LENGTH = (
    "scripted",
    "reachable",
    "exactmodel",
    "softening",
    "review_speed",
    "review_coverage",
    "suggest",
    "pageday",
)
"""Those that say too little when they are quick, or are long even then."""
HEAD = """\
# Speed, size and skill

The tables of {runs}; each has its command, its seed and the machine. Figures are compared with the
baseline of the same run, not with another machine.
"""


def main() -> int:
    """Run them; the exit code is 1 if one failed."""
    quick = is_quick(__doc__)
    tables, failed = [], []
    for name in BENCHES if quick else (*BENCHES, *AT_LENGTH):
        script = Path(__file__).with_name(f"{name}.py")
        command = [sys.executable, str(script), *(["--quick"] if quick else [])]
        done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=False)
        print(f"{done.stdout}\n", flush=True)
        tables.append(f"```\n{done.stdout}```\n")
        if done.returncode:
            failed.append(name)
    for name in failed:
        print(f"{name} failed", file=sys.stderr)
    if not failed:
        head = HEAD.format(runs="`python tests/bench/all.py --quick`" if quick else "full runs")
        page = "RESULTS.md" if quick else "FULL.md"
        Path(__file__).with_name(page).write_text("\n".join([head, *tables]), "utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
