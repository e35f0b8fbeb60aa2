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
        tags: the maker's own words for it, in the order of the alphabet.
        deleted_unix: wall clock at which it was deleted [s], None if it was not.
    """

    header: RunHeader
    state: RunState
    ended_at: float | None
    duration_s: float
    readings: int
    marks: int
    tags: tuple[str, ...] = ()
    deleted_unix: float | None = None

    @property
    def last_unix(self) -> float:
        """Wall clock at its end, else at its last item [s]."""
        return self.header.started_unix + self.duration_s


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


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A probe held to a temperature that was known.

    Args:
        no: its number in the log.
        rig: the rig.
        probe: the probe's name.
        at_unix: when [s].
        kind: how the temperature was known.
        text: the figures, as JSON.
        undone_unix: when it was taken back [s], None while it counts.
    """

    no: int
    rig: str
    probe: str
    at_unix: float
    kind: str
    text: str
    undone_unix: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured of a run, kept so that it need not be measured again.

    Args:
        made_by: what measured it; another version measures anew.
        of: how far the run had gone then.
        text: the measures, as JSON.
    """

    made_by: str
    of: str
    text: str


@dataclass(frozen=True, slots=True)
class Tasting:
    """What a maker said of a batch after its run.

    Args:
        run_id: the run.
        at_unix: when [s].
        texture: score of its texture, None if none was given.
        note: in words, or "".
    """

    run_id: str
    at_unix: float
    texture: int | None
    note: str
