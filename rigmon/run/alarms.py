"""The table of alarms, and the life of each (words of ISA-18.2 / IEC 62682).

An alarm stands here only if the maker can do something about it in time. What a row says is said
nowhere else: the page, the terminal, the buzzer and the documents read it from here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from rigmon.records import (
    Alarm,
    AlarmSetting,
    AlarmState,
    DetailValue,
    Priority,
    Stage,
)


@dataclass(frozen=True, slots=True)
class AlarmRule:
    """One row of the table: why the alarm exists and when it sounds.

    Args:
        code: its name on every wire.
        priority: by consequence and time available.
        cause: what brings it about.
        consequence: what happens if nobody answers.
        action: what the maker is to do.
        stages: stages in which it means something.
        on_delay_s: how long the condition must hold [s].
        off_delay_s: how long it must be gone before the alarm returns to normal [s].
    """

    code: str
    priority: Priority
    cause: str
    consequence: str
    action: str
    stages: frozenset[Stage]
    on_delay_s: float
    off_delay_s: float


_BEFORE_DONE = frozenset(Stage) - {Stage.DONE}
_IN_THE_BATH = frozenset({Stage.READY, Stage.BEAT, Stage.REST})

RULES: Mapping[str, AlarmRule] = {
    rule.code: rule
    for rule in (
        AlarmRule(
            "plateau-reached",
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


@dataclass(slots=True)
class _Life:
    """Where one alarm stands; `since` and `gone` are the times its condition came and went."""

    rule: AlarmRule
    on_delay_s: float
    off_delay_s: float
    state: AlarmState
    since: float | None = None
    gone: float | None = None
    shelved_until: float = 0.0
    cause: Cause = field(default_factory=lambda: Cause(""))


_LIVE = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED})


class AlarmBook:
    """The alarms of one run and where each stands.

    Args:
        settings: what the configuration changes, by code.
    """

    def __init__(self, settings: Mapping[str, AlarmSetting]) -> None:
        self._lives: dict[str, _Life] = {}
        for code, rule in RULES.items():
            setting = settings.get(code, AlarmSetting())
            self._lives[code] = _Life(
                rule,
                rule.on_delay_s if setting.on_delay_s is None else setting.on_delay_s,
                rule.off_delay_s if setting.off_delay_s is None else setting.off_delay_s,
                AlarmState.NORMAL if setting.enabled else AlarmState.OUT_OF_SERVICE,
            )

    def update(self, t: float, stage: Stage, causes: Mapping[str, Cause]) -> list[Alarm]:
        """Carry every alarm on to time `t` [s]; returns those whose state changed."""
        changed = []
        for code, life in self._lives.items():
            if life.state is AlarmState.OUT_OF_SERVICE:
                continue
            alarm = self._step(life, t, stage, causes.get(code))
            if alarm is not None:
                changed.append(alarm)
        return changed

    def _step(self, life: _Life, t: float, stage: Stage, cause: Cause | None) -> Alarm | None:
        meant = stage in life.rule.stages
        if cause is None or not meant:
            life.since = None
            if life.state not in _LIVE:
                return None
            life.gone = t if life.gone is None else life.gone
            if meant and t - life.gone < life.off_delay_s:
                return None
            life.state = AlarmState.NORMAL
            return self._told(life, t, AlarmState.RETURNED)
        life.gone = None
        life.since = t if life.since is None else life.since
        others = not set(cause.probes) <= set(life.cause.probes)
        life.cause = cause
        if life.state is AlarmState.SHELVED and t < life.shelved_until:
            return None
        due = life.state is AlarmState.NORMAL and t - life.since >= life.on_delay_s
        if due or life.state is AlarmState.SHELVED or (life.state in _LIVE and others):
            life.state = AlarmState.UNACKNOWLEDGED
            return self._told(life, t, life.state)
        return None

    @staticmethod
    def _told(life: _Life, t: float, state: AlarmState) -> Alarm:
        return Alarm(
            t, life.rule.code, life.rule.priority, state, life.cause.text, life.cause.advice
        )

    def live(self) -> tuple[Alarm, ...]:
        """Alarms that stand unanswered or acknowledged, the most urgent first; times are 0."""
        standing = (
            self._told(life, 0.0, life.state)
            for life in self._lives.values()
            if life.state in _LIVE
        )
        order = list(Priority)
        return tuple(sorted(standing, key=lambda alarm: -order.index(alarm.priority)))

    def acknowledge(self, t: float, code: str | None) -> list[Alarm]:
        """Acknowledge one alarm, or all of them when `code` is None.

        Raises:
            ValueError: no such alarm, or it does not sound.
        """
        told = []
        for life in self._chosen(code):
            if life.state is AlarmState.UNACKNOWLEDGED:
                life.state = AlarmState.ACKNOWLEDGED
                told.append(self._told(life, t, life.state))
        if code is not None and not told:
            raise ValueError(f"{code} does not sound, so there is nothing to acknowledge")
        return told

    def shelve(self, t: float, code: str, for_s: float) -> Alarm:
        """Put an alarm aside for `for_s` [s]; it comes back by itself if its cause still holds.

        Raises:
            ValueError: no such alarm, or it is out of service.
        """
        (life,) = self._chosen(code)
        if life.state is AlarmState.OUT_OF_SERVICE:
            raise ValueError(f"{code} is out of service in the configuration")
        life.state = AlarmState.SHELVED
        life.shelved_until = t + for_s
        life.gone = None
        return self._told(life, t, life.state)

    def _chosen(self, code: str | None) -> Iterable[_Life]:
        if code is None:
            return self._lives.values()
        if code not in self._lives:
            raise ValueError(f"there is no alarm {code!r}; there are {', '.join(self._lives)}")
        return (self._lives[code],)
