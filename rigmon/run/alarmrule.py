"""What a row of the table of alarms says, and a figure held against its set point."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.records import Place, Priority, Stage


@dataclass(frozen=True, slots=True)
class Limit:
    """The figure at which an alarm's condition begins to hold, and where it ends.

    Args:
        set_point: the condition holds past this figure ...
        deadband: ... and, once it holds, until the figure has come back by this much.
        unit: of both.
        of: what the figure is, in a few words.
        lowest: least set point that makes sense.
        highest: greatest set point that makes sense.
        falling: the condition holds below the set point, not above it.
    """

    set_point: float
    deadband: float
    unit: str
    of: str
    lowest: float
    highest: float
    falling: bool = False


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """One row of the table: why the alarm exists and when it sounds.

    Args:
        code: its name on every wire.
        call: what to do, read at a glance: a verb and a word or three.
        priority: by consequence and time to act.
        cause: what brings it about.
        consequence: what happens if nobody answers.
        action: what the maker is to do.
        act_within_s: time in which acting still helps [s].
        stages: stages in which it means something; in all others it is suppressed.
        on_delay_s: how long the condition must hold [s].
        off_delay_s: how long it must be gone before the alarm returns to normal [s].
        limit: its set point and deadband; None where there is no figure.
        needs: without a probe there the alarm is suppressed: what is wrong is the probe.
    """

    code: str
    call: str
    priority: Priority
    cause: str
    consequence: str
    action: str
    act_within_s: float
    stages: frozenset[Stage]
    on_delay_s: float
    off_delay_s: float
    limit: Limit | None = None
    needs: frozenset[Place] = frozenset()


@dataclass(frozen=True, slots=True)
class NoticeRule:
    """Something said once in a round, without a sound: there is nothing to answer.

    Args:
        code: its name on every wire.
        occasion: when it is said.
        stages: stages in which it means something.
        on_delay_s: how long what it tells of must hold [s].
        limit: its set point; None where there is no figure.
    """

    code: str
    occasion: str
    stages: frozenset[Stage]
    on_delay_s: float = 0.0
    limit: Limit | None = None


@dataclass(frozen=True, slots=True)
class Sound:
    """A pattern that is told apart by its beat, since a mixer drowns what is only loud.

    Args:
        on_ms: length of one burst [ms].
        off_ms: silence after each burst but the last [ms].
        bursts: how many bursts.
        again_s: it is repeated after this long until it is answered [s]; 0 for once.
    """

    on_ms: int
    off_ms: int
    bursts: int
    again_s: float


@dataclass(slots=True)
class Trip:
    """Whether a figure is past its set point; one that hovers there does not flicker.

    Args:
        limit: set point and deadband.

    >>> trip = Trip(Limit(5.0, 0.5, "°C", "the mix", 0.0, 20.0))
    >>> [trip.past(c) for c in (4.9, 5.1, 4.9, 4.6, 4.5, 4.9)]
    [False, True, True, True, False, False]
    """

    limit: Limit
    holds: bool = False

    def past(self, figure: float | None) -> bool:
        """Take in the figure [in the limit's unit]; None is never past."""
        if figure is None:
            self.holds = False
            return False
        sign = -1.0 if self.limit.falling else 1.0
        back = self.limit.deadband if self.holds else 0.0
        self.holds = sign * (figure - self.limit.set_point) > -back
        return self.holds
