"""The table of alarms.

An alarm stands here only if the maker can do something about it in time. What a row says is said
nowhere else: the page, the terminal, the buzzer and the documents read it from here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import DetailValue, Priority, Stage


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """One row of the table: why the alarm exists and when it sounds.

    Args:
        code: its name on every wire.
        verb: what to do, in a word or three.
        priority: by consequence and time available.
        cause: what brings it about.
        consequence: what happens if nobody answers.
        action: what the maker is to do.
        stages: stages in which it means something.
        on_delay_s: how long the condition must hold [s].
        off_delay_s: how long it must be gone before the alarm returns to normal [s].
    """

    code: str
    verb: str
    priority: Priority
    cause: str
    consequence: str
    action: str
    stages: frozenset[Stage]
    on_delay_s: float
    off_delay_s: float


_BEFORE_DONE = frozenset(Stage) - {Stage.DONE}
_IN_THE_BATH = frozenset({Stage.BEAT, Stage.REST})

RULES: Mapping[str, AlarmRule] = {
    rule.code: rule
    for rule in (
        AlarmRule(
            "plateau-reached",
            "Stop beating",
            Priority.HIGH,
            "the mix has stopped stiffening",
            "more beating only warms it",
            "stop beating; rest the rig in the freezer",
            frozenset({Stage.BEAT}),
            15.0,
            30.0,
        ),
        AlarmRule(
            "bath-limit-near",
            "Recharge the bath",
            Priority.MEDIUM,
            "the bath will be too warm before the round is over",
            "the mix stops stiffening too early",
            "add ice and salt",
            _IN_THE_BATH,
            20.0,
            60.0,
        ),
        AlarmRule(
            "probe-silent",
            "Check the probe",
            Priority.MEDIUM,
            "a probe sends nothing",
            "nothing can be said from it",
            "check the lead, the board and its power",
            _BEFORE_DONE,
            0.0,
            5.0,
        ),
        AlarmRule(
            "probe-fault",
            "Check the probe",
            Priority.MEDIUM,
            "the converter reports a broken circuit or an impossible temperature",
            "nothing can be said from that probe",
            "check its plug and its tip",
            _BEFORE_DONE,
            3.0,
            5.0,
        ),
        AlarmRule(
            "log-stopped",
            "Make room on the disk",
            Priority.MEDIUM,
            "the run log cannot be written",
            "what is not written is lost when the program ends",
            "make room on the disk",
            frozenset(Stage),
            0.0,
            0.0,
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Cause:
    """What speaks for an alarm just now.

    Args:
        text: one or two sentences: what to do and why.
        advice: the same in figures.
        probes: the probes it is about; one more among them is told again.
    """

    text: str
    advice: Mapping[str, DetailValue] = field(default_factory=dict)
    probes: tuple[str, ...] = ()
