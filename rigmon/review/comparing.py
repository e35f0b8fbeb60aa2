"""Two runs of a rig held against each other: adjusted to the same conditions, then judged."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from rigmon.errors import UsageError
from rigmon.estimate.memory import RigMemory
from rigmon.physics.course import Start
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import Composition, RigSetup
from rigmon.review import evidence
from rigmon.review.designs import Design, design_of
from rigmon.review.evidence import BATH_SCATTER_K, Worlds
from rigmon.review.judging import MARGIN_MIN, SURE
from rigmon.review.suggesting import NEWEST, RIGS, WORLDS, usual_batch
from rigmon.review.tried import Tried
from rigmon.review.worlds import Case, Outcome, case_of, drawn, of_cases

Array = NDArray[np.float64]

LIKELY = 0.95
"""From this probability on it is said without "probably"."""
_APART = 0.2
"""What two settings of a rig differ by in a time, as a standard deviation of its logarithm, before
anything is seen (own choice: twice what 4 : 1 and 5 : 1 do)."""
_APART_K = 3.0
"""The same of the bath [K]."""
_MELT_SCATTER = 0.10
"""How the ice that melts scatters from run to run (own estimate)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One step of the adjustment of the later run.

    Args:
        what: what differed, in words.
        was: as it was, its unit included.
        becomes: as the earlier run had it.
        minutes: what that adds to its time [min].
        bath_k: what it adds to its bath [K].
        ice_g: what it adds to the ice melted [g].
    """

    what: str
    was: str
    becomes: str
    minutes: float
    bath_k: float
    ice_g: float


@dataclass(frozen=True, slots=True)
class Compared:
    """One measure of both runs.

    Args:
        goal: the goal that it is the measure of.
        text: what is measured.
        unit: its unit.
        a: of A, adjusted.
        b: of B, adjusted.
        a_raw: of A as it was.
        b_raw: of B as it was.
        better: probability that B was really better; None for what was weighed.
        by_margin: that it was by a minute; None where that says nothing.
        model: the probability of B's ice and salt being better by the model of this rig, with all
            its runs; None where it has nothing to say.
    """

    goal: str
    text: str
    unit: str
    a: float
    b: float
    a_raw: float
    b_raw: float
    better: float | None
    by_margin: float | None = None
    model: float | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two runs held against each other.

    Args:
        a: id of the one.
        b: id of the other.
        earlier: id of that to whose conditions the other was adjusted.
        frozen_pct: the frozen share at which both are measured [%].
        a_design: ice and salt of A.
        b_design: ice and salt of B.
        lines: the adjustment, step by step.
        measures: what is measured.
        scatter_pct: how times scatter from run to run: 10, 50 and 90 % quantile [%].
        runs: how many other runs that scatter is from; it starts from what kitchens usually do.
        not_adjusted: what differed that the model does not know, in words.
        texture: scores of both, None where nobody gave one.
    """

    a: str
    b: str
    earlier: str
    frozen_pct: float
    a_design: Design
    b_design: Design
    lines: tuple[Line, ...]
    measures: tuple[Compared, ...]
    scatter_pct: tuple[float, float, float]
    runs: int
    not_adjusted: tuple[str, ...]
    texture: tuple[int | None, int | None]


def verdict(better: float, model: float | None = None) -> str:
    """A probability in words; where the model has it the other way round, there is no evidence.

    >>> verdict(0.5), verdict(0.75), verdict(0.02), verdict(0.75, model=0.1)
    ('no evidence yet', 'B was probably better', 'A was better', 'no evidence yet')
    """
    surer = max(better, 1.0 - better)
    against = model is not None and (model if better < 0.5 else 1.0 - model) >= SURE
    if surer < SURE or against:
        return "no evidence yet"
    return f"{'B' if better > 0.5 else 'A'} was {'' if surer >= LIKELY else 'probably '}better"


