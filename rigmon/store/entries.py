"""What the run log says of a run as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class RunHeader:
    """What is known of a run when it starts.

    Args:
        id: `<rig>-<UTC time>`.
        rig: id of the rig.
        started_unix: wall clock at run time 0 [s].
        recipe: name of the recipe, or "".
        document: rig, recipe, prior and seed as TOML.
        virtual: True for the virtual rig.
        version: version of the program.
    """

    id: str
    rig: str
    started_unix: float
    recipe: str
    document: str
    virtual: bool
    version: str


class RunState(StrEnum):
    """Whether a run goes on."""

    RUNNING = "running"
    ENDED = "ended"
    BROKEN_OFF = "broken off"


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run in the list of runs.

    Args:
        header: what was known when it started.
        state: whether it goes on; broken off if its program went away without ending it.
        ended_at: run time at which it ended [s], None if it did not.
        duration_s: run time of its end, else of its last item [s].
        readings: number of readings.
        marks: number of marks.
    """

    header: RunHeader
    state: RunState
    ended_at: float | None
    duration_s: float
    readings: int
    marks: int


@dataclass(frozen=True, slots=True)
class Learned:
    """What one run taught of its rig.

    Args:
        run_id: the run.
        model_version: the model that it belongs to.
        text: the estimator's own text.
    """

    run_id: str
    model_version: str
    text: str
