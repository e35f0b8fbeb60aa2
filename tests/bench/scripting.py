"""Scripted runs: which alarms must sound, how soon after the truth of it, and that no other does.

The truth is the virtual rig's, or that of the script.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest

from rigmon.estimate.laterrounds import REST_OVER_PCT
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import (
    Alarm,
    AlarmState,
    Item,
    MarkWord,
    Recipe,
    RigSetup,
)
from rigmon.run.monitor import Monitor
from rigmon.virtual.scenario import Scenario, recipe_of
from rigmon.virtual.session import VirtualSession
from rigmon.virtual.tables import MixTables

TAIL_S = 30.0
"""A run is listened to for so long after the last alarm that it must raise [s]."""
LOOK_AHEAD_S = 1800.0
"""Batches are beaten on for so long to know where their plateau lies [s]."""
STAYS_S = 60.0
"""A bath has crossed its limit once it stays above it for so long [s]."""
CAUGHT, LATE, MISSED, FALSE = "caught", "late", "missed", "false"

Change = Callable[[Item], Item | None]


@dataclass(frozen=True, slots=True)
class Must:
    """An alarm that must sound.

    Args:
        code: which.
        of: what it is about, whose time the virtual rig knows; or a run time [s].
        soonest_s: it is false sooner after that than this [s] ...
        latest_s: ... and late later than this [s].
    """

    code: str
    of: str | float
    soonest_s: float
    latest_s: float


@dataclass(frozen=True, slots=True)
class Script:
    """What a monitor is fed.

    Args:
        until_s: run time at which it ends, if not sooner [s].
        scenario: the virtual batch; None where all is written down.
        seed: all chance in it.
        items: what comes beside the batch's readings and marks.
        change: what becomes of each item of the batch; None drops it.
        obeys: the maker does what alarms say.
        shift_k: how much warmer the mix freezes than its recipe says [K].
        setup: the rig as configured.
        recipe: the mix as the program is told; None for the batch's own, if there is one.
    """

    until_s: float
    scenario: Scenario | None = None
    seed: int = 1
    items: Sequence[Item] = ()
    change: Change = lambda item: item
    obeys: bool = False
    shift_k: float = 0.0
    setup: RigSetup = field(default_factory=RigSetup)
    recipe: Recipe | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """One scripted run.

    Args:
        name: what it is.
        script: what is fed.
        must: alarms that must sound, those of one code in their order; no other may.
        known: why it cannot pass yet, or "".
    """

    name: str
    script: Script
    must: tuple[Must, ...] = ()
    known: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One alarm of a run.

    Args:
        code: which.
        verdict: caught, late, missed or false.
        truth_s: run time of what it is about [s]; None where there is nothing.
        heard_s: run time at which it sounded [s]; None if it did not.
    """

    code: str
    verdict: str
    truth_s: float | None
    heard_s: float | None


def judged(case: Case) -> list[Row]:
    """Play a case and hold what sounded against what must."""
    sounds, session = _heard(case)
    rows = []
    for code in {must.code: None for must in case.must} | dict.fromkeys(c for c, _ in sounds):
        musts = [must for must in case.must if must.code == code]
        heard = [at for other, at in sounds if other == code]
        for must, heard_s in zip_longest(musts, heard):
            rows.append(_row(code, must, heard_s, session))
    return rows


def _row(
    code: str, must: Must | None, heard_s: float | None, session: VirtualSession | None
) -> Row:
    if must is None:
        return Row(code, FALSE, None, heard_s)
    truth_s = _truth_s(must.of, session)
    if heard_s is None or truth_s is None:
        return Row(code, MISSED if heard_s is None else FALSE, truth_s, heard_s)
    after_s = heard_s - truth_s
    verdict = FALSE if after_s < must.soonest_s else LATE if after_s > must.latest_s else CAUGHT
    return Row(code, verdict, truth_s, heard_s)


