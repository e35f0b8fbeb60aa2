"""The first estimator: a freezing-knee curve for the mix, heat and mass balances for the bath."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rigmon.estimate.bath import Bath
from rigmon.estimate.blocks import BLOCK_S, Blocks
from rigmon.estimate.knee import DECAY, FILM, KAPPA, MODEL_VERSION, PARASITIC, PRIOR, Mix
from rigmon.estimate.round import HORIZON_S, RoundView, look, quantiles
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import (
    Estimate,
    Event,
    Forecast,
    IceKind,
    Mark,
    MarkWord,
    Place,
    Reading,
    Recipe,
    RigPrior,
    RigSetup,
    RigStates,
    RunFit,
    Slowdown,
)

Array = NDArray[np.float64]

MEMBERS = 128
"""Parameter sets drawn for each forecast."""
WITHHOLD_S = 120.0
"""No forecast before a probe has been seen for this long (common practice, no source) [s]."""
_FRESH_S = 10.0
"""A temperature older than this is not the present one [s]."""
_FROZEN_FLOOR_PCT = 1.5
"""What the curve's frozen share may be off beyond its parameters [percentage points]."""
_WANDER_K = 0.15
"""Slow wander of a mix probe [K] (common practice, no source)."""

_STOPS = frozenset(
    {
        MarkWord.BEAT_STOP,
        MarkWord.REST_START,
        MarkWord.PACK,
        MarkWord.HARDEN_START,
        MarkWord.END,
    }
)


@dataclass(slots=True)
class _Beating:
    """What the marks say of the beating so far."""

    pour_s: float | None = None
    going: bool = False
    rounds: int = 0
    rested: bool = False

    @property
    def first_round(self) -> bool:
        return self.going and self.rounds == 1


