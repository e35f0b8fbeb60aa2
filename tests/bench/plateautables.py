"""The tables of the plateau: forecasts, intervals, alarms, less known, more remembered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from batches import MISSED_S
from days import FIRST_RUN
from scoring import SURE, Figure, mean, median, over_rigs, ratio
from showing import table
from skill import (
    BY_CLOCK,
    BY_SHARE,
    FIRST,
    PEERS,
    WAYS,
    Rig,
    against,
    alike,
    jumps,
    monitor,
    not_yet,
    put_right,
    scores,
    timer,
    whole,
)

GAIN_PCT = (1.3, 2.8)
"""An alarm at a true gain within this is in time [percentage points in 120 s]."""
_ENOUGH = 10
"""So many rigs are told of one another."""
_GROUPS = (
    *((name,) for name in BY_SHARE),
    BY_SHARE,
    *((name,) for name in BY_CLOCK),
    BY_CLOCK,
)


def _label(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def stiffening(rigs: Sequence[Rig]) -> list[Rig]:
    """Rigs with a plateau."""
    return [rig for rig in rigs if rig.plateau_s is not None]


def never(rigs: Sequence[Rig]) -> list[Rig]:
    """Rigs that freeze, but so slowly that they never stiffen as a plateau asks for."""
    return [rig for rig in rigs if rig.plateau_s is None and rig.heard]


def what_was_played(rigs: Sequence[Rig], others: int) -> None:
    """Say what the tables are about."""
    known, slow = stiffening(rigs), never(rigs)
    since = [rig.plateau_s - rig.pour_s for rig in known if rig.plateau_s is not None]
    p10, p50, p90 = np.quantile(since, (0.1, 0.5, 0.9)) / 60.0
    endless = len(rigs) - len(known) - len(slow)
    print(f"""\
{len(rigs)} drawn rigs. {len(known)} have a plateau: 10, 50 and 90 % of them by {p10:.1f}, {p50:.1f}
and {p90:.1f} min from the pour. {len(slow)} never freeze 2 % of their water in 120 s and are in the
table of alarms only; {endless} have no plateau in an hour and are in none. {others} more rigs lend
the peer "not yet" the times of their plateaus.

In brackets: {100 * SURE:.0f} % of what as many rigs would give (bootstrap). Loss: pinball, mean
over p10, p50 and p90; a time beyond the horizon, 2 h ahead, counts as the horizon.
""")


def plateau(rigs: Sequence[Rig]) -> None:
    """Loss against each peer."""
    known = stiffening(rigs)
    rows = []
    for names in _GROUPS:
        mine = scores(known, names, monitor())
        losses = [scores(known, names, peer).loss().value for peer in PEERS.values()]
        ratios = [against(known, names, monitor(), peer).text() for peer in PEERS.values()]
        rows.append(
            (
                _label(names),
                str(mine.asked),
                f"{mine.said:.2f}",
                mine.loss().text(0),
                *(f"{loss:.0f}" for loss in losses),
                *ratios,
            )
        )
    head = ("plateau, first run", "asked", "said", "loss s", *PEERS, *(f"/ {n}" for n in PEERS))
    table(head, rows)
    print("""
Asked at shares of the time from pour to plateau, which gives the plateau away, and at minutes from
the pour while it lies ahead. After the alarm the last forecast stands. Peers: a timer (p10, p50 and
p90 at 7, 10 and 14 min); the plateaus of other rigs not over by then; an exponential fitted to the
mix probe from the first ice on, its residuals bootstrapped, the recipe's curve turning it into ice.
""")


def calibration(rigs: Sequence[Rig]) -> None:
    """What the intervals hold."""
    known = stiffening(rigs)
    rows = []
    for names in _GROUPS:
        mine = scores(known, names, monitor())
        all_of_it = whole(known, names)
        half = over_rigs(ratio, all_of_it.half, all_of_it.count)
        rows.append((_label(names), mine.holding().text(), half.text()))
    rows.append(("wanted", "0.80", "0.50"))
    table(("share of truths", "p10 to p90", "p25 to p75"), rows)
    print()
    bins = []
    for names in (BY_SHARE, BY_CLOCK):
        all_of_it = whole(known, names)
        bins.append((_label(names), *(f"{count:.0f}" for count in all_of_it.bins.sum(axis=0))))
        bins.append(("wanted", *(f"{0.1 * all_of_it.count.sum():.1f}" for _ in range(10))))
    table(("truths by tenths (PIT)", *(f"{10 * n}–{10 * n + 10} %" for n in range(10))), bins)
    moved, count = jumps(known)
    print(f"\nOf {count} refreshes {moved} moved the median by more than half the interval.\n")


def told_more(rigs: Sequence[Rig]) -> None:
    """What those would lose that know how the virtual rigs are, which no program can."""
    known = stiffening(rigs)
    if len(known) < _ENOUGH:
        return
    forecasters = {
        "monitor": monitor(),
        "others made alike": alike(known),
        "monitor put right": put_right(known, monitor()),
    }
    rows = []
    for names in (BY_SHARE, BY_CLOCK):
        losses = [scores(known, names, each).loss().text(0) for each in forecasters.values()]
        ratios = [against(known, names, each, not_yet).text() for each in forecasters.values()]
        rows.append((_label(names), *losses, *ratios))
    losses, ratios = ([f"{name}{of}" for name in forecasters] for of in (", s", " / not yet"))
    table(("told of these rigs: loss", *losses, *ratios), rows)
    print("""
