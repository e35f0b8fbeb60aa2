"""What the run log remembers of rigs: what runs taught, what was changed, what to make of both.

A virtual rig has a memory of its own: what is invented never teaches a real rig of the same name.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import RigMemory, RigPart, remember
from rigmon.records import RigPrior, RunFit
from rigmon.store.archive import Archive


@dataclass(frozen=True, slots=True)
class Kept:
    """Whose memory it is.

    Args:
        rig: id of the rig.
        virtual: True for a virtual rig.
    """

    rig: str
    virtual: bool = False

    @property
    def key(self) -> str:
        """The name under which the log keeps it; no rig's id has a colon."""
        return f"virtual:{self.rig}" if self.virtual else self.rig


@dataclass(frozen=True, slots=True)
class Changed:
    """A part of a rig was changed.

    Args:
        part: which.
        at_unix: when that was said [s].
    """

    part: RigPart
    at_unix: float


@dataclass(frozen=True, slots=True)
class Taught:
    """What one run taught, or one change.

    Args:
        at_unix: wall clock at which the run started or the change was said [s]; minus infinity
            where the log does not hold the run.
        run_id: the run, "" for a change.
        what: what it was.
    """

    at_unix: float
    run_id: str
    what: RunFit | Changed


def taught(log: Archive, kept: Kept) -> list[Taught]:
    """What runs taught and what was changed, oldest first; of each run what it taught last.

    Raises:
        LogError: the log cannot be read.
    """
    started = {row.header.id: row.header.started_unix for row in log.runs()}
    newest: dict[str, Taught] = {}
    latest = -math.inf
    for turn, row in enumerate(log.learned(kept.key)):
        for one in _read(row.text):
            name = row.run_id or str(turn)
            # Runs of another machine came into the log later than they were.
            latest = one.at_unix if isinstance(one, Changed) else started.get(name, latest)
            newest.pop(name, None)
            newest[name] = Taught(latest, row.run_id, one)
    return sorted(newest.values(), key=lambda one: one.at_unix)


def story(log: Archive, kept: Kept) -> list[RunFit | Changed]:
    """The same without when it was and which run.

    Raises:
        LogError: the log cannot be read.
    """
    return [one.what for one in taught(log, kept)]


def recall(log: Archive, kept: Kept) -> RigMemory:
    """What a log has learned of a rig.

    Raises:
        LogError: the log cannot be read.
    """
    told = story(log, kept)
    return remember([one if isinstance(one, RunFit) else one.part for one in told], PRIOR)


def _read(text: str) -> Iterator[RunFit | Changed]:
    """One entry; nothing where a newer program wrote what this one does not know."""
    try:
        found = json.loads(text)
        if "fit" in found:
            yield _fit(found["fit"])
        elif "changed" in found:
            yield Changed(RigPart(found["changed"]["part"]), float(found["changed"]["at_unix"]))
    except (ValueError, TypeError, KeyError):
        return


def _fit(found: Mapping[str, Any]) -> RunFit:
    return RunFit(
        **_moments(found),
        prior=RigPrior(**_moments(found["prior"])),
        undetermined=tuple(found["undetermined"]),
    )


def _moments(found: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "names": tuple(found["names"]),
        "transforms": tuple(found["transforms"]),
        "mean": tuple(map(float, found["mean"])),
        "covariance": tuple(tuple(map(float, row)) for row in found["covariance"]),
        "model_version": str(found["model_version"]),
    }
