"""A probe held to temperatures that are known: the points, their budget, and the line through them.

A point is what a probe reads, linearised and before any offset or gain, where the truth is known.
Its budget lists what makes it unsure, as the GUM (JCGM 100:2008) does: each share a standard
uncertainty, all of them independent, summed as squares. One point gives an offset; points far
enough apart give a gain too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from rigmon.probes.steadiness import Steadiness, step_k

GAIN_SD = 0.0075 / math.sqrt(3.0)
"""What is believed of a gain before anything is known: class 2 wire is off by at most 0.0075 |t|
(IEC 60584-1), taken as a rectangle about 1. A second point that is less sure changes little."""

APART_K = 10.0
"""Points closer than this are told as one [K] (own choice)."""

PLACE_K = 0.15
"""What remains in a batch however well the probe is known: lumps, immersion, the stem [K] (common
practice, 0.1 to 0.3 K; no source)."""

WORKS_FROM_C, WORKS_TO_C = -20.0, 5.0
"""Where a batch is frozen [°C]: the uncertainty that is applied is the largest in between."""

SLOPE_LIMITS = (0.96, 1.04)
"""A slope beyond these is no error of wire and chip, but a setting that is wrong (own choice)."""

HAND_SHARE = "the hand-held thermometer"


@dataclass(frozen=True, slots=True)
class Share:
    """One entry of a budget.

    Args:
        what: where it comes from.
        sd_k: its standard uncertainty [K].
    """

    what: str
    sd_k: float


@dataclass(frozen=True, slots=True)
class Reference:
    """A temperature that is known.

    Args:
        kind: `ice`, `boil`, `slush` or `compare`.
        c: the temperature [°C].
        shares: what makes it unsure.
    """

    kind: str
    c: float
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """What a probe reads in a bath that stands still.

    Args:
        c: mean reading, linearised, before offset and gain [°C].
        shares: what makes it unsure.
        readings: how many readings it is the mean of.
        over_s: how long they took [s]; 0 for values typed off a display.
    """

    c: float
    shares: tuple[Share, ...]
    readings: int
    over_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Point:
    """A probe held to a temperature that is known.

    Args:
        kind: how the temperature is known.
        true_c: the temperature [°C].
        read_c: what the probe read there, linearised, before offset and gain [°C].
        shares: the budget.
    """

    kind: str
    true_c: float
    read_c: float
    shares: tuple[Share, ...]

    @property
    def sd_k(self) -> float:
        """Standard uncertainty of the whole [K]."""
        return combined_k(self.shares)

    @property
    def off_k(self) -> float:
        """How much too warm the probe reads [K]."""
        return self.read_c - self.true_c


@dataclass(frozen=True, slots=True)
class Line:
    """Truth from reading: gain × reading + offset.

    Args:
        gain: factor on the reading in °C.
        offset_k: added after it [K].
        points: how many points it follows from.
        middle_c: where it is known best, as a reading [°C].
        middle_sd_k: standard uncertainty there [K].
        gain_sd: standard uncertainty of the gain.
    """

    gain: float
    offset_k: float
    points: int
    middle_c: float
    middle_sd_k: float
    gain_sd: float

    def true_c(self, read_c: float) -> float:
        """The temperature [°C] behind a reading."""
        return self.gain * read_c + self.offset_k

    def sd_k(self, read_c: float) -> float:
        """Standard uncertainty [K] of the temperature behind a reading, its place left out.

        >>> ice = Point("ice", 0.0, 0.4, (Share("the bath", 0.06),))
        >>> line = line_of([ice])
        >>> round(line.true_c(0.4), 3), round(line.sd_k(0.4), 3), round(line.sd_k(-19.6), 3)
        (0.0, 0.06, 0.105)
        """
        return math.hypot(self.middle_sd_k, self.gain_sd * (read_c - self.middle_c))

    @property
    def in_use_sd_k(self) -> float:
        """Standard uncertainty [K] in a batch, the largest from −20 to 5 °C, its place included."""
        ends = (WORKS_FROM_C, WORKS_TO_C)
        return math.hypot(PLACE_K, max(self.sd_k(end) for end in ends))


def combined_k(shares: Sequence[Share]) -> float:
    """Standard uncertainty [K] of independent shares together (GUM, 5.1.2).

    >>> combined_k((Share("a", 0.3), Share("b", 0.4)))
    0.5
    """
    return math.sqrt(sum(share.sd_k**2 for share in shares))


def seen_in(steady: Steadiness) -> Seen:
    """What a stretch of readings gives: mean, and its scatter, resolution and drift as shares.

    Resolution and drift count as rectangles, a step and the whole drift wide (GUM, 4.3.7).
    """
    shares = (
        Share("scatter", steady.mean_sd_k),
        Share("resolution", steady.step_k / math.sqrt(12.0)),
        Share("drift", abs(steady.drift_k) / math.sqrt(12.0)),
    )
    return Seen(steady.mean_c, shares, steady.readings, steady.over_s)


def seen_on_display(values_c: Sequence[float], step: float) -> Seen:
    """The same of values that a person read off a display.

    Args:
        values_c: at least two values [°C].
        step: step of the display [K].

    >>> hand = seen_on_display((-14.2, -14.1, -14.2), 0.1)
    >>> round(hand.c, 2), [round(share.sd_k, 3) for share in hand.shares]
    (-14.17, [0.033, 0.029, 0.029])
    """
    n = len(values_c)
    mean_c = fmean(values_c)
    sd_k = math.sqrt(sum((c - mean_c) ** 2 for c in values_c) / (n - 1))
    half = max(n // 2, 1)
    drift_k = fmean(values_c[-half:]) - fmean(values_c[:half])
    shares = (
        Share("scatter", sd_k / math.sqrt(n)),
        Share("resolution", max(step, step_k(values_c)) / math.sqrt(12.0)),
        Share("drift", max(abs(drift_k), step) / math.sqrt(12.0)),
    )
    return Seen(mean_c, shares, n)


def point_of(seen: Seen, reference: Reference) -> Point:
    """The point that a probe's readings make at a reference."""
    return Point(reference.kind, reference.c, seen.c, (*seen.shares, *reference.shares))


