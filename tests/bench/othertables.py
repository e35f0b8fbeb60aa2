"""The tables of bath, rest and second round, of speed, and what was hoped for beside it all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from batches import Heard
from days import FIRST_RUN, after
from later import PROBES, ROUND_2_S, SHARES, Later, beside_others
from plateautables import in_range, stiffening
from rigmon.records import Event
from scoring import Array, Figure, filled, holds, mean, median, over_rigs, told
from showing import table
from skill import (
    BY_CLOCK,
    BY_SHARE,
    FIRST,
    PEERS,
    TYPED,
    Rig,
    against,
    monitor,
    not_yet,
    scores,
    timer,
)

LEADS_S = (120.0, 300.0, 600.0)
_SEEN = {"of the brine": False, "of the reading": True}


@dataclass(frozen=True, slots=True)
class Crossed:
    """A bath that gave out.

    Args:
        true_s: run time at which the mean of the brine crossed its limit [s].
        seen_s: run time at which the bath probe did, its noise smoothed away [s].
        said: what the monitor said.
    """

    true_s: float
    seen_s: float
    said: Heard


@dataclass(frozen=True, slots=True)
class Measured:
    """All that was measured.

    Args:
        rigs: drawn rigs.
        days: rigs that were followed over many days, by how alike those were.
        baths: batches whose bath gave out.
        rests: rests and second rounds.
        blocks: times of taking in 5 s of readings [ms].
        words: times of all that is said in 5 s [ms].
    """

    rigs: Sequence[Rig]
    days: Mapping[str, Sequence[Rig]]
    baths: Sequence[Crossed]
    rests: Sequence[Later]
    blocks: Array
    words: Array


def bath_errors(baths: Sequence[Crossed], lead_s: float, *, seen: bool) -> Array:
    """Errors of the median so long ahead [s], infinite where there is none.

    Args:
        baths: the batches.
        lead_s: how long before the crossing [s].
        seen: the crossing is the probe's, not the brine's.
    """
    errors = []
    for bath in baths:
        crossing_s = bath.seen_s if seen else bath.true_s
        p50 = bath.said.times(Event.BATH_LIMIT, crossing_s - lead_s)[1]
        errors.append(np.inf if p50 is None else abs(p50 - crossing_s))
    return np.array(errors)


def bath_held(baths: Sequence[Crossed], lead_s: float, *, seen: bool) -> Figure:
    """Share of intervals so long ahead of a crossing that held it; arguments as above."""
    held = []
    for bath in baths:
        crossing_s = bath.seen_s if seen else bath.true_s
        times = bath.said.times(Event.BATH_LIMIT, crossing_s - lead_s)
        if told(times):
            held.append(holds(filled(times, crossing_s - lead_s), crossing_s))
    return over_rigs(mean, held)


def bath_limit(baths: Sequence[Crossed], count: int) -> None:
    """Error of the bath limit's forecast."""
    rows = []
    for lead_s in LEADS_S:
        errors = [bath_errors(baths, lead_s, seen=seen) for seen in _SEEN.values()]
        texts = [over_rigs(median, each).text(0) for each in errors]
        held = [bath_held(baths, lead_s, seen=seen).text() for seen in _SEEN.values()]
        rows.append((f"{lead_s / 60:.0f} min ahead", *texts, *held))
    apart = [abs(bath.true_s - bath.seen_s) for bath in baths]
    rows.append(("the probe itself", over_rigs(median, apart).text(0), "0", "", ""))
    print(f"{len(baths)} of {count} batches with little ice, whose bath crosses its limit\n")
    holding = (f"80 % holds that {whose}" for whose in _SEEN)
    head = ("bath limit, median error s", *_SEEN, *holding)
    table(head, rows)
    print("""
of the reading: the crossing is that of the bath probe without its noise, which is what the limit is
held to and what is forecast. Last row: what offset, layers and lag leave to a perfect forecast. No
forecast counts as infinitely wrong.
""")


