"""What the run log remembers of rigs: runs and changes go in, priors come out.

A virtual rig has a memory of its own: what is invented never teaches a real rig of the same name.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from rigmon.estimate.cloud import PRIOR
from rigmon.estimate.memory import RigMemory, RigPart, remember
from rigmon.estimate.runsays import says_something
from rigmon.records import RigPrior, RunFit
from rigmon.service.prepare import Rig
from rigmon.store.archive import Archive
from rigmon.store.log import RunLog


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


def teach(log: RunLog, rig: Rig, run_id: str, fit: RunFit | None) -> None:
    """Keep what a run taught; one that taught nothing leaves no trace.

    Raises:
        LogStopped: not yet on the disk; it is written as soon as can be.
    """
    if fit is not None and says_something(fit):
        text = json.dumps({"fit": asdict(fit)})
        log.learn(Kept(rig.setup.id, rig.virtual).key, run_id, fit.model_version, text)


def change(log: RunLog, kept: Kept, changed: Changed) -> None:
    """Keep that a part was changed.

    Raises:
        LogStopped: it could not be written.
    """
    log.learn(kept.key, "", "", json.dumps({"changed": asdict(changed)}))


def story(log: Archive, kept: Kept) -> list[RunFit | Changed]:
    """What runs taught and what was changed, oldest first; of each run what it taught last.

    Raises:
        LogError: the log cannot be read.
    """
    newest: dict[str, RunFit | Changed] = {}
    for turn, row in enumerate(log.learned(kept.key)):
        for one in _read(row.text):
            name = row.run_id or str(turn)
            newest.pop(name, None)
            newest[name] = one
    return list(newest.values())


def recall(log: Archive, kept: Kept) -> RigMemory:
    """What a log has learned of a rig.

    Raises:
        LogError: the log cannot be read.
    """
    told = story(log, kept)
    return remember([one if isinstance(one, RunFit) else one.part for one in told], PRIOR)


def with_memory(log: Archive, rig: Rig) -> Rig:
    """A rig as the log knows it; as it was where the log has learned nothing of it.

    Raises:
        LogError: the log cannot be read.
    """
    memory = recall(log, Kept(rig.setup.id, rig.virtual))
    return replace(rig, prior=memory.prior) if memory.runs else rig


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
