"""What the freezing points of past mixes say of the mix probe, between its calibrations."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass

from rigmon.estimate.round import CURVE_SD_K
from rigmon.store.archive import Archive

_RUNS = 8
"""So many newest runs are asked."""
SIGMAS = 2.0


@dataclass(frozen=True, slots=True)
class MixesSay:
    """How much too warm the mix probe reads, by where mixes began to freeze.

    Args:
        runs: how many runs it follows from.
        off_k: mean [K].
        sd_k: its standard uncertainty [K], that of the recipes' freezing points included.
    """

    runs: int
    off_k: float
    sd_k: float

    @property
    def certain(self) -> bool:
        """Whether the probe is off by more than all this is unsure."""
        return abs(self.off_k) > SIGMAS * self.sd_k

    def text(self, probe: str) -> str:
        """The sentence for it."""
        which = "last run" if self.runs == 1 else f"last {self.runs} runs"
        way = "more" if self.off_k > 0.0 else "less"
        return (
            f"In the {which} {probe} read {abs(self.off_k):.2f} K {way} than the mixes' freezing "
            f"points (± {SIGMAS * self.sd_k:.2f} K)"
        )


def mixes_say(log: Archive, rig_id: str, since_unix: float = -math.inf) -> MixesSay | None:
    """What the newest runs of a rig say, those of a virtual one left out; None if none says it.

    Recipes are unsure in the same way from run to run, so that many runs do not make that less.

    Args:
        log: the log.
        rig_id: the rig.
        since_unix: only runs that began after this [s], as after a calibration.

    Raises:
        LogError: the log cannot be read.
    """
    offs: list[tuple[float, float]] = []
    rows = [
        row
        for row in log.runs()
        if row.header.rig == rig_id
        and not row.header.virtual
        and row.header.started_unix > since_unix
    ]
    for row in rows[:_RUNS]:
        for line in log.said(row.header.id):
            if '"mix_offset_k"' not in line:
                continue
            found = json.loads(line)
            off_k, sd_k = found.get("mix_offset_k"), found.get("mix_offset_k_sd")
            if found.get("type") == "summary" and off_k is not None and sd_k:
                offs.append((float(off_k), float(sd_k)))
    if not offs:
        return None
    weights = [1.0 / sd_k**2 for _, sd_k in offs]
    off_k = sum(w * off for w, (off, _) in zip(weights, offs, strict=True)) / sum(weights)
    return MixesSay(len(offs), off_k, math.hypot(CURVE_SD_K, 1.0 / math.sqrt(sum(weights))))
