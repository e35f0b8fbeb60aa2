"""How a run's measures are got from the log."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np

from rigmon.estimate.cloud import MODEL_VERSION
from rigmon.records import MarkWord, Stage
from rigmon.review.bathheld import bath_held
from rigmon.review.follow import Sample, Track, follow
from rigmon.review.happened import alarms, forecasts, hard_s, plateau_s
from rigmon.review.logged import Logged, read
from rigmon.review.measures import Limits, Measures, Point, Span, StageHeld
from rigmon.review.righeld import FirstRound, heat_kj, leak, scrapes, with_the_rig
from rigmon.review.spans import P90, spread
from rigmon.store.archive import Archive

COARSENS_C = (-12.0, -6.0)
"""Between these the crystals of a mix grow fastest [°C] (X-ray tomography at 0.05 K/min, Crystals
2019; common practice holds to the same range)."""
_BEGUN_PCT = 1.0
"""A share of ice that is no error of the probe any more [%] (own choice)."""
_FIRST_S = 90.0
_LONGEST_GAP_S = 1800.0
_LIMITS = 8


def measure(log: Archive, run_id: str) -> Measures:
    """What a run measured.

    Raises:
        LogError: no such run, or the log cannot be read.
        ConfigError: a newer program wrote what the run started from.
    """
    logged = read(log, run_id)
    return measures_of(logged, follow(logged))


def measures_of(logged: Logged, track: Track) -> Measures:
    """The measures of a run that was followed.

    Args:
        logged: the run.
        track: the run followed to its end.
    """
    header = logged.row.header
    first = _first_round(track)
    unsaid: dict[str, str] = {}
    mix_g, mix_c = _mix_g(logged, track), _mix_c(first, track)
    announced_s = plateau_s(logged)
    if announced_s is not None and (first.stopped_s is None or announced_s > first.stopped_s):
        announced_s = None
    at_plateau = None if announced_s is None else track.nearest(announced_s)
    room_c = _room_c(logged, track)
    _say_why(logged, first, announced_s, mix_g, unsaid)
    found = Measures(
        run=header.id,
        rig=header.rig,
        virtual=header.virtual,
        started_unix=header.started_unix,
        model_version=MODEL_VERSION,
        recipe=header.recipe,
        mix_g=mix_g,
        mix_c=mix_c,
        room_c=room_c,
        bath=bath_held(logged, track, first.poured_s, unsaid),
        poured_s=first.poured_s,
        first_round_s=_less(first.stopped_s, first.poured_s),
        rounds=track.samples[-1].round if track.samples else 0,
        ended_s=logged.row.duration_s,
        freezing_after_s=_freezing(first),
        plateau_after_s=_less(announced_s, first.poured_s),
        frozen_at_plateau_pct=None if at_plateau is None else _frozen(at_plateau),
        stages=tuple(_stages(track)),
        course=tuple(_course(first)),
        heat_kj=heat_kj(logged, first, track, mix_g, mix_c),
        scrapes=tuple(scrapes(track)),
        leak_w_k=leak(track, room_c, unsaid),
        limits=tuple(_limits(first)),
        coarsening_min=_coarsening_min(track, unsaid),
        hardening_min=_hardening_min(track, unsaid),
        forecasts=forecasts(logged, track),
        alarms=alarms(logged),
        unsaid=unsaid,
    )
    return with_the_rig(found, track, unsaid)


def _less(late_s: float | None, early_s: float | None) -> float | None:
    return None if late_s is None or early_s is None else late_s - early_s


def _first_round(track: Track) -> FirstRound:
    beaten = [one for one in track.samples if one.stage is Stage.BEAT and one.round == 1]
    into = track.marks(MarkWord.POUR, MarkWord.BEAT_START)
    poured = next(into, None)
    if poured is None:
        return FirstRound(None, None)
    return FirstRound(poured.mark.t, beaten[-1].t if beaten else None, beaten)


def _mix_g(logged: Logged, track: Track) -> float | None:
    for heard in track.marks(MarkWord.POUR, MarkWord.BEAT_START):
        if (told := heard.mark.detail.get("mix_g")) is not None:
            return float(told)
    return logged.recipe.mass_g if logged.recipe is not None else None


def _mix_c(first: FirstRound, track: Track) -> float | None:
    told = (heard.mark.detail.get("mix_c") for heard in track.marks(MarkWord.POUR))
    if (said := next(told, None)) is not None:
        return float(said)
    if first.poured_s is None:
        return None
    read = [
        sample.estimate.mix_c
        for sample in first.samples
        if sample.t - first.poured_s <= _FIRST_S and sample.estimate.mix_c is not None
    ]
    return max(read, default=None)


def _room_c(logged: Logged, track: Track) -> float | None:
    read = [sample.room_c for sample in track.samples if sample.room_c is not None]
    return float(np.median(read)) if read else logged.setup.room_c


def _frozen(sample: Sample) -> Span | None:
    held = sample.estimate
    if held.frozen_pct is None or held.frozen_pct_sd is None:
        return None
    return spread(held.frozen_pct, held.frozen_pct_sd, 0.0, 100.0)


def _freezing(first: FirstRound) -> Span | None:
    """When the mix began to freeze, from the pour [s]."""
    if first.poured_s is None:
        return None
    found: list[float] = []
    for z in (P90, 0.0, -P90):
        crossed = _crossed_s(first.samples, z)
        if crossed is None:
            return None
        found.append(crossed - first.poured_s)
    return Span(*found)


def _crossed_s(samples: Sequence[Sample], z: float) -> float | None:
    """When the share, `z` deviations above its mean, came to stay above the least [s]."""
    before: tuple[float, float] | None = None
    for sample in samples:
        held = sample.estimate
        if held.frozen_pct is None or held.frozen_pct_sd is None:
            continue
        share = held.frozen_pct + z * held.frozen_pct_sd
        if share >= _BEGUN_PCT:
            if before is None:
                return sample.t
            part = (_BEGUN_PCT - before[1]) / (share - before[1])
            return before[0] + part * (sample.t - before[0])
        before = sample.t, share
    return None


def _stages(track: Track) -> Iterator[StageHeld]:
    begun_s = track.samples[0].t if track.samples else 0.0
    for place, sample in enumerate(track.samples):
        after = track.samples[place + 1] if place + 1 < len(track.samples) else None
        if after is not None and (after.stage, after.round) == (sample.stage, sample.round):
            continue
        held = sample.estimate
        yield StageHeld(
            stage=sample.stage,
            round=sample.round,
            begun_s=begun_s,
            ended_s=sample.t,
            frozen_pct=_frozen(sample),
            mix_c=sample.core_c if sample.stage is Stage.HARDEN else held.mix_c,
            bath_c=held.bath_c if sample.in_bath else None,
        )
        begun_s = sample.t


def _course(first: FirstRound) -> Iterator[Point]:
    poured_s = first.poured_s
    if poured_s is None:
        return
    for sample in first.samples:
        held = sample.estimate
        yield Point(
            after_s=round(sample.t - poured_s, 1),
            frozen_pct=_rounded(held.frozen_pct, 2),
            bath_c=_rounded(held.bath_c, 2),
            ice_left_g=_rounded(held.ice_left_g, 0),
            sound=sample.mix_sound,
        )


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _limits(first: FirstRound) -> Iterator[Limits]:
    known = [sample for sample in first.samples if sample.slowdown is not None]
    places = np.unique(np.linspace(0, len(known) - 1, min(len(known), _LIMITS)).round().astype(int))
    for sample in (known[place] for place in places) if known else ():
        if (shares := sample.slowdown) is not None:
            yield Limits(sample.t, 100 * shares.bath, 100 * shares.wall, 100 * shares.beater)


def _coarsening_min(track: Track, unsaid: dict[str, str]) -> float | None:
    """Time between the two temperatures, in the bowl by the mix probe, in the tub by the core's."""
    seen = [
        (sample.t, c)
        for sample in track.samples
        if sample.round and (c := _mix_or_core_c(sample)) is not None
    ]
    if len(seen) < 2:
        unsaid["coarsening_min"] = "needs a mix or a core probe"
        return None
    if not any(sample.core_c is not None for sample in track.samples if _in_tub(sample)):
        unsaid["coarsening_min"] = "of the bowl alone: no probe read a tub's core"
    total_s = 0.0
    for (begin_s, begin_c), (end_s, end_c) in itertools.pairwise(seen):
        if end_s - begin_s <= _LONGEST_GAP_S:
            total_s += (end_s - begin_s) * _share_within(begin_c, end_c, *COARSENS_C)
    return total_s / 60.0