def rests(found: Sequence[Later], count: int) -> None:
    """How rest and second round were forecast."""
    if not found:
        print("Rests and second rounds are not in the quick run, or there was none.\n")
        return
    print(f"{len(found)} of {count} batches with a plateau and a rest of 5 min or more\n")
    rows = []
    found = beside_others(found)
    for way in found[0].rest:
        for place, share in enumerate(SHARES):
            errors, held = [], []
            for one in found:
                began_s, over_s = one.rest_s
                times = one.rest[way][place]
                errors.append(np.inf if times[1] is None else abs(times[1] - over_s) / 60.0)
                if told(times):
                    at = began_s + share * (over_s - began_s)
                    held.append(holds(filled(times, at), over_s))
            label = f"{100 * share:.0f} % of the rest, {way}"
            rows.append((label, over_rigs(median, errors).text(1), over_rigs(mean, held).text()))
    table(("rest-over", "median error min", "80 % holds"), rows)
    print()
    melts = []
    for way in found[0].alarm_s:
        delays = melt_delays(found, way)
        wasted = [one.wasted_pct[way] for one in found if one.alarm_s[way] is not None]
        melts.append(
            (
                way,
                str(delays.size),
                over_rigs(median, delays).text(0),
                over_rigs(mean, delays < 0.0).text(),
                str(int(np.sum(np.isposinf(delays)))),
                over_rigs(median, wasted).text(),
            )
        )
    table(("melt-onset", "rounds", "median delay s", "early", "silent", "short of most"), melts)
    print(f"""
the true onset is the maximum of the share off the wall: that of wall and core together falls from
the first second of round 2 on in most rigs, and tells a maker nothing; beaten for
{ROUND_2_S / 60:.0f} min, so that there is one; an alarm in a round that gains to its end is early.
Last column: what the share off the wall is short of its maximum at the alarm [percentage points]
""")


def melt_delays(found: Sequence[Later], way: str) -> Array:
    """Delays of the alarm that the mix melts [s], infinite where it was silent.

    Where there was no onset a silent round is left out, and an alarm infinitely early.
    """
    alarms = [(one.alarm_s[way], one.onset_s) for one in found]
    return np.array(
        [
            np.inf if at is None else at - (np.inf if onset is None else onset)
            for at, onset in alarms
            if at is not None or onset is not None
        ]
    )


def speed(blocks: Array, words: Array) -> None:
    """Time of what is done each 5 s."""
    rows = [
        (name, str(ms.size), *(f"{np.quantile(ms, q):.2f}" for q in (0.5, 0.9, 1.0)))
        for name, ms in (
            ("5 s of two probes' readings, screened and taken in", blocks),
            ("all that is said of them: forecasts, five states, alarms", words),
        )
    ]
    table(("one core, ms", "times", "p50", "p90", "max"), rows)
    print()


def reach(of: Measured) -> None:
    """What was hoped for beside what was measured."""
    known = stiffening(of.rigs)
    said = [rig.heard[FIRST] for rig in known]
    near, far = monitor(), monitor(TYPED)
    unfrozen = sum(one.frozen_pct <= 0.0 for one in said if one.alarm_s is not None)
    missed = np.mean([one.alarm_s is None for one in said])
    fitted = PEERS["exponential"]
    held = scores(known, BY_SHARE, near).holding()
    rows = [
        ("loss / timer, shares", "0.46", "0.38", against(known, BY_SHARE, near, timer).text()),
        ("loss / exponential", "0.20", "0.15", against(known, BY_SHARE, near, fitted).text()),
        ("loss / not yet, clock", "0.90", "0.78", against(known, BY_CLOCK, near, not_yet).text()),
        ("80 % interval holds, shares", "0.74–0.90", "0.77–0.84", held.text()),
        ("alarm at a true gain of 1.3–2.8 %", "0.90", "0.96", in_range(known, FIRST).text()),
        ("alarms before freezing", "0", "0", str(unfrozen)),
        ("alarms missed", "0.01", "0", f"{missed:.2f}"),
    ]
    for kind, rigs in of.days.items():
        better = against(stiffening(rigs), BY_SHARE, monitor(after(3)), monitor(FIRST_RUN))
        rows.append((f"loss after 3 runs / first, {kind}", "0.75", "0.55", better.text()))
    for whose, seen in _SEEN.items():
        errors = over_rigs(median, bath_errors(of.baths, 300.0, seen=seen))
        rows.append((f"bath limit 5 min ahead, error {whose} s", "60", "30", errors.text(0)))
    for way in PROBES if of.rests else ():
        delays = melt_delays(of.rests, way)
        late, early = over_rigs(median, delays), over_rigs(mean, delays < 0.0)
        rows.append((f"melt-onset late, {way}, s", "120", "75", late.text(0)))
        rows.append((f"melt-onset early, {way}", "0.10", "0.05", early.text()))
    held = scores(known, BY_CLOCK, far).holding()
    typed = against(known, BY_CLOCK, far, not_yet)
    rows += [
        ("typed: loss / not yet, clock", "1.00", "0.95", typed.text()),
        ("typed: 80 % interval holds, clock", "0.74–0.90", "", held.text()),
        ("5 s of readings, ms", "1.0", "0.3", f"{np.median(of.blocks):.2f}"),
        ("all that is said of them, ms", "20", "7", f"{np.median(of.words):.2f}"),
    ]
    table(("reach", "at least", "aim", "measured"), rows)
