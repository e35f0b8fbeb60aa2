"""Print what was caught, late, missed and false in the scripted runs, and how soon.

`python tests/bench/scripted.py [NAME ...]`: all of them, or those whose names hold one of these.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

from scriptedcases import CASES
from scripting import CAUGHT, FALSE, LATE, MISSED, Case, Row, judged
from showing import table


def _cells(case: Case, row: Row) -> tuple[str, ...]:
    truth, heard = ("" if s is None else f"{s:.0f}" for s in (row.truth_s, row.heard_s))
    after = ""
    if row.truth_s is not None and row.heard_s is not None:
        after = f"{row.heard_s - row.truth_s:+.0f}"
    return case.name, row.code, row.verdict, truth, heard, after


def main(names: Sequence[str]) -> int:
    """Print the table of all cases, or of those named."""
    begun_s, rows = time.perf_counter(), []
    for case in CASES:
        if not names or any(name in case.name for name in names):
            found = judged(case)
            rows += [(case, row) for row in found]
            if not found:
                rows.append((case, Row("", "quiet", None, None)))
    head = ("run", "alarm", "", "truth s", "heard s", "after s")
    table(head, (_cells(case, row) for case, row in rows))
    verdicts = [row.verdict for _, row in rows]
    counts = ", ".join(f"{verdicts.count(v)} {v}" for v in (CAUGHT, LATE, MISSED, FALSE))
    print(f"\n{counts}; {time.perf_counter() - begun_s:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
