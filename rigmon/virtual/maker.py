"""The person at the virtual rig: what is done when, what is said of it, and how alarms are met."""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import dataclass, field

from numpy.random import Generator

from rigmon.records import DetailValue, Mark, MarkWord

_ANSWERS: Mapping[str, tuple[MarkWord, tuple[float, float]]] = {
    "plateau-reached": (MarkWord.BEAT_STOP, (10.0, 20.0)),
    "melt-onset": (MarkWord.BEAT_STOP, (5.0, 12.0)),
    "rest-over": (MarkWord.REST_STOP, (30.0, 90.0)),
    "hardened": (MarkWord.END, (300.0, 900.0)),
}
"""What is done about an alarm and the time it takes, least and most [s]."""

_ADVISED = {"ice_g": "ice_g", "salt_g": "salt_g", "drain_g": "drained_g"}
_FETCH_S = (60.0, 120.0)
_LEAST_RECHARGE_G = 50.0


@dataclass(frozen=True, slots=True)
class Recharge:
    """Ice and salt added without having been told to.

    Args:
        after_s: how long after beating began [s].
        detail: the amounts, as in the mark.
    """

    after_s: float
    detail: Mapping[str, DetailValue]


@dataclass(frozen=True, slots=True)
class Rest:
    """Everything after round 1.

    Args:
        where: `rig` rests with its bath, `bowl` is lifted out of it.
        for_s: how long, unless told sooner [s].
        round_2_s: how long round 2 goes on, unless told sooner [s].
        back: a bowl that was lifted out of its bath stands in it again in round 2, not on the
            table.
        mix_in_g: what is folded in at the end [g].
        mix_in_c: its temperature [°C].
        tubs: how many tubs are packed.
        harden_s: how long they harden, unless told sooner [s].
    """

    where: str = "bowl"
    for_s: float = 3600.0
    round_2_s: float = 150.0
    back: bool = False
    mix_in_g: float = 0.0
    mix_in_c: float = -15.0
    tubs: int = 2
    harden_s: float = 24 * 3600.0


@dataclass(frozen=True, slots=True)
class Plan:
    """What a maker means to do. Times that depend on an alarm fall back on the plan's own.

    Args:
        ice_in: the bath's amounts and kinds, as in the mark.
        pour: mass and temperature of the mix, as in the mark.
        pour_s: run time of pouring [s].
        beat_for_s: length of round 1, unless told sooner [s].
        slow_s: for how long beating begins at low speed [s].
        slow_speed: that speed, as a share of full.
        scrapes_s: when the wall is scraped, counted from the beginning of beating [s].
        recharge: ice added without being told to.
        spare_ice_g: ice at hand for a recharge that is advised [g].
        rest: what follows round 1; None ends the run there.
        forgotten: marks that are done but not said.
        bare: marks whose amounts are not said.
    """

    ice_in: Mapping[str, DetailValue]
    pour: Mapping[str, DetailValue]
    pour_s: float = 180.0
    beat_for_s: float = 1200.0
    slow_s: float = 0.0
    slow_speed: float = 0.7
    scrapes_s: tuple[float, ...] = ()
    recharge: Recharge | None = None
    spare_ice_g: float = 0.0
    rest: Rest | None = None
    forgotten: frozenset[MarkWord] = frozenset()
    bare: frozenset[MarkWord] = frozenset()