def _in_tub(sample: Sample) -> bool:
    return sample.stage in (Stage.PACK, Stage.HARDEN)


def _mix_or_core_c(sample: Sample) -> float | None:
    return sample.core_c if _in_tub(sample) else sample.estimate.mix_c


def _share_within(begin: float, end: float, low: float, high: float) -> float:
    """Share of a straight line from one value to another that lies between two bounds.

    >>> _share_within(-4.0, -14.0, -12.0, -6.0)
    0.6
    """
    if begin == end:
        return float(low <= begin <= high)
    least, most = min(begin, end), max(begin, end)
    return max(min(most, high) - max(least, low), 0.0) / (most - least)


def _hardening_min(track: Track, unsaid: dict[str, str]) -> float | None:
    into = next((heard.mark.t for heard in track.marks(MarkWord.HARDEN_START)), None)
    if into is None:
        unsaid["hardening_min"] = "no tub went into the freezer, as far as was marked"
        return None
    hard = next((at_s for at_s in hard_s(track) if at_s >= into), None)
    if hard is None:
        unsaid["hardening_min"] = "needs a core probe until the core is at −15 °C"
        return None
    return (hard - into) / 60.0


def _say_why(
    logged: Logged,
    first: FirstRound,
    announced_s: float | None,
    mix_g: float | None,
    unsaid: dict[str, str],
) -> None:
    if first.poured_s is None:
        unsaid["poured_s"] = "no pour was marked or seen"
    elif announced_s is None:
        unsaid["plateau_after_s"] = "the round ended before the mix stopped stiffening"
        if logged.recipe is None or logged.recipe.composition is None:
            unsaid["plateau_after_s"] = "needs a recipe"
    if mix_g is None:
        unsaid["mix_g"] = "nobody weighed the mix"
        unsaid["heat_kj"] = "needs the mass of the mix"
