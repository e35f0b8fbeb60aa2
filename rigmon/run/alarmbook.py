"""The life of each alarm of one run, in the words of ISA-18.2 / IEC 62682."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rigmon.records import Alarm, AlarmSetting, AlarmState, Priority, Stage
from rigmon.run.alarms import RULES, AlarmRule, Cause

_SOUNDED = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED})
_STANDING = _SOUNDED | {AlarmState.SHELVED}


@dataclass(slots=True)
class _Life:
    """Where one alarm stands.

    Args:
        rule: its row.
        on_delay_s: how long its condition must hold [s].
        off_delay_s: how long its condition must be gone [s].
        state: where it stands.
        since: when its condition came [s]; None while there is none.
        gone: when its condition went [s]; None while it holds.
        shelved_until: when the shelf gives it back [s].
        told: probes that it has been told of since it last was normal.
        cause: what speaks for it, or last did.
    """

    rule: AlarmRule
    on_delay_s: float
    off_delay_s: float
    state: AlarmState
    since: float | None = None
    gone: float | None = None
    shelved_until: float = 0.0
    told: frozenset[str] = frozenset()
    cause: Cause = field(default_factory=lambda: Cause(""))

    def tell(self, t: float, state: AlarmState | None = None) -> Alarm:
        """The alarm as it stands at `t` [s], or on its way back to normal."""
        rule, cause = self.rule, self.cause
        return Alarm(t, rule.code, rule.priority, state or self.state, cause.text, cause.advice)


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
            meant = stage in life.rule.stages
            cause = causes.get(code) if meant else None
            alarm = _holds(life, t, cause) if cause is not None else _is_gone(life, t, meant)
            if alarm is not None:
                changed.append(alarm)
        return changed

    def acknowledge(self, t: float, code: str | None) -> list[Alarm]:
        """Acknowledge one alarm, or all of them when `code` is None.

        Raises:
            ValueError: no such alarm, or it does not sound.
        """
        told = []
        for life in self._lives.values() if code is None else (self._life(code),):
            if life.state is AlarmState.UNACKNOWLEDGED:
                life.state = AlarmState.ACKNOWLEDGED
                told.append(life.tell(t))
        if code is not None and not told:
            raise ValueError(f"{code} does not sound, so there is nothing to acknowledge")
        return told

    def shelve(self, t: float, code: str, for_s: float) -> Alarm:
        """Put an alarm aside for `for_s` [s]; then it sounds again if its cause holds.

        Raises:
            ValueError: no such alarm, or it is out of service.
        """
        life = self._life(code)
        if life.state is AlarmState.OUT_OF_SERVICE:
            raise ValueError(f"{code} is out of service in the configuration")
        life.state = AlarmState.SHELVED
        life.shelved_until = t + for_s
        return life.tell(t)

    def standing(self, t: float) -> list[Alarm]:
        """Alarms that are not normal at `t` [s], the most urgent first."""
        live = [life.tell(t) for life in self._lives.values() if life.state in _STANDING]
        return sorted(live, key=lambda alarm: list(Priority).index(alarm.priority), reverse=True)

    def unlike(self, told: AlarmBook, t: float) -> list[Alarm]:
        """Alarms, as they stand at `t` [s], that stand otherwise in a book that has been told."""
        return [
            life.tell(t, AlarmState.RETURNED if life.state is AlarmState.NORMAL else None)
            for life, other in zip(self._lives.values(), told._lives.values(), strict=True)
            if life.state is not other.state
        ]

    def _life(self, code: str) -> _Life:
        if code not in self._lives:
            raise ValueError(f"there is no alarm {code!r}; there are {', '.join(self._lives)}")
        return self._lives[code]


def _holds(life: _Life, t: float, cause: Cause) -> Alarm | None:
    """An alarm whose condition holds: it sounds once the on-delay, or its time aside, is over.

    One that sounds is told again only when it comes to be about another probe as well.
    """
    life.gone = None
    life.since = t if life.since is None else life.since
    life.cause = cause
    if life.state is AlarmState.SHELVED:
        sounds = t >= life.shelved_until
    elif life.state is AlarmState.NORMAL:
        sounds = t - life.since >= life.on_delay_s
    else:
        sounds = not set(cause.probes) <= life.told
    if not sounds:
        return None
    life.told |= set(cause.probes)
    life.state = AlarmState.UNACKNOWLEDGED
    return life.tell(t)


def _is_gone(life: _Life, t: float, meant: bool) -> Alarm | None:
    """An alarm without its condition: normal once the off-delay, or its time aside, is over.

    In a stage where it means nothing it does not wait for its off-delay.
    """
    life.since = None
    life.gone = t if life.gone is None else life.gone
    if life.state is AlarmState.SHELVED:
        over = t >= life.shelved_until
    else:
        over = life.state in _SOUNDED and (not meant or t - life.gone >= life.off_delay_s)
    if not over:
        return None
    life.state, life.told = AlarmState.NORMAL, frozenset()
    return life.tell(t, AlarmState.RETURNED)