def compare(
    a: Tried, b: Tried, history: Sequence[Tried], memory: RigMemory, setup: RigSetup, seed: int = 0
) -> Comparison:
    """Hold two runs against each other.

    Mix, room, how cold and wet the ice was and how long it stood are brought to those of the
    earlier run; ratio, ice and grain are what is judged, and stay. Which run is A makes no
    difference but to the sign.

    Args:
        a: the one, timed to the same frozen share as the other.
        b: the other.
        history: all runs of the rig, from which its scatter is known.
        memory: what has been learned of the rig.
        setup: its bath limit.
        seed: seed of all draws.

    Raises:
        UsageError: they are the same run.
    """
    if a.run == b.run:
        raise UsageError(f"{a.run} is the same run as itself: name two")
    early, late = sorted((a, b), key=lambda run: (run.started_unix, run.run))
    heard = {run.run: run for run in history} | {run.run: run for run in (early, late)}
    ranked = sorted(heard.values(), key=lambda run: (run.started_unix, run.run))[-NEWEST:]
    rigs = drawn(memory, RIGS, seed)
    usual = usual_batch(ranked)
    steps = _steps(late, early)
    designs = design_of(a.start), design_of(b.start)
    cases = [
        *(case_of(run) for run in ranked),
        *(
            Case(composition, start, late.frozen_pct, late.took_s)
            for *_, start, composition in steps
        ),
        *(
            Case(early.composition, one.on(early.start), early.frozen_pct, early.took_s)
            for one in designs
        ),
    ]
    of_all = of_cases(cases, rigs)
    of_ranked, made, of_designs = of_all[: len(ranked)], of_all[len(ranked) : -2], of_all[-2:]

    def heard_of(some: Sequence[Tried]) -> Worlds:
        of = [one for run, one in zip(ranked, of_ranked, strict=True) if run in some]
        return evidence.heard(some, of, usual, evidence.USUAL_KAPPA, WORLDS, seed)

    worlds = heard_of(ranked)
    # What the two differ by is what is asked, and must not pass for scatter.
    others = [run for run in ranked if run.run not in (a.run, b.run)]
    scatter = heard_of(others)
    model: dict[str, float] = {}
    if designs[0] != designs[1]:
        starts = [one.on(early.start) for one in designs]
        model = _model(list(zip(starts, of_designs, strict=True)), worlds, usual)
    lines = [
        Line(
            what,
            was,
            becomes,
            minutes=_mean(worlds, lambda of: np.exp(of.log_s) / 60.0, after, before),
            bath_k=_mean(worlds, lambda of: of.then_c, after, before),
            ice_g=_mean(worlds, lambda of: of.melted_g, after, before),
        )
        for (what, was, becomes, _, _), before, after in zip(
            steps[1:], made, made[1:], strict=False
        )
    ]
    measures = _Measured(a, b, early, worlds, scatter.scatter, made[0], made[-1], model)
    limit_c = setup.bath.limit_c
    if limit_c is None:
        limit_c = bath_limit_c(freezing_curve(early.composition))
    return Comparison(
        a=a.run,
        b=b.run,
        earlier=early.run,
        frozen_pct=a.frozen_pct,
        a_design=design_of(a.start),
        b_design=design_of(b.start),
        lines=tuple(lines),
        measures=tuple(measures.all(limit_c)),
        scatter_pct=scatter.scatter_pct,
        runs=len(others),
        not_adjusted=tuple(_untold(a, b)),
        texture=(a.texture, b.texture),
    )


def _model(
    pairs: Sequence[tuple[Start, Outcome]], worlds: Worlds, usual: Start
) -> dict[str, float]:
    """Probability that B's ice and salt are better under the earlier run's conditions, by goal."""
    times, freezing, baths = (
        [of(start, one, usual) for start, one in pairs]
        for of in (worlds.log_s, worlds.log_freezing_s, worlds.then_c)
    )
    return {
        "fastest": float(np.mean(times[1] < times[0])),
        "smoothest": float(np.mean(freezing[1] < freezing[0])),
        "no-recharge": float(np.mean(baths[1] < baths[0])),
    }


_Step = tuple[str, str, str, Start, Composition]


def _steps(late: Tried, early: Tried) -> list[_Step]:
    """The later run, and what it becomes as one thing after another is as in the earlier one."""
    start, composition, to = late.start, late.composition, early.start
    found: list[_Step] = [("", "", "", start, composition)]

    def step(what: str, was: str, becomes: str, **change: float) -> None:
        nonlocal start
        start = replace(start, **change)  # type: ignore[arg-type]
        found.append((what, was, becomes, start, composition))

    if composition != early.composition:
        composition = early.composition
        found.append(("recipe", late.recipe, early.recipe, start, composition))
    if start.mix_g != to.mix_g:
        step("mix", f"{start.mix_g:.0f} g", f"{to.mix_g:.0f} g", mix_g=to.mix_g)
    for what, name, unit, digits in (
        ("mix at the pour", "mix_c", "°C", 1),
        ("room", "room_c", "°C", 1),
        ("ice", "ice_c", "°C", 1),
        ("water on the ice", "wet_pct", "%", 0),
    ):
        was, becomes = getattr(start, name), getattr(to, name)
        if was != becomes:
            step(
                what, _figure(was, digits, unit), _figure(becomes, digits, unit), **{name: becomes}
            )
    if abs(start.wait_s - to.wait_s) > 1.0:
        was, becomes = (f"{one.wait_s / 60.0:.1f} min" for one in (start, to))
        step("from ice to pour", was, becomes, wait_s=to.wait_s)
    return found


