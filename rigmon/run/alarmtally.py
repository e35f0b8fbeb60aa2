"""The alarms of a run counted: how many, how long each stood, which chattered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from rigmon.records import AlarmState, MarkWord

CHATTERS = 3
CHATTERS_WITHIN_S = 60.0
"""An alarm chatters that is raised so often within so long [s] (the usual measure beside ISA-18.2,
from memory)."""
_OVER = frozenset({AlarmState.RETURNED, AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SUPPRESSED})


@dataclass(slots=True)
class AlarmTally:
    """One alarm over a run.

    Args:
        code: which.
        priority: its priority.
        raised_s: run times at which it was raised [s].
        stood_s: the longest that it stood [s].
        answered: who acknowledged it and how long after it was raised [s], each time.
    """

    code: str
    priority: str
    raised_s: list[float] = field(default_factory=list)
    stood_s: float = 0.0
    answered: list[tuple[str, float]] = field(default_factory=list)
    _since: float | None = None

    @property
    def chattered(self) -> bool:
        """Whether it was raised three times within a minute."""
        runs = zip(self.raised_s, self.raised_s[CHATTERS - 1 :], strict=False)
        return any(last - first <= CHATTERS_WITHIN_S for first, last in runs)

    def take(self, at: float, state: str, by: str) -> None:
        """Take in that it changed its state; `by` is who set the mark before it, if that was it."""
        if state == AlarmState.UNACKNOWLEDGED:
            self.raised_s.append(at)
            self._since = at if self._since is None else self._since
        elif state == AlarmState.ACKNOWLEDGED and self.raised_s:
            self.answered.append((by, at - self.raised_s[-1]))
        elif state in _OVER:
            self.close(at)

    def close(self, at: float) -> None:
        """It is over, or its run is."""
        if self._since is not None:
            self.stood_s = max(self.stood_s, at - self._since)
        self._since = None


def tallied(lines: Iterable[Mapping[str, Any]]) -> tuple[AlarmTally, ...]:
    """The alarms of a run, those that stood longest first.

    Args:
        lines: all that was said of the run, as its JSON lines have it.
    """
    tallies: dict[str, AlarmTally] = {}
    at, by = 0.0, ""
    for line in lines:
        at = max(at, float(line["at"]))
        if line["type"] == "mark":
            by = line["by"] if line["mark"] == MarkWord.ACK else ""
        elif line["type"] == "alarm":
            code = line["code"]
            tally = tallies.setdefault(code, AlarmTally(code, line["priority"]))
            tally.take(line["at"], line["state"], by)
    for tally in tallies.values():
        tally.close(at)
    raised = [tally for tally in tallies.values() if tally.raised_s]
    return tuple(sorted(raised, key=lambda tally: -tally.stood_s))
