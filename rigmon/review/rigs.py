"""What a rig's runs tell of it together: its drift, its mix probe, how forecasts fared."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from scipy import stats

from rigmon.estimate.cloud import MODEL_VERSION
from rigmon.estimate.runsays import moments, saying
from rigmon.records import Event, RunFit
from rigmon.review.kept import Unmeasured, measures
from rigmon.review.measures import Held, Measures, Span
from rigmon.review.memory import Kept, Taught, taught
from rigmon.review.spans import P90
from rigmon.store.archive import Archive
from rigmon.store.entries import RunState

_DAY_S = 86_400.0
_LEAST = 4
"""With fewer runs nothing is said of drift, nor of whether forecasts became better."""
_SURE = 0.1
NAMES = {"ua_w_k": "wall", "stiffening": "hold-back", "beater_w": "beaters"}


@dataclass(frozen=True, slots=True)
class Day:
    """What one run by itself says of a parameter, what was believed before taken out again.

    Args:
        run: id of the run.
        at_unix: when it started [s].
        value: in the parameter's own unit.
    """

    run: str
    at_unix: float
    value: Span


@dataclass(frozen=True, slots=True)
class Drift:
    """How a parameter changed over a rig's runs.

    Args:
        days: what each run says, oldest first.
        pct_month: change [% in 30 days]; None with too few runs or days.
        give_pct: give or take this, in eight of ten cases.
        surely: whether it is more than chance would bring in one of ten such rigs.
    """

    days: tuple[Day, ...]
    pct_month: float | None = None
    give_pct: float | None = None
    surely: bool = False


@dataclass(frozen=True, slots=True)
class Misses:
    """How forecasts of the plateau fared; each was made before its run, so none has seen it.

    Args:
        runs: how many.
        missed_pct: median of how far the middle was off, of the time from the pour [%].
        held: how many of the ranges held, of those that say eight in ten.
    """

    runs: int
    missed_pct: float
    held: int


@dataclass(frozen=True, slots=True)
class RigTold:
    """What a rig's runs tell of it together.

    Args:
        wall: drift of what the wall conducts.
        offset_k: what the mix probe reads too much, by the mixes' freezing points [K]; None if
            nothing is known.
        offset_runs: from how many runs.
        early: first forecasts of the first runs, of which the rig knew nothing or little.
        late: those of the runs after them.
        left_out: runs that teach nothing, and by which rule.
    """

    wall: Drift
    offset_k: Span | None
    offset_runs: int
    early: Misses | None
    late: Misses | None
    left_out: tuple[tuple[str, str], ...]


def told(log: Archive, kept: Kept) -> RigTold:
    """What the log's runs of a rig tell of it.

    Raises:
        LogError: the log cannot be read.
    """
    rows = [
        row
        for row in reversed(log.runs())
        if (row.header.rig, row.header.virtual) == (kept.rig, kept.virtual)
        and row.state is not RunState.RUNNING
    ]
    found = measures(log, rows)
    known = [one for one in found if isinstance(one, Measures)]
    fits = taught(log, kept)
    firsts = [held for one in known if (held := _first(one)) is not None]
    # The first two runs of a rig know nothing of it, or next to nothing.
    early, late = firsts[:2], firsts[2:]
    return RigTold(
        wall=drift(fits, "ua_w_k"),
        offset_k=together([one.mix_offset_k for one in known if one.mix_offset_k is not None]),
        offset_runs=sum(one.mix_offset_k is not None for one in known),
        early=_misses(early) if len(firsts) >= _LEAST else None,
        late=_misses(late) if len(firsts) >= _LEAST else None,
        left_out=tuple(_left_out(found, fits)),
    )


def drift(fits: Sequence[Taught], name: str) -> Drift:
    """How a parameter changed over runs.

    A straight line through the logarithms of what each run by itself says, each weighed by how
    surely it says it; days differ besides, which the scatter about the line tells.

    Args:
        fits: what runs taught, oldest first.
        name: the parameter.
    """
    days: list[Day] = []
    logs: list[tuple[float, float, float]] = []
    for one in fits:
        own = _own(one.what, name) if isinstance(one.what, RunFit) else None
        if own is None or not math.isfinite(one.at_unix):
            continue
        mean, sd = own
        span = Span(*(math.exp(mean + z * sd) for z in (-P90, 0.0, P90)))
        days.append(Day(one.run_id, one.at_unix, span))
        logs.append((one.at_unix / (30.0 * _DAY_S), mean, sd))
    if len(logs) < _LEAST or logs[-1][0] - logs[0][0] < 1.0 / 30.0:
        return Drift(tuple(days))
    months, means, sds = np.array(logs).T
    line = stats.linregress(months, means)
    # Scatter smaller than what the runs themselves are unsure by is chance.
    spread = float(np.std(months)) * math.sqrt(months.size)
    # Where all runs say the same the line's own error is no number.
    error = float(np.fmax(line.stderr, np.sqrt(np.mean(sds**2)) / spread))
    t = float(stats.t.ppf(0.9, months.size - 2))
    p = 2.0 * float(stats.t.sf(abs(line.slope) / error, months.size - 2))
    return Drift(tuple(days), 100.0 * math.expm1(line.slope), 100.0 * t * error, surely=p < _SURE)


def _own(fit: RunFit, name: str) -> tuple[float, float] | None:
    """What a run by itself says of the logarithm of a parameter, and how surely."""
    if fit.model_version != MODEL_VERSION or name not in fit.names:
        return None
    own = saying(fit, [name], fit.prior)
    if own.silent:
        return None
    variance = 1.0 / float(own.precision[0, 0])
    told_mean, _ = moments(fit.prior, [name])
    return float(told_mean[0] + own.pull[0] * variance), math.sqrt(variance)


def together(spans: Sequence[Span]) -> Span | None:
    """One figure that several runs measured, each with its own range.

    Weighed by their precisions, with the scatter between runs that is more than that explains (the
    moment estimate of R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986) 177, from
    memory).

    >>> together([Span(0.0, 0.5, 1.0), Span(0.0, 0.5, 1.0)]).p50
    0.5
    """
    if not spans:
        return None
    x = np.array([one.p50 for one in spans])
    variance = np.array([max((one.p90 - one.p10) / (2.0 * P90), 1e-3) ** 2 for one in spans])
    weight = 1.0 / variance
    mean = float(weight @ x / weight.sum())
    excess = float(weight @ (x - mean) ** 2) - (x.size - 1)
    scale = float(weight.sum() - (weight**2).sum() / weight.sum())
    between = max(excess / scale, 0.0) if x.size > 1 else 0.0
    weight = 1.0 / (variance + between)
    mean, sd = float(weight @ x / weight.sum()), 1.0 / math.sqrt(float(weight.sum()))
    return Span(mean - P90 * sd, mean, mean + P90 * sd)


def _first(one: Measures) -> tuple[Held, float] | None:
    """The first forecast of a run's plateau, if that came, and the time of the pour [s]."""
    if one.poured_s is None:
        return None
    held = next((f for f in one.forecasts if f.event is Event.PLATEAU and f.first), None)
    return None if held is None or held.happened_s is None else (held, one.poured_s)