What there is to gain by knowing the virtual rigs, each time from all the others. Made alike: their
plateaus as multiples of what mix and bath let expect, of those not over by then. Put right: the
monitor's median by a line fitted to theirs at the same question, with the spread left about it.
""")


def alarm_row(label: str, rigs: Sequence[Rig], way: str) -> tuple[str, ...]:
    """How the plateau's alarm did."""
    said = [(rig, rig.heard[way]) for rig in rigs]
    rung = [(rig, one) for rig, one in said if one.alarm_s is not None]
    delays = [
        one.alarm_s - (rig.plateau_s or rig.begun_s or np.nan)
        for rig, one in rung
        if one.alarm_s is not None
    ]
    gains = np.array([one.gain_pct for _, one in rung])
    return (
        label,
        str(len(said)),
        f"{np.median(gains):.1f}" if rung else "-",
        in_range(rigs, way).text(),
        str(sum(one.frozen_pct <= 0.0 for _, one in rung)),
        str(len(said) - len(rung)),
        over_rigs(median, delays).text(0),
    )


def in_range(rigs: Sequence[Rig], way: str) -> Figure:
    """Share of alarms at a true gain that is near enough to the plateau's 2 %."""
    gains = np.array([one.gain_pct for rig in rigs if (one := rig.heard[way]).alarm_s is not None])
    low, high = GAIN_PCT
    return over_rigs(mean, (gains >= low) & (gains <= high))


def by_way(rigs: Sequence[Rig]) -> dict[str, list[Rig]]:
    """Each way with the rigs that were forecast in it."""
    found = {way: [rig for rig in rigs if way in rig.heard] for way in WAYS}
    return {way: those for way, those in found.items() if those}


def alarms(rigs: Sequence[Rig]) -> None:
    """The plateau's alarm in each way."""
    known = stiffening(rigs)
    rows = [alarm_row(way, those, way) for way, those in by_way(known).items()]
    rows.append(alarm_row("never 2 % in 120 s", never(rigs), FIRST))
    low, high = GAIN_PCT
    head = (
        "plateau-reached",
        "rigs",
        "gain %",
        f"{low} to {high} %",
        "unfrozen",
        "missed",
        "delay s",
    )
    table(head, rows)
    print(f"""
gain: what two more minutes would truly freeze, median; unfrozen: sounded before any ice; missed:
not within {MISSED_S / 60:.0f} min after the true plateau; delay: after it, median, or after the
first ice where no 120 s ever freeze 2 %.
""")


def other_ways(rigs: Sequence[Rig]) -> None:
    """Loss when less is known."""
    rows = []
    for way, those in by_way(stiffening(rigs)).items():
        share, clock = (scores(those, names, monitor(way)) for names in (BY_SHARE, BY_CLOCK))
        rows.append(
            (
                way,
                str(len(those)),
                f"{share.said:.2f}",
                share.loss().text(0),
                against(those, BY_SHARE, monitor(way), timer).text(),
                against(those, BY_CLOCK, monitor(way), not_yet).text(),
                against(those, BY_SHARE, monitor(way), monitor()).text(),
                share.holding().text(),
                clock.holding().text(),
            )
        )
    table(
        (
            "what is known",
            "rigs",
            "said",
            "loss s, shares",
            "/ timer, shares",
            "/ not yet, clock",
            "/ first row, shares",
            "80 % holds, shares",
            "clock",
        ),
        rows,
    )
    print()


def memory(days: Mapping[str, Sequence[Rig]]) -> None:
    """Loss after earlier runs."""
    for kind, rigs in days.items():
        known = stiffening(rigs)
        rows = []
        for way in known[0].heard if known else ():
            share, clock = (scores(known, names, monitor(way)) for names in (BY_SHARE, BY_CLOCK))
            rows.append(
                (
                    way,
                    share.loss().text(0),
                    against(known, BY_SHARE, monitor(way), monitor(FIRST_RUN)).text(),
                    clock.loss().text(0),
                    against(known, BY_CLOCK, monitor(way), monitor(FIRST_RUN)).text(),
                    share.holding().text(),
                    clock.holding().text(),
                    in_range(known, way).text(),
                )
            )
        print(f"{len(known)} rigs with a plateau, of {len(rigs)}; {kind}\n")
        table(
            (
                "one rig, many days",
                "loss s, shares",
                "/ first",
                "loss s, clock",
                "/ first",
                "80 % holds, shares",
                "clock",
                "alarm in range",
            ),
            rows,
        )
        print()
