"""How long a plan takes from the shell: `python tests/bench/plan.py [--quick]`."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from showing import ROOT, heading, is_quick, table

SEED = 0
RECIPE = ROOT / "data" / "recipes" / "barley-custard.toml"
LIBRARIES = "import numpy, pydantic, matplotlib.figure, matplotlib.backends.backend_agg"


def run_s(*arguments: str) -> float:
    """Time that Python takes for something that ends by itself [s]."""
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.perf_counter() - begun


def main() -> None:
    """Print the table."""
    rounds = 4 if is_quick(__doc__) else 12
    heading(SEED)
    plan = ("-m", "rigmon", "plan", str(RECIPE), "--seed", str(SEED))
    with tempfile.TemporaryDirectory() as folder:
        pages = {form: ("--out", str(Path(folder) / f"plan.{form}")) for form in ("pdf", "png")}
        asked = {
            "baseline: Python with numpy, pydantic, matplotlib": ("-c", LIBRARIES),
            "`rigmon plan`": plan,
            "`rigmon plan --out plan.pdf`": (*plan, *pages["pdf"]),
            "`rigmon plan --out plan.png`": (*plan, *pages["png"]),
            "the same with --compare ratio=3,4,5,6": (
                *plan,
                *pages["png"],
                "--compare",
                "ratio=3,4,5,6",
            ),
        }
        taken: dict[str, list[float]] = {}
        for what, arguments in asked.items():
            run_s(*arguments)
            taken[what] = [run_s(*arguments) for _ in range(rounds)]
    base = median(next(iter(taken.values())))
    table(
        ("", "median s", "worst s", "of baseline"),
        [
            (what, f"{median(v):.2f}", f"{max(v):.2f}", f"{median(v) / base:.1f}")
            for what, v in taken.items()
        ],
    )
    print(f"\n{rounds} rounds; reach: 3 s with a picture")


if __name__ == "__main__":
    main()
