"""What the benches share: their options, the machine they ran on, and plain tables."""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Iterable, Sequence
from importlib.metadata import version
from pathlib import Path

import rigmon

ROOT = Path(__file__).resolve().parents[2]


def is_quick(about: str | None) -> bool:
    """Whether the bench was asked to be done within two minutes."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--quick", action="store_true", help="within two minutes")
    return bool(parser.parse_args().quick)


def processor() -> str:
    """The machine's processor, as Linux names it."""
    path = Path("/proc/cpuinfo")
    lines = path.read_text().splitlines() if path.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return f"{names[0]}, {len(names)} cores" if names else platform.machine()


def heading(seed: int | None = None) -> None:
    """Say what ran, on what, and whether the machine was busy with something else."""
    arguments = [str(Path(sys.argv[0]).resolve().relative_to(ROOT)), *sys.argv[1:]]
    chance = "no chance in it" if seed is None else f"seed {seed}"
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "pydantic", "pyserial"))
    print(f"$ python {' '.join(arguments)}    ({chance})")
    print(f"{processor()}; CPython {platform.python_version()}; {libraries}")
    print(f"rigmon {rigmon.__version__}; load before it began {os.getloadavg()[0]:.1f}\n")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print rows below their heads, names to the left and figures to the right."""
    cells = [tuple(head), *(tuple(row) for row in rows)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(head))]
    for line in cells:
        name, *figures = (
            cell.rjust(width) if i else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        print("  ".join([name, *figures]).rstrip(), flush=True)


def quantile(values: Sequence[float], share: float) -> float:
    """The value that a share of all values does not exceed."""
    ranked = sorted(values)
    return ranked[min(int(share * len(ranked)), len(ranked) - 1)]