def _misses(firsts: Sequence[tuple[Held, float]]) -> Misses | None:
    known = [
        (held, 100.0 * abs(held.p50 - held.happened_s) / (held.happened_s - poured_s))
        for held, poured_s in firsts
        if held.p50 is not None and held.happened_s is not None and held.happened_s > poured_s
    ]
    if not known:
        return None
    return Misses(
        len(known), median(miss for _, miss in known), sum(_holds(held) for held, _ in known)
    )


def _holds(held: Held) -> bool:
    at_s = held.happened_s or 0.0
    return (held.p10 is None or at_s >= held.p10) and (held.p90 is None or at_s <= held.p90)


def _left_out(
    found: Sequence[Measures | Unmeasured], fits: Sequence[Taught]
) -> Iterator[tuple[str, str]]:
    """Runs that teach nothing of their rig: by what they lack, never by what came of them."""
    teach = {one.run_id: one.what for one in fits if isinstance(one.what, RunFit)}
    for one in found:
        fit = teach.get(one.run)
        if fit is not None and fit.model_version == MODEL_VERSION:
            continue
        if isinstance(one, Unmeasured):
            yield one.run, one.why
        elif fit is not None:
            yield one.run, f"fitted by another version of the model ({fit.model_version})"
        elif "ua_w_k" in one.unsaid:
            yield one.run, one.unsaid["ua_w_k"]
        else:
            yield one.run, "it was not ended, or says no more than was known before"


def lines(rig: RigTold) -> Iterator[str]:
    """What is told of a rig, in words."""
    if rig.wall.days:
        yield "  Run by run, what the wall conducts [W/K], each by itself:"
        for day in rig.wall.days[-8:]:
            moment = datetime.datetime.fromtimestamp(day.at_unix, datetime.UTC).astimezone()
            span = day.value
            yield f"    {moment:%Y-%m-%d %H:%M}  {span.p50:5.1f} ({span.p10:.1f}–{span.p90:.1f})"
        yield f"    {_drift_words(rig.wall)}"
    if rig.offset_k is not None:
        low, middle, high = (
            f"{value:+.1f}".replace("-", "−")
            for value in (rig.offset_k.p10, rig.offset_k.p50, rig.offset_k.p90)
        )
        runs = "1 run" if rig.offset_runs == 1 else f"{rig.offset_runs} runs"
        yield f"  The mix probe reads {middle} K ({low} to {high}) by the freezing point of {runs}."
    if rig.early is not None and rig.late is not None:
        yield "  First forecast of when the mix stops stiffening, each made before its run:"
        for name, one in (("first", rig.early), ("later", rig.late)):
            yield (
                f"    {name} {one.runs} runs: off by {one.missed_pct:.0f} % (median); the range "
                f"held in {one.held} of {one.runs}"
            )
    if rig.left_out:
        yield "  Left out, by what they lack and not by how they went:"
        for run, why in rig.left_out[-8:]:
            yield f"    {run}: {why.rstrip('.')}"
        if len(rig.left_out) > 8:
            yield f"    and {len(rig.left_out) - 8} more"


def _drift_words(one: Drift) -> str:
    if one.pct_month is None or one.give_pct is None:
        return "Too few runs or days to tell a drift."
    change = f"{one.pct_month:+.0f} % a month, ±{one.give_pct:.0f} %".replace("-", "−")
    return (
        f"It drifts: {change}." if one.surely else f"No drift that is more than chance: {change}."
    )
