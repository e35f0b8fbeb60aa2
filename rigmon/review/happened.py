"""What was said of a run, held against what happened: forecasts and alarms."""

from __future__ import annotations

from collections.abc import Iterator

from rigmon.records import AlarmState, Event, MarkWord, Priority, Stage
from rigmon.review.follow import PLATEAU_ALARM, Track
from rigmon.review.logged import Logged
from rigmon.review.measures import Alarmed, Held

HARD_C = -15.0
"""A core at this temperature is hard [°C]."""
_BY_ALARM = {
    Event.PLATEAU: PLATEAU_ALARM,
    Event.REST_OVER: "rest-over",
    Event.MELT_ONSET: "melt-onset",
}
_BY_NOTICE = {Event.BASE_COLD: "base-cold", Event.HARDENED: "hardened"}
_STAYS_S = 60.0
_QUARTER = 0.25


def alarms(logged: Logged) -> tuple[Alarmed, ...]:
    """The alarms that were raised, in order."""
    done: list[Alarmed] = []
    live: dict[str, Alarmed] = {}
    for line in logged.lines("alarm"):
        code, state, at_s = str(line["code"]), AlarmState(line["state"]), float(line["at"])
        now = live.pop(code, None)
        if state is AlarmState.UNACKNOWLEDGED:
            if now is None:
                now = Alarmed(code, Priority(line["priority"]), at_s)
            live[code] = now
        elif now is not None and state is AlarmState.ACKNOWLEDGED:
            live[code] = _with(now, at_s, None)
        elif now is not None:
            done.append(_with(now, None, at_s))
    return tuple(sorted([*done, *live.values()], key=lambda one: one.at_s))


def _with(one: Alarmed, acknowledged_s: float | None, over_s: float | None) -> Alarmed:
    acknowledged = one.acknowledged_s if acknowledged_s is None else acknowledged_s
    return Alarmed(one.code, one.priority, one.at_s, acknowledged, over_s)


def plateau_s(logged: Logged) -> float | None:
    """Run time at which the first round's plateau was announced [s]."""
    raised = (one.at_s for one in alarms(logged) if one.code == PLATEAU_ALARM)
    return next(raised, None)


def forecasts(logged: Logged, track: Track) -> tuple[Held, ...]:
    """Of each event the first forecast that said a time, and the one a quarter of the way to it.

    A quarter of the way from the pour, or from the beginning of the rest, round or hardening.
    """
    given: dict[tuple[Event, int], list[Held]] = {}
    for line in logged.lines("forecast"):
        if line["p50"] is None:
            continue
        event, number = Event(line["event"]), int(line["round"])
        held = Held(event, number, float(line["at"]), line["p10"], line["p50"], line["p90"])
        given.setdefault((event, number), []).append(held)
    found: list[Held] = []
    for (event, _), all_of_it in given.items():
        first = all_of_it[0]
        at_s = _happened_s(event, first.at_s, logged, track)
        if at_s is not None and at_s < first.at_s:
            continue
        found.append(_held(first, at_s, first=True))
        if at_s is None:
            continue
        begun_s = _begun_s(event, first.at_s, track)
        quarter_s = begun_s + _QUARTER * (at_s - begun_s)
        later = next((one for one in all_of_it if one.at_s >= quarter_s), None)
        if later is not None and later is not first and later.at_s < at_s:
            found.append(_held(later, at_s, first=False))
    return tuple(sorted(found, key=lambda one: one.at_s))


def _held(one: Held, happened_s: float | None, *, first: bool) -> Held:
    return Held(one.event, one.round, one.at_s, one.p10, one.p50, one.p90, happened_s, first)


def _begun_s(event: Event, at_s: float, track: Track) -> float:
    """Run time from which on the event lay ahead [s]."""
    words = {
        Event.REST_OVER: (MarkWord.REST_START, MarkWord.BEAT_STOP),
        Event.HARDENED: (MarkWord.HARDEN_START,),
        Event.BASE_COLD: (MarkWord.START,),
    }.get(event, (MarkWord.POUR, MarkWord.BEAT_START))
    before = [heard.mark.t for heard in track.marks(*words) if heard.mark.t <= at_s]
    if not before:
        return at_s
    return before[0] if event in (Event.PLATEAU, Event.BATH_LIMIT) else before[-1]


def _happened_s(event: Event, given_s: float, logged: Logged, track: Track) -> float | None:
    """Run time at which an event that was forecast at `given_s` [s] happened [s]."""
    if event in _BY_ALARM:
        raised = (one.at_s for one in alarms(logged) if one.code == _BY_ALARM[event])
        return next((at_s for at_s in raised if at_s >= given_s), None)
    if event is Event.HARDENED:
        return next(hard_s(track), None)
    if event in _BY_NOTICE:
        told = (line for line in logged.lines("notice") if line["code"] == _BY_NOTICE[event])
        return next((float(line["at"]) for line in told if line["at"] >= given_s), None)
    if event is Event.BATH_LIMIT:
        return _warm_s(given_s, track)
    return None


def hard_s(track: Track) -> Iterator[float]:
    """Run times at which a core in the freezer passed the temperature at which it is hard [s]."""
    before: tuple[float, float] | None = None
    for sample in track.samples:
        if sample.stage is not Stage.HARDEN or sample.core_c is None:
            continue
        if before is not None and sample.core_c <= HARD_C < before[1]:
            part = (before[1] - HARD_C) / (before[1] - sample.core_c)
            yield before[0] + part * (sample.t - before[0])
        before = sample.t, sample.core_c


def _warm_s(given_s: float, track: Track) -> float | None:
    """Run time from which on the bath stayed above its limit for a minute [s]."""
    limit_c = track.bath_limit_c
    since: float | None = None
    for sample in track.samples:
        bath_c = sample.estimate.bath_c
        if sample.t < given_s or bath_c is None or limit_c is None or not sample.in_bath:
            continue
        if bath_c < limit_c:
            since = None
            continue
        since = sample.t if since is None else since
        if sample.t - since >= _STAYS_S:
            return since
    return None
