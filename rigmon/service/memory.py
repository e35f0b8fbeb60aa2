"""What the run log remembers of rigs: runs and changes go in, priors come out.

A virtual rig has a memory of its own: what is invented never teaches a real rig of the same name.
"""

from __future__ import annotations

import json
from dataclasses import asdict, replace

from rigmon.estimate.runsays import says_something
from rigmon.records import RunFit
from rigmon.review.memory import Changed, Kept, recall, story
from rigmon.service.prepare import Rig
from rigmon.store.archive import Archive
from rigmon.store.log import RunLog

__all__ = ["Changed", "Kept", "change", "recall", "story", "teach", "with_memory"]


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


def with_memory(log: Archive, rig: Rig) -> Rig:
    """A rig as the log knows it; as it was where the log has learned nothing of it.

    Raises:
        LogError: the log cannot be read.
    """
    memory = recall(log, Kept(rig.setup.id, rig.virtual))
    return replace(rig, prior=memory.prior) if memory.runs else rig
