"""All benches, one after another: `python tests/bench/all.py [--quick]`.

A full run takes more than an hour, a quick one six minutes. Either writes its tables to RESULTS.md:
let the machine be quiet.
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
    "store",
    "wire_decode",
    "ensemble",
    "plan",
    "foresight",
    "forecast_skill",
)
HEAD = """\
# Speed, size and skill

The tables of `{command}`, which writes this page; each has its
command, its seed and the machine. Figures are compared with the baseline of the same run, not with
another machine.
"""


def main() -> int:
    """Run them; the exit code is 1 if one failed."""
    quick = is_quick(__doc__)
    tables, failed = [], []
    for name in BENCHES:
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
        head = HEAD.format(command=f"python tests/bench/all.py{' --quick' if quick else ''}")
        Path(__file__).with_name("RESULTS.md").write_text("\n".join([head, *tables]), "utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
