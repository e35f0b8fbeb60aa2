"""The life of each alarm of one run, in the words of ISA-18.2 / IEC 62682."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field

from rigmon.records import Alarm, AlarmSetting, AlarmState, Notice, Place, Priority, Stage
from rigmon.run.alarmrule import AlarmRule
from rigmon.run.alarms import NOTICES, RULES, Cause
from rigmon.run.speech import Speech
from rigmon.texts import Sentence, marked

_SILENT = marked("{code} does not sound, so there is nothing to acknowledge")
_OUT = marked("{code} is out of service in the configuration")
_NO_ALARM = marked("there is no alarm {code!r}; there are {codes}")
_QUIET = frozenset({AlarmState.NORMAL, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE})
"""States in which there is nothing to show."""


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


class AlarmBook:
    """The alarms and notices of one run and where each stands.

    Args:
        settings: what the configuration changes, by code.
        speech: the maker's language and units.
    """

    def __init__(self, settings: Mapping[str, AlarmSetting], speech: Speech | None = None) -> None:
        self._speech = speech or Speech()
        self._lives: dict[str, _Life] = {}
        for code, rule in RULES.items():
            setting = settings.get(code, AlarmSetting())
            self._lives[code] = _Life(
                rule,
                rule.on_delay_s if setting.on_delay_s is None else setting.on_delay_s,
                rule.off_delay_s if setting.off_delay_s is None else setting.off_delay_s,
                AlarmState.NORMAL if setting.enabled else AlarmState.OUT_OF_SERVICE,
            )

    def update(
        self,
        t: float,
        stage: Stage,
        causes: Mapping[str, Cause],
        lost: AbstractSet[Place] = frozenset(),
    ) -> list[Alarm]:
        """Carry every alarm on to time `t` [s].

        An alarm is suppressed in a stage where it means nothing, and where it cannot be trusted
        because a probe is lost: the probe's own alarm speaks first. One that stood before the probe
        was lost stands on.

        Args:
            t: run time [s].
            stage: where the run stands.
            causes: what speaks for each alarm now.
            lost: places where no probe can be trusted.

        Returns:
            Those whose state changed.
        """
        changed = []
        for code, life in self._lives.items():
            cause = causes.get(code)
            if life.state is AlarmState.OUT_OF_SERVICE or (cause is None and life.state in _QUIET):
                life.since = None
                continue
            meant = stage in life.rule.stages
            blind = bool(life.rule.needs & lost)
            if life.state is AlarmState.SHELVED and (blind or not meant):
                state = _on_the_shelf(life, t, holds=False)
            elif not meant or (blind and life.state in _QUIET):
                state = _suppressed(life)
            elif blind:
                continue
            else:
                state = _carried_on(life, t, cause)
            if state is not None:
                changed.append(self._tell(life, t, state))
        return changed

    def acknowledge(self, t: float, code: str | None) -> list[Alarm]:
        """Acknowledge one alarm, or all of them when `code` is None.

        Raises:
            ValueError: no such alarm, or nobody has to acknowledge it.
        """
        told = []
        for life in self._lives.values() if code is None else (self._life(code),):
            if life.state is AlarmState.UNACKNOWLEDGED:
                life.state = AlarmState.ACKNOWLEDGED
                told.append(self._tell(life, t, life.state))
            elif life.state is AlarmState.RETURNED_UNACKNOWLEDGED:
                life.state = AlarmState.NORMAL
                told.append(self._tell(life, t, AlarmState.RETURNED))
        if code is not None and not told:
            raise ValueError(Sentence(_SILENT, code=code))
        return told

    def shelve(self, t: float, code: str, for_s: float) -> Alarm:
        """Put an alarm aside for `for_s` [s]; then it sounds again if its cause holds.

        Raises:
            ValueError: no such alarm, or it is out of service.
        """
        life = self._life(code)
        if life.state is AlarmState.OUT_OF_SERVICE:
            raise ValueError(Sentence(_OUT, code=code))
        life.state = AlarmState.SHELVED
        life.shelved_until = t + for_s
        return self._tell(life, t, life.state)

    def standing(self, t: float) -> list[Alarm]:
        """Alarms that there is something to show of at `t` [s], the most urgent first."""
        lives = self._lives.values()
        live = [self._tell(life, t, life.state) for life in lives if life.state not in _QUIET]
        return sorted(live, key=lambda alarm: list(Priority).index(alarm.priority), reverse=True)

    def unlike(self, told: AlarmBook, t: float) -> list[Alarm]:
        """Alarms, as they stand at `t` [s], that stand otherwise in a book that has been told."""
        return [
            self._tell(life, t, AlarmState.RETURNED if life.state in _QUIET else life.state)
            for life, other in zip(self._lives.values(), told._lives.values(), strict=True)
            if life.state is not other.state and not {life.state, other.state} <= _QUIET
        ]

    def _life(self, code: str) -> _Life:
        if code not in self._lives:
            codes = ", ".join(self._lives)
            raise ValueError(Sentence(_NO_ALARM, code=code, codes=codes))
        return self._lives[code]

    def _tell(self, life: _Life, t: float, state: AlarmState) -> Alarm:
        """An alarm as it stands at `t` [s]: what to do, a full stop, and why."""
        rule, cause = life.rule, life.cause
        text = f"{cause.call or self._speech.say(rule.call)}. {cause.text}".rstrip()
        return Alarm(t, rule.code, rule.priority, state, text, cause.advice)


def _carried_on(life: _Life, t: float, cause: Cause | None) -> AlarmState | None:
    """The state to be told of an alarm that can be trusted; None if there is nothing to tell."""
    if life.state is AlarmState.SUPPRESSED:
        life.state, life.since = AlarmState.NORMAL, None
    if cause is None:
        return _is_gone(life, t)
    life.gone = None
    life.since = t if life.since is None else life.since
    life.cause = cause
    if life.state is AlarmState.SHELVED:
        return _on_the_shelf(life, t, holds=True)
    if life.state in (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED):
        sounds = t - life.since >= life.on_delay_s
    else:
        # One that sounds is told again only when it comes to be about another probe as well.
        sounds = not set(cause.probes) <= life.told
    return _raised(life) if sounds else None


def _raised(life: _Life) -> AlarmState:
    life.told |= set(life.cause.probes)
    life.state = AlarmState.UNACKNOWLEDGED
    return life.state


def _is_gone(life: _Life, t: float) -> AlarmState | None:
    """Without its condition an alarm returns once the off-delay, or its time aside, is over."""
    life.since = None
    life.gone = t if life.gone is None else life.gone
    if life.state is AlarmState.SHELVED:
        return _on_the_shelf(life, t, holds=False)
    if t - life.gone < life.off_delay_s:
        return None
    if life.state is AlarmState.UNACKNOWLEDGED:
        life.state, life.told = AlarmState.RETURNED_UNACKNOWLEDGED, frozenset()
        return life.state
    if life.state is AlarmState.ACKNOWLEDGED:
        life.state, life.told = AlarmState.NORMAL, frozenset()
        return AlarmState.RETURNED
    return None


def _on_the_shelf(life: _Life, t: float, *, holds: bool) -> AlarmState | None:
    """The shelf gives an alarm back when its time is over: sounding, or normal."""
    if t < life.shelved_until:
        return None
    if holds:
        return _raised(life)
    life.state, life.told = AlarmState.NORMAL, frozenset()
    return AlarmState.RETURNED


def _suppressed(life: _Life) -> AlarmState | None:
    """Nobody has to wait for an alarm to go where it means nothing."""
    told = None if life.state in _QUIET else AlarmState.SUPPRESSED
    life.state, life.since, life.told = AlarmState.SUPPRESSED, None, frozenset()
    return told


class NoticeBook:
    """What has been said once: a notice comes at most once in a round.

    Args:
        settings: what the configuration changes, by code.
    """

    def __init__(self, settings: Mapping[str, AlarmSetting]) -> None:
        self._rules = [
            (
                rule,
                rule.on_delay_s
                if (given := settings.get(code, AlarmSetting())).on_delay_s is None
                else given.on_delay_s,
            )
            for code, rule in NOTICES.items()
            if settings.get(code, AlarmSetting()).enabled
        ]
        self._since: dict[str, float] = {}
        self._said: set[tuple[str, int]] = set()

    def update(
        self, t: float, stage: Stage, round_: int, causes: Mapping[str, Cause]
    ) -> list[Notice]:
        """What there is to say at `t` [s], stage and round being what they are."""
        told = []
        for rule, on_delay_s in self._rules:
            cause = causes.get(rule.code) if stage in rule.stages else None
            if cause is None:
                self._since.pop(rule.code, None)
                continue
            since = self._since.setdefault(rule.code, t)
            if t - since >= on_delay_s and (rule.code, round_) not in self._said:
                self._said.add((rule.code, round_))
                told.append(Notice(t, rule.code, cause.text))
        return told