def _figure(value: float, digits: int, unit: str) -> str:
    return f"{value:.{digits}f} {unit}".replace("-", "−")


def _mean(
    worlds: Worlds, what: Callable[[Outcome], Array], after: Outcome, before: Outcome
) -> float:
    return float(np.mean((what(after) - what(before))[worlds.rig]))


def _untold(a: Tried, b: Tried) -> list[str]:
    found = []
    if a.scrapes != b.scrapes:
        found.append(f"the wall was scraped {a.scrapes} times in A, {b.scrapes} in B")
    if a.start.water_g != b.start.water_g:
        found.append(
            f"{a.start.water_g:.0f} g of water poured over the ice in A, "
            f"{b.start.water_g:.0f} g in B"
        )
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """What is measured of both runs.

    Args:
        a: the one.
        b: the other.
        early: the earlier of the two.
        worlds: how rig and kitchen may be.
        scatter: (m,) how times scatter from run to run, by the rig's other runs.
        was: what the model makes of the later run.
        becomes: and what under the earlier one's conditions.
        model: what the model says of B's ice and salt, by goal.
    """

    a: Tried
    b: Tried
    early: Tried
    worlds: Worlds
    scatter: Array
    was: Outcome
    becomes: Outcome
    model: Mapping[str, float]

    def all(self, limit_c: float) -> list[Compared]:
        """Every measure that both runs have."""
        a, b = self.a, self.b
        share = f"{a.frozen_pct:.0f} % of the water frozen"
        found = [
            self._time("fastest", f"from the pour to {share}", a.took_s, b.took_s, "log_s"),
            self._time(
                "smoothest", f"from the first ice to {share}", a.freezing_s, b.freezing_s,
                "log_freezing_s",
            ),
        ]  # fmt: skip
        if a.ice_melted_g and b.ice_melted_g:
            change = np.log(self.becomes.melted_g / self.was.melted_g)[self.worlds.rig]
            spread = np.full(self.worlds.rig.size, _MELT_SCATTER)
            values = self._adjusted(a.ice_melted_g, b.ice_melted_g, float(change.mean()))
            better = self._better(math.log(values[1] / values[0]), change, spread, _APART)
            raw = a.ice_melted_g, b.ice_melted_g
            found.append(Compared("least-ice", "ice melted by then", "g", *values, *raw, better))
        for goal, what, g in (
            ("least-ice", "ice put in", "ice_g"),
            ("least-salt", "salt put in", "salt_g"),
        ):
            put = getattr(a.start, g), getattr(b.start, g)
            found.append(Compared(goal, what, "g", *put, *put, None))
        if a.bath_then_c is not None and b.bath_then_c is not None:
            change = (self.was.then_c - self.becomes.then_c)[self.worlds.rig]
            spread = np.full(self.worlds.rig.size, BATH_SCATTER_K)
            raw = limit_c - a.bath_then_c, limit_c - b.bath_then_c
            moves = float(change.mean())
            values = raw[0] + moves * (a is not self.early), raw[1] + moves * (b is not self.early)
            better = self._better(values[0] - values[1], change, spread, _APART_K)
            words = "bath under its limit then"
            model = self.model.get("no-recharge")
            found.append(Compared("no-recharge", words, "K", *values, *raw, better, model=model))
        return found

    def _time(self, goal: str, text: str, a_s: float, b_s: float, name: str) -> Compared:
        worlds = self.worlds
        change = (getattr(self.becomes, name) - getattr(self.was, name))[worlds.rig]
        raw = a_s / 60.0, b_s / 60.0
        values = self._adjusted(*raw, float(change.mean()))
        apart = math.log(values[1] / values[0])
        better = self._better(apart, change, self.scatter, _APART)
        least = math.log(max(values[0] - MARGIN_MIN, 0.01) / values[0])
        by_margin = self._better(apart, change, self.scatter, _APART, least)
        model = self.model.get(goal)
        return Compared(goal, text, "min", *values, *raw, better, by_margin, model)

    def _adjusted(self, a: float, b: float, log_change: float) -> tuple[float, float]:
        factor = math.exp(log_change)
        return (a, b * factor) if self.a is self.early else (a * factor, b)

    @staticmethod
    def _better(
        apart: float, change: Array, scatter: Array, usually: float, least: float = 0.0
    ) -> float:
        """Probability that B lies below A by more than `-least`, in the terms of `apart`.

        Both runs scatter, and so does what the adjustment may be. Settings differ by `usually`
        before anything is seen, which draws what was seen towards no difference.
        """
        noise = 2.0 * scatter**2 + float(np.var(change))
        keeps = usually**2 / (usually**2 + noise)
        return float(np.mean(norm.cdf((least - keeps * apart) / np.sqrt(keeps * noise))))