@dataclass(slots=True)
class Maker:
    """Carries a plan out.

    Args:
        plan: what is meant to be done.
        rng: source of a human's delays.
    """

    plan: Plan
    rng: Generator
    round: int = 0
    _beat_since: float | None = None
    _spare_g: float = 0.0
    _agenda: list[tuple[float, int, Mark]] = field(default_factory=list)
    _count: int = 0

    def __post_init__(self) -> None:
        self._spare_g = self.plan.spare_ice_g
        self._later(0.0, MarkWord.ICE_IN, self.plan.ice_in)

    def next_s(self) -> float | None:
        """Run time of what is done next [s]; None when all is done."""
        return self._agenda[0][0] if self._agenda else None

    def step(self, t: float) -> list[Mark]:
        """What is done up to `t` [s], in its order."""
        done = []
        while self._agenda and self._agenda[0][0] <= t:
            mark = heapq.heappop(self._agenda)[2]
            self._follow(mark)
            done.append(mark)
        return done

    def says(self, mark: Mark) -> Mark | None:
        """What the maker tells the program of something done; None where it is forgotten."""
        if mark.word in self.plan.forgotten:
            return None
        return Mark(mark.t, mark.word, mark.by) if mark.word in self.plan.bare else mark

    def speed(self, t: float) -> float:
        """Speed of the beaters as a share of full; 0 while they stand."""
        if self._beat_since is None:
            return 0.0
        slow = self.round == 1 and t - self._beat_since < self.plan.slow_s
        return self.plan.slow_speed if slow else 1.0

    def hears(self, code: str, t: float, advice: Mapping[str, DetailValue] | None = None) -> None:
        """An alarm was raised at `t` [s]; the maker acts on it after a while.

        Args:
            code: the alarm's code.
            t: run time [s].
            advice: its figures; `ice_g`, `salt_g` and `drain_g` make a recharge.
        """
        if code in _ANSWERS:
            word, delay_s = _ANSWERS[code]
            self._sooner(word, t + float(self.rng.uniform(*delay_s)))
        amounts = {
            _ADVISED[key]: float(round(float(value) / 10.0) * 10)
            for key, value in (advice or {}).items()
            if key in _ADVISED
        }
        beating = self._beat_since is not None
        if code == "bath-limit-near" and beating and amounts.get("ice_g", 0.0) >= _LEAST_RECHARGE_G:
            ice_g = min(amounts["ice_g"], self._spare_g)
            if ice_g < _LEAST_RECHARGE_G:
                return
            self._spare_g -= ice_g
            kinds = {k: v for k, v in self.plan.ice_in.items() if k in {"ice_kind", "salt_kind"}}
            detail = {**amounts, "ice_g": ice_g, **kinds}
            self._later(t + float(self.rng.uniform(*_FETCH_S)), MarkWord.RECHARGE, detail)

    def _later(
        self, t: float, word: MarkWord, detail: Mapping[str, DetailValue] | None = None
    ) -> None:
        self._count += 1
        t = round(t, 1)
        heapq.heappush(self._agenda, (t, self._count, Mark(t, word, detail=dict(detail or {}))))

    def _sooner(self, word: MarkWord, t: float) -> None:
        """Move something that is coming anyway forward to `t`."""
        planned = next((entry for entry in self._agenda if entry[2].word is word), None)
        if planned is not None and planned[0] > t:
            self._agenda.remove(planned)
            heapq.heapify(self._agenda)
            self._later(t, word, planned[2].detail)

    def _follow(self, mark: Mark) -> None:
        plan, t = self.plan, mark.t
        match mark.word:
            case MarkWord.ICE_IN:
                self._later(t + plan.pour_s, MarkWord.POUR, plan.pour)
            case MarkWord.POUR:
                self._later(t + 15.0, MarkWord.BEAT_START)
            case MarkWord.BEAT_START:
                self._beat(t)
            case MarkWord.BEAT_STOP:
                self._stop(t)
            case MarkWord.REST_START if plan.rest:
                self._later(t + plan.rest.for_s, MarkWord.REST_STOP)
            case MarkWord.REST_STOP:
                back = plan.rest is not None and plan.rest.back
                self._later(t + 40.0, MarkWord.BEAT_START, {"where": "rig"} if back else None)
            case MarkWord.MIX_IN:
                self._later(t + 60.0, MarkWord.PACK, self._tubs())
            case MarkWord.PACK:
                self._later(t + 420.0, MarkWord.HARDEN_START)
            case MarkWord.HARDEN_START if plan.rest:
                self._later(t + plan.rest.harden_s, MarkWord.END)
            case MarkWord.END:
                self._agenda.clear()
            case _:
                pass

    def _beat(self, t: float) -> None:
        plan = self.plan
        self.round += 1
        self._beat_since = t
        if self.round > 1:
            self._later(t + (plan.rest.round_2_s if plan.rest else 0.0), MarkWord.BEAT_STOP)
            return
        self._later(t + plan.beat_for_s, MarkWord.BEAT_STOP)
        for after_s in plan.scrapes_s:
            self._later(t + after_s, MarkWord.SCRAPE)
        if plan.recharge:
            self._later(t + plan.recharge.after_s, MarkWord.RECHARGE, plan.recharge.detail)

    def _stop(self, t: float) -> None:
        # What was still to be done while beating is not done any more.
        self._agenda.clear()
        self._beat_since = None
        rest = self.plan.rest
        if rest is None:
            self._later(t + 30.0, MarkWord.END)
        elif self.round == 1:
            self._later(t + 60.0, MarkWord.REST_START, {"where": rest.where})
        elif rest.mix_in_g > 0.0:
            detail = {"mix_g": rest.mix_in_g, "mix_c": rest.mix_in_c}
            self._later(t + 30.0, MarkWord.MIX_IN, detail)
        else:
            self._later(t + 60.0, MarkWord.PACK, self._tubs())

    def _tubs(self) -> dict[str, DetailValue]:
        return {"tubs": float(self.plan.rest.tubs)} if self.plan.rest else {}
