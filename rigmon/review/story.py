"""One run as a story: what happened when, what held it back, what to do differently."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from rigmon.config import Units
from rigmon.records import By, MarkWord, Stage
from rigmon.review.follow import DRAWN_EVERY_S, Track, follow
from rigmon.review.happened import HARD_C
from rigmon.review.kept import tastings
from rigmon.review.lessons import do_differently, held_back
from rigmon.review.logged import Logged, read
from rigmon.review.measures import Measures, as_data
from rigmon.review.measuring import measures_of
from rigmon.review.told import Told, hours, ranged
from rigmon.store.archive import Archive
from rigmon.units import clock

COLD_CORE_C = -12.0
"""Below this a tub's core has left the range in which crystals grow fast [°C]."""
_MARKED = {
    MarkWord.BEAT_STOP: "beating stopped",
    MarkWord.REST_START: "rest began",
    MarkWord.REST_STOP: "rest over",
    MarkWord.SCRAPE: "wall scraped",
    MarkWord.PACK: "packed",
    MarkWord.HARDEN_START: "into the freezer",
    MarkWord.END: "run ended",
}


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that happened.

    Args:
        at_s: run time [s].
        kind: `mark`, `seen`, `alarm` or `estimated`.
        text: what.
    """

    at_s: float
    kind: str
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Story:
    """One run as it went.

    Args:
        measures: what was measured.
        logged: the run out of the log.
        track: the run followed to its end.
        moments: what happened, in order.
    """

    measures: Measures
    logged: Logged
    track: Track
    moments: tuple[Moment, ...]

    @property
    def units(self) -> Units:
        """Units that the maker read."""
        return self.logged.units


def of(log: Archive, run_id: str) -> Story:
    """The story of a run.

    Raises:
        LogError: no such run, or the log cannot be read.
        ConfigError: a newer program wrote what the run started from.
    """
    logged = read(log, run_id)
    track = follow(logged, DRAWN_EVERY_S)
    measured = replace(measures_of(logged, track), tasted=tastings(log).get(run_id))
    said = Told(logged.units)
    moments = sorted(
        [*_marks(track, said), *_seen(measured, track, said), *_alarms(measured)],
        key=lambda one: one.at_s,
    )
    return Story(measured, logged, track, tuple(moments))


def _marks(track: Track, said: Told) -> Iterator[Moment]:
    for place, heard in enumerate(track.heard):
        mark, detail = heard.mark, heard.mark.detail
        text = _MARKED.get(mark.word)
        if mark.word is MarkWord.ICE_IN:
            text = f"ice and salt in{_amounts(detail, said)}"
        elif mark.word is MarkWord.RECHARGE:
            text = f"recharged{_amounts(detail, said)}; the bath was at {said.c(heard.bath_c)}"
        elif mark.word is MarkWord.POUR:
            into = said.g(float(detail["mix_g"])) + " of mix" if "mix_g" in detail else "mix"
            text = f"{into} poured"
        elif mark.word is MarkWord.BEAT_START:
            earlier = [one.mark.word for one in track.heard[:place]]
            poured = MarkWord.POUR in earlier and MarkWord.BEAT_STOP not in earlier
            text = "beating began" if poured or not earlier else "beaten again"
        elif mark.word is MarkWord.MIX_IN:
            how_much = f" {said.g(float(detail['mix_g']))}" if "mix_g" in detail else ""
            text = f"stirred in{how_much}"
        elif mark.word is MarkWord.NOTE and mark.by is not By.DETECTED and "note" in detail:
            text = f"noted: {detail['note']}"
        if text is not None:
            guess = " (seen, not marked)" if mark.by is By.DETECTED else ""
            yield Moment(mark.t, "seen" if guess else "mark", text + guess)


def _amounts(detail: object, said: Told) -> str:
    found = dict(detail) if isinstance(detail, dict) else {}
    parts = []
    for name, what in (("ice_g", "ice"), ("salt_g", "salt"), ("water_g", "water")):
        if found.get(name):
            parts.append(f"{said.g(float(found[name]))} {what}")
    if found.get("drained_g"):
        parts.append(f"{said.g(float(found['drained_g']))} brine poured off")
    return f": {', '.join(parts)}" if parts else ""


def _seen(measured: Measures, track: Track, said: Told) -> Iterator[Moment]:
    poured_s = measured.poured_s
    if poured_s is not None and measured.freezing_after_s is not None:
        at_s = poured_s + measured.freezing_after_s.p50
        yield Moment(at_s, "estimated", "freezing began")
    best_s, best_c = measured.bath.best_s, measured.bath.best_c
    if best_s is not None:
        yield Moment(best_s, "seen", f"bath at its coldest, {said.c(best_c)}")
    for held in measured.stages:
        if held.stage is Stage.BEAT and held.frozen_pct is not None:
            share = ranged(held.frozen_pct, "%", 0)
            yield Moment(held.ended_s - 0.1, "estimated", f"round {held.round} left {share} frozen")
    for at_s, c in _core_passes(track):
        yield Moment(at_s, "seen", f"core at {said.c(c, 0)}")


def _core_passes(track: Track) -> Iterator[tuple[float, float]]:
    """When a tub's core passed the temperatures that matter."""
    cores = [
        (sample.t, sample.core_c)
        for sample in track.samples
        if sample.stage is Stage.HARDEN and sample.core_c is not None
    ]
    for limit_c in (COLD_CORE_C, HARD_C):
        for (_, before_c), (t, core_c) in itertools.pairwise(cores):
            if core_c <= limit_c < before_c:
                yield t, limit_c
                break


def _alarms(measured: Measures) -> Iterator[Moment]:
    for one in measured.alarms:
        told = one.acknowledged_s or one.over_s
        after = "" if told is None else f", heeded after {hours((told - one.at_s) / 60.0)}"
        yield Moment(one.at_s, "alarm", f"alarm {one.code}{after}")


def as_object(told: Story) -> dict[str, Any]:
    """A story as plain data: the measures, and what happened, held it back and could be better."""
    measured = told.measures
    return {
        **as_data(measured),
        "moments": [{"at_s": one.at_s, "kind": one.kind, "text": one.text} for one in told.moments],
        "held_back": list(held_back(measured)),
        "next_time": list(do_differently(measured, Told(told.units))),
    }


def when(at_s: float) -> str:
    """A run time as it stands in a story.

    >>> when(180.0), when(28405.0)
    ('3:00', '7 h 53 min')
    """
    return clock(max(at_s, 0.0))