class Estimator:
    """What is known of mix and bath from the readings so far, and what will come of it.

    Args:
        recipe: the mix, with its composition; None if not known.
        rig: the rig.
        prior: what is believed of it.
        seed: seed of the fixed random numbers that spread a belief into members.
    """

    def __init__(self, recipe: Recipe | None, rig: RigSetup, prior: RigPrior, seed: int) -> None:
        self._rig = rig
        self._prior = prior if prior.model_version == MODEL_VERSION else PRIOR
        composition = recipe.composition if recipe is not None else None
        self._curve = freezing_curve(composition) if composition is not None else None
        self._mass_g = recipe.mass_g if recipe is not None else None
        limit_c = rig.bath.limit_c
        if limit_c is None and self._curve is not None:
            limit_c = bath_limit_c(self._curve)
        self.bath_limit_c = limit_c
        self._normal = np.random.default_rng(seed).standard_normal((MEMBERS, 10))
        self._blocks = {place: Blocks() for place in Place}
        self._places = {probe.name: probe.sits_in for probe in rig.probes}
        self._newest: dict[Place, tuple[float, float]] = {}
        self._first: dict[Place, float] = {}
        self._bath = Bath(rig)
        self._carried_to: float | None = None
        self._was_cold = False
        self._beating = _Beating()
        self._view: RoundView | None = None

    # ── what comes in ────────────────────────────────────────────────────────────────────────────

    def feed(self, item: Reading | Mark) -> None:
        """Take in a mark, or an accepted and corrected reading [°C] of a probe that has a place."""
        if isinstance(item, Mark):
            self._hear(item)
            return
        place = self._places.get(item.probe)
        if place is None or item.value is None or place is Place.MIXER:
            return
        weight = 1.0 if item.sd_k is None else min(1.0, (0.2 / item.sd_k) ** 2)
        self._blocks[place].add(item.t, item.value, weight)
        self._first.setdefault(place, item.t)
        if place not in self._newest or item.t >= self._newest[place][0]:
            self._newest[place] = (item.t, item.value)
        if place is Place.ROOM:
            self._bath.room_c = item.value
        elif place is Place.BATH:
            self._carry_bath(item.t)

    def place_probe(self, name: str, place: Place) -> None:
        """Say where a probe sits that the configuration does not name."""
        self._places[name] = place

    def _hear(self, mark: Mark) -> None:
        amounts = {key: v for key, v in mark.detail.items() if not isinstance(v, str)}
        beating = self._beating
        if mark.word in (MarkWord.ICE_IN, MarkWord.RECHARGE):
            self._charge(mark, amounts)
        elif mark.word in (MarkWord.POUR, MarkWord.BEAT_START):
            self._mass_g = amounts.get("mix_g", self._mass_g)
            if beating.pour_s is None:
                beating.pour_s = mark.t
            if beating.rounds == 0 or (beating.rested and not beating.going):
                beating.rounds += 1
            beating.going, beating.rested = True, False
        elif mark.word in _STOPS:
            beating.going = False
            beating.rested = beating.rested or mark.word is not MarkWord.BEAT_STOP

    def _charge(self, mark: Mark, amounts: dict[str, float]) -> None:
        usual = self._rig.bath
        scoop_g = self._rig.scoop_g
        scooped = amounts.get("ice_scoops", 0.0) * scoop_g if scoop_g else None
        fresh = mark.word is MarkWord.ICE_IN
        ice_g = amounts.get("ice_g", scooped or (usual.ice_g if fresh else None))
        salt_g = amounts.get("salt_g", usual.salt_g if fresh else None)
        kind = mark.detail.get("ice_kind")
        if kind is not None:
            self._bath.ice_kind = IceKind(str(kind))
        if "drained_g" in amounts and Place.BATH in self._newest:
            self._bath.drain(amounts["drained_g"], self._newest[Place.BATH][1])
        if ice_g is None and salt_g is None:
            return
        wet = amounts.get("wet_pct")
        self._bath.charge(
            ice_g or 0.0,
            salt_g or 0.0,
            amounts.get("water_g", usual.water_g if fresh else 0.0),
            amounts.get("ice_c"),
            None if wet is None else wet / 100.0,
        )

    def _carry_bath(self, t: float) -> None:
        """Take the bath's heat balance on to `t`, a block at a time."""
        if self._carried_to is None:
            self._carried_to = t
        while t - self._carried_to >= BLOCK_S:
            step = min(t - self._carried_to, 60.0)
            bath_c = self._newest[Place.BATH][1]
            watts, sd = self._cooling(self._carried_to)
            self._bath.carry_on(step, bath_c, watts, sd)
            self._carried_to += step

    # ── what is known ────────────────────────────────────────────────────────────────────────────

    def _level(self, place: Place, t: float) -> float | None:
        """Mean of the last seconds [°C], or the newest where readings are sparse; None if old."""
        newest = self._newest.get(place)
        if newest is None:
            return None
        mean = self._blocks[place].mean_of_last(t, BLOCK_S)
        if mean is not None:
            return mean
        sparse = self._blocks[place].usual_gap_s()
        return newest[1] if t - newest[0] <= max(_FRESH_S, 3.0 * sparse) else None

    def _uncertainty(self, place: Place) -> float:
        known = [probe.uncertainty_k for probe in self._rig.probes if probe.sits_in is place]
        return min(known, default=0.5)

    def _look(self, t: float) -> RoundView | None:
        """The view of the first round, at most one block old."""
        beating = self._beating
        if self._curve is None or beating.pour_s is None or not beating.first_round:
            return None
        if self._view is not None and 0.0 <= t - self._view.t < BLOCK_S:
            return self._view
        self._view = look(
            t,
            beating.pour_s,
            self._blocks[Place.MIX],
            self._blocks[Place.BATH],
            Mix(self._curve, self._mass_g),
            self._prior,
            self._uncertainty(Place.MIX),
            self._rig.plateau,
            self._normal[:, :7],
            self._view,
        )
        return self._view

    def at(self, t: float) -> Estimate:
        """What holds at run time `t` [s]; what cannot be known is None, and `unsaid` says why."""
        unsaid: dict[str, str] = {}
        bath_c, mix_c = self._level(Place.BATH, t), self._level(Place.MIX, t)
        bath_sd, mix_sd = self._uncertainty(Place.BATH), self._uncertainty(Place.MIX)
        frozen, frozen_sd = self._frozen(t, mix_c, unsaid)
        watts, watts_sd = self._cooling(t)
        if watts is None:
            unsaid["cooling_w"] = (
                "needs the mass of the mix, a recipe and two minutes of the first round"
            )
        bath = self._bath.at(bath_c, bath_sd) if bath_c is not None else None
        if bath is None:
            unsaid["brine_pct"] = unsaid["ice_left_g"] = "needs a bath probe"
        elif bath.ice_left_g is None:
            unsaid["ice_left_g"] = "needs the ice weighed: mark ice-in with ice_g and salt_g"
        offset = self._view.offset_k() if self._view is not None else (None, None)
        return Estimate(
            t=t,
            bath_c=bath_c,
            bath_c_sd=bath_sd if bath_c is not None else None,
            mix_c=mix_c,
            mix_c_sd=mix_sd if mix_c is not None else None,
            frozen_pct=frozen,
            frozen_pct_sd=frozen_sd,
            cooling_w=watts,
            cooling_w_sd=watts_sd,
            ice_left_g=bath.ice_left_g if bath is not None else None,
            ice_left_g_sd=bath.ice_left_g_sd if bath is not None else None,
            brine_pct=bath.brine_pct if bath is not None else None,
            brine_pct_sd=bath.brine_pct_sd if bath is not None else None,
            salt_g=self._bath.salt_g if self._bath.weighed else None,
            brine_water_g=(
                self._bath.ice_g + self._bath.water_g - bath.ice_left_g
                if bath is not None and bath.ice_left_g is not None
                else None
            ),
            mix_offset_k=offset[0],
            mix_offset_k_sd=offset[1],
            unsaid=unsaid,
        )

    def _frozen(
        self, t: float, mix_c: float | None, unsaid: dict[str, str]
    ) -> tuple[float | None, float | None]:
        if self._curve is None:
            unsaid["frozen_pct"] = "needs a recipe"
            return None, None
        if self._beating.pour_s is None:
            unsaid["frozen_pct"] = "the mix is not in the bowl yet"
            return None, None
        if not self._beating.going and self._beating.rested:
            unsaid["frozen_pct"] = "a probe in the middle does not see the wall freeze"
            return None, None
        offset, offset_sd = (
            self._view.offset_k() if self._view is not None else (0.0, self._uncertainty(Place.MIX))
        )
        direct = direct_sd = None
        if mix_c is not None:
            away = float(np.hypot(_WANDER_K, offset_sd))
            direct = self._curve.frozen_pct(mix_c - offset)
            low, high = (self._curve.frozen_pct(mix_c - offset + d) for d in (away, -away))
            direct_sd = max(0.5 * (high - low), 0.1)
        view = self._look(t)
        if view is None:
            if direct is None:
                unsaid["frozen_pct"] = "needs a mix probe"
            return direct, direct_sd
        curve, curve_sd = view.frozen_at(t)
        curve_sd = float(np.hypot(curve_sd, _FROZEN_FLOOR_PCT if curve > 0.5 else 0.0))
        if direct is None or direct_sd is None or curve <= 0.5:
            return curve, curve_sd
        trust = direct_sd**-2 / (direct_sd**-2 + max(curve_sd, 1e-3) ** -2)
        together = trust * direct + (1.0 - trust) * curve
        return together, float((direct_sd**-2 + max(curve_sd, 1e-3) ** -2) ** -0.5)

    def _cooling(self, t: float) -> tuple[float | None, float | None]:
        """Heat out of the mix through the wall [W] and its standard deviation."""
        view = self._look(t)
        if view is None or self._mass_g is None:
            return None, None
        return float(np.mean(view.wall_w)), float(np.std(view.wall_w))

    def p_over(self, t: float) -> float:
        """Probability that the first round's plateau is here; 0 outside a first round."""
        view = self._look(t)
        return view.p_over() if view is not None and self._ripe(t) else 0.0

    def _ripe(self, t: float) -> bool:
        return t - (self._beating.pour_s or 0.0) >= WITHHOLD_S

    def forecast(self, t: float) -> tuple[Forecast, ...]:
        """Forecasts of what lies ahead, the plateau of the first round and the bath's limit."""
        told = []
        if self._beating.first_round:
            view = self._look(t)
            if view is not None and self._ripe(t):
                told.append(Forecast(t, Event.PLATEAU, 1, *view.plateau_quantiles()))
            else:
                told.append(Forecast(t, Event.PLATEAU, 1))
        bath = self._bath_limit(t)
        if bath is not None:
            told.append(bath)
        return tuple(told)

    def _bath_limit(self, t: float) -> Forecast | None:
        """When the bath warms through its limit; None before it is cold and after it has."""
        limit_c = self.bath_limit_c
        level = self._level(Place.BATH, t)
        if limit_c is None or level is None:
            return None
        if level >= limit_c:
            return None
        rounds = max(self._beating.rounds, 1)
        trend = self._blocks[Place.BATH].trend(t, 180.0)
        if trend is None or t - self._first[Place.BATH] < WITHHOLD_S:
            return Forecast(t, Event.BATH_LIMIT, rounds)
        watts, _ = self._cooling(t)
        times = self._bath.crossing_s(level, trend[1], limit_c, watts, self._normal[:, 7:])
        return Forecast(t, Event.BATH_LIMIT, rounds, *quantiles(times + t, t + HORIZON_S))

    def why(self, t: float) -> Slowdown | None:
        """What slows the stiffening; None before it has begun."""
        view = self._look(t)
        if view is None:
            return None
        knee = float(np.median(view.knee_s))
        if not np.isfinite(knee):
            return None
        at_knee = self._blocks[Place.BATH].mean_of_last(knee, 4.0 * BLOCK_S)
        return view.slowdown(view.bath_c if at_knee is None else at_knee)

    def ensemble(self, t: float, n: int) -> RigStates | None:
        """The first `n` members (at most 128) of the belief; None outside a first round."""
        view = self._look(t)
        if view is None:
            return None
        share = view.frozen_pct[:n, 0]
        bath = self._bath.at(view.bath_c, self._uncertainty(Place.BATH))
        left = np.full(share.size, np.nan)
        if bath.ice_left_g is not None and bath.ice_left_g_sd is not None:
            left = np.clip(bath.ice_left_g + bath.ice_left_g_sd * self._normal[:n, 8], 0.0, None)
        return RigStates(
            t=t,
            names=self._prior.names,
            parameters=self._rig_parameters(view)[:n],
            mix_c=view.mix.curve.temperature_c(share),
            frozen_pct=share,
            ice_left_g=left,
        )

    def _rig_parameters(self, view: RoundView) -> Array:
        columns = view.theta[:, [KAPPA, PARASITIC, FILM, DECAY]].copy()
        columns[:, 0] += np.log(view.mix.heat_capacity_j_k)
        plateau = np.log(np.clip(view.plateau_s - view.pour_s, 60.0, 2.0 * HORIZON_S))
        return np.column_stack([columns, plateau])

    def finish(self) -> RunFit | None:
        """What this run says of the rig; None if no first round was seen with a weighed mix."""
        view = self._view
        if view is None or self._mass_g is None:
            return None
        members = self._rig_parameters(view)
        mean, covariance = members.mean(axis=0), np.cov(members.T)
        prior_sd = np.sqrt(np.diag(np.array(self._prior.covariance)))
        open_ = tuple(
            name
            for name, sd, before in zip(
                self._prior.names, np.sqrt(np.diag(covariance)), prior_sd, strict=True
            )
            if sd > 0.9 * before
        )
        return RunFit(
            names=self._prior.names,
            transforms=self._prior.transforms,
            mean=tuple(float(v) for v in mean),
            covariance=tuple(tuple(float(v) for v in row) for row in covariance),
            model_version=MODEL_VERSION,
            undetermined=open_,
        )
