"""Whether what a run is measured to be holds: `python tests/bench/review_coverage.py [--quick]`.

Batches of drawn virtual rigs, a richer model than the one that is fitted, are put into a log and
measured from it alone; then it is counted in how many the stated range held what was true.
"""

from __future__ import annotations

import math
import os
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from multiprocessing import get_context

import numpy as np

from looked_back import log_at, put
from rigmon.review.measures import Measures, Span
from rigmon.review.measuring import measure
from showing import heading, is_quick, table

FIRST_SEED = 11_000
_P90 = 1.2816


def leaked(seed: int) -> tuple[Span | None, float]:
    """What the leak of a weak bath that is left alone was measured to be, and what it was."""
    with tempfile.TemporaryDirectory() as folder, log_at(folder) as log:
        run_id, real = put(log, seed, "drawn", weak=True)
        return measure(log, run_id).leak_w_k, real.leak_w_k


def measured(seed: int) -> tuple[dict[str, Span | None], dict[str, float]]:
    """The ranges that one batch was measured to, and what was true."""
    with tempfile.TemporaryDirectory() as folder, log_at(folder) as log:
        run_id, real = put(log, seed, "drawn")
        found = measure(log, run_id)
    return _spans(found), asdict(real)


def _spans(found: Measures) -> dict[str, Span | None]:
    first = next((one.frozen_pct for one in found.stages if one.stage == "beat"), None)
    return {
        "ua_w_k": found.ua_w_k,
        "wall_end_w_k": found.wall_end_w_k,
        "beater_w": found.beater_w,
        "beater_end_w": found.beater_end_w,
        "leak_w_k": found.leak_w_k,
        "mix_offset_k": found.mix_offset_k,
        "freezing_after_s": found.freezing_after_s,
        "frozen_pct": first,
        "heat_kj": found.heat_kj,
        "ice_left_g": found.bath.ice_left_g,
        "salt_left_g": found.bath.salt_left_g,
    }


def row(name: str, spans: list[Span | None], real: list[float]) -> tuple[str, ...]:
    """One line of the table."""
    known = [
        (span, value)
        for span, value in zip(spans, real, strict=True)
        if span is not None and math.isfinite(value)
    ]
    if not known:
        return (name, "0", *(["–"] * 7))
    low, middle, high = (np.array([getattr(s, q) for s, _ in known]) for q in ("p10", "p50", "p90"))
    value = np.array([one for _, one in known])
    held = (low <= value) & (value <= high)
    sd = np.maximum((high - low) / (2.0 * _P90), 1e-9)
    return (
        name,
        str(len(known)),
        f"{100.0 * held.mean():.0f}",
        f"{100.0 * (value < low).mean():.0f}",
        f"{100.0 * (value > high).mean():.0f}",
        f"{np.median(middle - value):.2f}",
        f"{np.median(high - low):.2f}",
        f"{np.sqrt(np.mean(((value - middle) / sd) ** 2)):.2f}",
        f"{np.median(value):.2f}",
    )


def main() -> None:
    """Print the table."""
    n = 12 if is_quick(__doc__) else 200
    heading(FIRST_SEED)
    with ProcessPoolExecutor(os.cpu_count(), get_context("spawn")) as pool:
        found = list(pool.map(measured, range(FIRST_SEED, FIRST_SEED + n)))
        leaks = list(pool.map(leaked, range(FIRST_SEED, FIRST_SEED + n // 2)))
    print(f"{n} drawn rigs: 20 min of round 1, then 40 min out of the bath; last row, {n // 2} of")
    print("them: little fine salt, 10 min of round 1, then the bath alone for 90 min\n")
    heads = (
        "", "runs", "held %", "below %", "above %", "median miss", "width", "rms z", "truth",
    )  # fmt: skip
    names = list(found[0][1])
    rows = [
        row(name, [spans[name] for spans, _ in found], [real[name] for _, real in found])
        for name in names
    ]
    spans, real = zip(*leaks, strict=True)
    rows.append(row("leak_w_k, weak", list(spans), list(real)))
    table(heads, rows)
    print("\nreach: 72 to 88 held")


if __name__ == "__main__":
    main()