def line_of(points: Sequence[Point]) -> Line:
    """The line through the points, each weighed by its uncertainty, and the gain by `GAIN_SD` too.

    Least squares of (truth − gain × reading − offset) and of gain − 1, over their standard
    uncertainties: one point leaves the gain at 1, points far apart and sure decide it. Three or
    more points that part from the line by more than they are unsure widen it (Birge's ratio).

    Args:
        points: at least one.

    >>> sure = (Share("the bath", 0.01),)
    >>> line = line_of([Point("ice", 0.0, 0.5, sure), Point("boil", 99.0, 98.7, sure)])
    >>> round(line.true_c(0.5), 2), round(line.true_c(98.7), 2), round(line.gain, 4)
    (0.0, 99.0, 1.0081)
    """
    weights = [1.0 / max(point.sd_k, 1e-3) ** 2 for point in points]
    total = sum(weights)
    middle_c = sum(w * p.read_c for w, p in zip(weights, points, strict=True)) / total
    true_c = sum(w * p.true_c for w, p in zip(weights, points, strict=True)) / total
    away = [
        (w, p.read_c - middle_c, p.true_c - true_c) for w, p in zip(weights, points, strict=True)
    ]
    spread = sum(w * read * read for w, read, _ in away)
    along = sum(w * read * true for w, read, true in away)
    belief = 1.0 / GAIN_SD**2
    gain = (along + belief) / (spread + belief)
    wider = 1.0
    if len(points) > 2:
        off = sum(w * (true - gain * read) ** 2 for w, read, true in away)
        wider = max(1.0, math.sqrt(off / (len(points) - 1)))
    return Line(
        gain=gain,
        offset_k=true_c - gain * middle_c,
        points=len(points),
        middle_c=middle_c,
        middle_sd_k=wider * math.sqrt(1.0 / total),
        gain_sd=wider * math.sqrt(1.0 / (spread + belief)),
    )


def slope_of(points: Sequence[Point]) -> float | None:
    """Truth over reading between the outermost points, as they are; None where they lie close."""
    low = min(points, key=lambda point: point.true_c)
    high = max(points, key=lambda point: point.true_c)
    if high.true_c - low.true_c < APART_K or high.read_c <= low.read_c:
        return None
    return (high.true_c - low.true_c) / (high.read_c - low.read_c)


def moved_k(before: Line, point: Point) -> tuple[float, float]:
    """How far a probe has moved since a line was found [K], and the standard uncertainty of that.

    Positive where it now reads warmer than then.
    """
    off_k = before.true_c(point.read_c) - point.true_c
    return off_k, math.hypot(before.sd_k(point.read_c), point.sd_k)