def _heard(case: Case) -> tuple[list[tuple[str, float]], VirtualSession | None]:
    """Every sound of a run, as its code and its run time [s]; and the batch."""
    script, session = case.script, None
    recipe = script.recipe
    if script.scenario is not None:
        session = _session(script.scenario, script)
        recipe = recipe or recipe_of(script.scenario)
    monitor = Monitor(script.setup, recipe)
    sounds: list[tuple[str, float]] = []
    waiting = sorted(script.items, key=lambda item: item.t)
    awaited = [must.code for must in case.must]
    t, until_s = 0.0, script.until_s
    while t < until_s:
        t += 1.0
        items = [] if session is None else _changed(session.items(t), script.change)
        while waiting and waiting[0].t <= t:
            items.append(waiting.pop(0))
        said = [one for item in sorted(items, key=lambda i: i.t) for one in monitor.feed(item)]
        for one in [*said, *monitor.advance(t)]:
            if not isinstance(one, Alarm) or one.state is not AlarmState.UNACKNOWLEDGED:
                continue
            sounds.append((one.code, one.at))
            if session is not None and script.obeys:
                session.hears(one.code, one.advice, t)
            if one.code in awaited:
                awaited.remove(one.code)
                if not awaited:
                    until_s = min(until_s, t + TAIL_S)
    if session is not None and not script.obeys:
        # What an alarm foretells comes later.
        session.items(script.until_s)
    return sounds, session


def _session(scenario: Scenario, script: Script) -> VirtualSession:
    session = VirtualSession(scenario, script.seed)
    if script.shift_k:
        composition = recipe_of(scenario).composition
        assert composition is not None
        mix = MixTables(freezing_curve(composition), script.shift_k)
        session.rig.mix = session.rig.bowl.mix = mix
    return session


def _changed(items: Iterable[Item], change: Change) -> list[Item]:
    return [item for item in map(change, items) if item is not None]


def _truth_s(of: str | float, session: VirtualSession | None) -> float | None:
    """Run time of what an alarm is about [s]; None if it never happened."""
    if isinstance(of, float):
        return of
    assert session is not None
    if of in set(MarkWord):
        return next((mark.t for mark in session.done if mark.word == of), None)
    return TRUTHS[of](session)


def _plateau(session: VirtualSession) -> float | None:
    return session.true_plateau_s(ahead_s=LOOK_AHEAD_S)


def _bath_limit(session: VirtualSession) -> float | None:
    """When the bath passes its limit after the pour, to stay above it."""
    composition = recipe_of(session.scenario).composition
    assert composition is not None
    limit_c = bath_limit_c(freezing_curve(composition))
    begun_s, newest_s = session.scenario.plan.pour_s, session.truth().t
    above_s = math.inf
    for t in range(math.ceil(begun_s), math.floor(newest_s)):
        above_s = min(above_s, t) if session.truth(float(t)).bath_c >= limit_c else math.inf
        if t - above_s >= STAYS_S:
            return above_s
    return None


def _freezing(session: VirtualSession) -> float | None:
    """When the first ice forms in the mix."""
    times = range(math.ceil(session.truth().t))
    return next((float(t) for t in times if session.truth(float(t)).frozen_pct > 0.5), None)


def _rested(session: VirtualSession) -> float | None:
    """When wall and core together have frozen as far as they should before round 2."""
    begun_s = next((m.t for m in session.done if m.word is MarkWord.REST_START), math.inf)
    t = begun_s
    while t < session.truth().t:
        if session.truth(t).mean_frozen_pct >= REST_OVER_PCT:
            return t
        t += 1.0
    return None


def _stiffest(session: VirtualSession) -> float | None:
    """When the mix of round 2 is at its stiffest, once its frozen lining is stirred in."""
    begun = [mark.t for mark in session.done if mark.word is MarkWord.BEAT_START]
    if len(begun) < 2:
        return None
    times = range(math.ceil(begun[1]) + 20, math.ceil(session.truth().t))
    return float(max(times, key=lambda t: session.truth(float(t)).frozen_pct))


TRUTHS: Mapping[str, Callable[[VirtualSession], float | None]] = {
    "plateau": _plateau,
    "bath-limit": _bath_limit,
    "freezing": _freezing,
    "rested": _rested,
    "stiffest": _stiffest,
}
"""What the virtual rig knows the time of, beside what the maker does."""
