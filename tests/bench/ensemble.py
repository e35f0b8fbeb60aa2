"""How fast the rig's balance runs on one core: `python tests/bench/ensemble.py [--quick]`."""

from __future__ import annotations

import os
import time

from rigmon.physics import rig
from rigmon.physics.course import Start, before_the_pour
from rigmon.physics.mix import freezing_curve
from rigmon.physics.rig import Drive
from rigmon.physics.rigparameters import draw_rigs
from rigmon.records import Composition
from showing import heading, is_quick, table

MINUTES = 30
CURVE = freezing_curve(Composition(water=61.7, fat=12.5, msnf=10.5, sucrose=15.0, stabiliser=0.3))
START = Start(mix_g=1200.0, ice_g=3000.0, salt_g=750.0)
CASES = ((1, 1, "beaten"), (1000, 1, "beaten"), (1000, 2, "beaten"), (1000, 1, "at rest"))


def seconds(members: int, zones: int, how: str) -> float:
    """Time that half an hour of so many rigs takes, in steps of 1 s, 5 s at rest [s]."""
    state = before_the_pour(CURVE, START, draw_rigs(members, 1), zones)
    state = rig.poured(state, START.mix_g, START.mix_c)
    step_s, drive = 1.0, Drive(1.0)
    if how == "at rest":
        step_s, drive, state = 5.0, Drive(0.0, -18.0, -18.0), rig.rested(state, bowl_in=True)
    begun = time.perf_counter()
    for _ in range(round(MINUTES * 60.0 / step_s)):
        state = rig.advanced(state, step_s, drive)
    return time.perf_counter() - begun


def main() -> None:
    """Print the table."""
    rounds = 2 if is_quick(__doc__) else 5
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    heading(1)
    one = 0.0
    rows = []
    for members, zones, how in CASES:
        taken = min(seconds(members, zones, how) for _ in range(rounds))
        one = one or taken
        ratio = members * one / taken
        rows.append((f"{members:,}", str(zones), how, f"{taken:.2f}", f"{ratio:,.0f}"))
    print(f"{MINUTES} min of the rig, best of {rounds}; baseline: the rigs one after another\n")
    table(("rigs", "zones", "", "s", "times faster"), rows)
    print("\nreach: 1,000 rigs, one zone, beaten, in 1.5 s")


if __name__ == "__main__":
    main()
