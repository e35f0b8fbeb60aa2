"""What the program holds true of mix and bath, and what it expects of them.

The mix: a cloud of possible rigs that the readings sift. The bath: balances of salt, ice and heat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from rigmon.estimate.afterwards import Afterwards
from rigmon.estimate.basecooling import BASE_ENDS, BASE_PLACES, BaseCooling, BaseState
from rigmon.estimate.basecooling import HORIZON_S as BASE_S
from rigmon.estimate.batch import Batch
from rigmon.estimate.bath import Watts
from rigmon.estimate.bathside import WITHHOLD_S, BathSide
from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.cloud import (
    FACTOR,
    MODEL_VERSION,
    PRIOR,
    RIG_PARAMETERS,
    WANDER_K,
    fresh,
)
from rigmon.estimate.expected import SKIP_S, Expected, Expecting, factor_after, unweighed_plateau
from rigmon.estimate.freezingoff import FreezingOff, freezing_off
from rigmon.estimate.levels import Levels
from rigmon.estimate.round import LEAST_BLOCKS, VIEWED, Round, RoundView
from rigmon.estimate.runsays import run_fit
from rigmon.estimate.times import LEVELS, quantiles
from rigmon.estimate.turning import p_softens
from rigmon.physics.mix import bath_limit_c, freezing_curve
from rigmon.records import (
    By,
    Estimate,
    Event,
    Forecast,
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
    Stage,
)

_RENEW_S = BLOCK_S
_RENEW_TOLD_S = 30.0
"""The round is looked at this often [s]; the second once its plateau has been announced."""

_OFTEN_S = 30.0
"""A mix that is read more seldom [s] says nothing of its rig by when its plateau is announced."""

_LONGEST_S = 7200.0
"""A round that has gone on for so long is not followed any further [s]: a mark was forgotten."""


class Estimator:
    """What is known of mix and bath from the readings so far, and what will come of it.

    Args:
        recipe: the mix, with its composition; None if not known.
        rig: the rig.
        prior: what is believed of it.
        seed: seed of all chance in it.
    """

    def __init__(self, recipe: Recipe | None, rig: RigSetup, prior: RigPrior, seed: int) -> None:
        self._rig = rig
        self._prior = prior if prior.model_version == MODEL_VERSION else PRIOR
        composition = recipe.composition if recipe is not None else None
        self._curve = freezing_curve(composition) if composition is not None else None
        self._mass_g = recipe.mass_g if recipe is not None else None
        self.bath_limit_c = rig.bath.limit_c
        if self.bath_limit_c is None and self._curve is not None:
            self.bath_limit_c = bath_limit_c(self._curve)
        self.freezing_c = self._curve.initial_c if self._curve is not None else None
        self.looks_ahead = True
        self._normal = np.random.default_rng(seed).standard_normal((VIEWED, 3))
        self._seed = seed
        self._levels = Levels(rig.probes)
        self._batch = Batch()
        self._bath = BathSide(rig, self._prior, self._levels, self._batch)
        self._told_round = 0
        self._told: tuple[Expected | None, float] = None, 0.0
        self._expecting = (
            Expecting(self._curve, rig, self._prior, seed) if self._curve is not None else None
        )
        # A core is read off the curve once a second and changes once a minute.
        self._read_off = (math.nan, math.nan), (math.nan, math.nan)
        self._base: BaseCooling | None = None
        self._base_place: Place | None = None
        self._round: Round | None = None
        self._view: RoundView | None = None
        self._after = (
            Afterwards(self._curve, self._prior, seed, self._levels, self._batch)
            if self._curve is not None
            else None
        )

    def feed(self, item: Reading | Mark) -> None:
        """Take in a mark, or an accepted and corrected reading [°C] of a probe that has a place."""
        if isinstance(item, Mark):
            self._hear(item)
            return
        place = self._levels.take(item)
        if item.value is None:
            return
        if self._base is not None and place in BASE_PLACES:
            self._base_place = self._base_place or place
            if place is self._base_place:
                self._base.feed(item.t, item.value)
        bath_c = self._levels.newest(Place.BATH)
        if place is Place.BATH and bath_c is not None:
            self._bath.carry_on(item.t, bath_c, self._wall_w(item.t))
        elif place is Place.ROOM:
            self._bath.read_room(item.value)

    def place_probe(self, name: str, place: Place) -> None:
        """Say where a probe sits that the configuration does not name."""
        self._levels.place(name, place)

    def swap_probes(self, since_s: float) -> None:
        """The probes of bath and mix have sat in each other's place since `since_s` [s]."""
        self._levels.swap(since_s)
        self._round = self._view = None

    def plateau_told(self) -> None:
        """Take in that this round's plateau has been announced: it no longer lies ahead."""
        self._told_round = self._batch.round
        often = self._levels.blocks[Place.MIX].usual_gap_s() <= _OFTEN_S
        if self._view is not None and self._in_first_round() and often:
            self._told = self._weighed(), self._view.t

    def _hear(self, mark: Mark) -> None:
        mix_g = mark.detail.get("mix_g")
        if mix_g is not None and mark.word in (MarkWord.POUR, MarkWord.BEAT_START):
            self._mass_g = float(mix_g)
            # A round already followed, its pour having been seen, is followed anew with this mass.
            self._round = self._view = None
        if self._expecting is not None:
            self._expecting.hear(mark)
            # What was weighed may be told once the round is under way.
            if self._round is not None and self._in_first_round():
                self._round.expected = self._weighed() or self._round.expected
        if mark.word is MarkWord.START and mark.detail.get("stage") == Stage.BASE:
            self._base = BaseCooling(self._levels.sd_k[Place.MIX], self._seed)
        elif mark.word in BASE_ENDS:
            self._base = None
        # That there is ice can be seen; how much there is, only the maker can say.
        if mark.word is not MarkWord.ICE_IN or mark.by is not By.DETECTED:
            self._bath.hear(mark)
        self._batch.hear(mark)
        if mark.word is MarkWord.SCRAPE and self._round is not None and self._in_first_round():
            self._round.scraped()
        if self._after is not None:
            self._after.hear(mark, self._mass_g)

    def _look(self, t: float) -> RoundView | None:
        """The view of the first round, at most one block old; None outside it."""
        batch = self._batch
        if self._curve is None or batch.poured_s is None or not self._in_first_round():
            return None
        if t - batch.poured_s > _LONGEST_S:
            return None
        renew_s = _RENEW_TOLD_S if self._told_round else _RENEW_S
        if self._view is None or not 0.0 <= t - self._view.t < renew_s:
            if self._round is None:
                if (
                    self._levels.blocks[Place.MIX].since(batch.poured_s + SKIP_S)[0].size
                    < LEAST_BLOCKS
                ):
                    return None
                self._round = Round(
                    self._weighed() or unweighed_plateau(batch.poured_s, self._prior),
                    self._curve,
                    self._mass_g,
                    fresh(self._prior),
                    self._levels.sd_k[Place.MIX],
                    self._rig.plateau,
                    self._seed,
                )
            self._view = self._round.look(t, self._levels)
        return self._view

    def _weighed(self) -> Expected | None:
        """When the first round's plateau is to be expected, if mix and bath were weighed."""
        poured_s = self._batch.poured_s
        if self._expecting is None or self._mass_g is None or poured_s is None:
            return None
        return (
            self._expecting.at(poured_s, self._mass_g, self._levels) if self.looks_ahead else None
        )

    def _in_first_round(self) -> bool:
        return self._batch.beating and self._batch.round == 1

    def _wall_w(self, t: float) -> Watts | None:
        """Heat out of the mix into the bath, what nobody weighed counted in; None if not known."""
        if self._after is not None and (mix := self._after.mix(t, self._view)) is not None:
            return mix.wall_w()
        if self._view is None or not self._in_first_round():
            return None
        return self._view.wall_w if self._mass_g is not None else self._view.unweighed_w()

    def at(self, t: float) -> Estimate:
        """What holds at run time `t` [s]; what cannot be known is None, and `unsaid` says why."""
        unsaid: dict[str, str] = {}
        bath_c, mix_c = self._levels.level(Place.BATH, t), self._levels.level(Place.MIX, t)
        frozen, frozen_sd = self._frozen(t, mix_c, unsaid)
        cooling = self._cooling(t)
        if cooling is None:
            unsaid["cooling_w"] = "needs a recipe, the mass of the mix and a minute of round 1"
        bath = self._bath.at(bath_c) if bath_c is not None else None
        if bath is None:
            unsaid["brine_pct"] = unsaid["ice_left_g"] = "needs a bath probe"
        elif bath.ice_left_g is None:
            unsaid["ice_left_g"] = "needs all ice weighed: give ice_g with ice-in and recharge"
        offset = self._view.offset_k if self._view is not None else (None, None)
        wall = self._after.wall_g(t, self._view) if self._after is not None else (None, None)
        return Estimate(
            t=t,
            bath_c=bath_c,
            bath_c_sd=self._levels.sd_k[Place.BATH] if bath_c is not None else None,
            mix_c=mix_c,
            mix_c_sd=self._levels.sd_k[Place.MIX] if mix_c is not None else None,
            frozen_pct=frozen,
            frozen_pct_sd=frozen_sd,
            cooling_w=cooling.mean if cooling is not None else None,
            cooling_w_sd=cooling.sd if cooling is not None else None,
            ice_left_g=bath.ice_left_g if bath is not None else None,
            ice_left_g_sd=bath.ice_left_g_sd if bath is not None else None,
            brine_pct=bath.brine_pct if bath is not None else None,
            brine_pct_sd=bath.brine_pct_sd if bath is not None else None,
            salt_g=self._bath.salt_g,
            brine_water_g=bath.brine_water_g if bath is not None else None,
            mix_offset_k=offset[0],
            mix_offset_k_sd=offset[1],
            wall_g=wall[0],
            wall_g_sd=wall[1],
            ice_put_g=self._bath.ice_put_g,
            unsaid=unsaid,
        )

    def _frozen(
        self, t: float, mix_c: float | None, unsaid: dict[str, str]
    ) -> tuple[float | None, float | None]:
        """Frozen share [%] and its standard deviation; once packed, that of the core."""
        if self._curve is None:
            unsaid["frozen_pct"] = "needs a recipe"
        elif self._batch.packed:
            core_c = self._levels.level(Place.CORE, t)
            if core_c is not None:
                return self._by_curve(core_c, self._levels.sd_k[Place.CORE])
            unsaid["frozen_pct"] = "needs a core probe"
        elif self._batch.poured_s is None:
            unsaid["frozen_pct"] = "the mix is not in the bowl yet"
        elif self._after is not None and (mix := self._after.mix(t, self._view)) is not None:
            return mix.frozen_pct()
        elif self._batch.resting(t):
            unsaid["frozen_pct"] = "a probe in the middle does not see the wall freeze"
        else:
            return self._frozen_in_bowl(t, mix_c, unsaid)
        return None, None

    def _frozen_in_bowl(
        self, t: float, mix_c: float | None, unsaid: dict[str, str]
    ) -> tuple[float | None, float | None]:
        """What the round's view says; outside the first round what the probe says."""
        view = self._look(t)
        if view is None and self._batch.round == 1 and self._batch.paused(t):
            view = self._view
        if view is not None:
            return view.frozen_pct
        if mix_c is None:
            unsaid["frozen_pct"] = "needs a mix probe"
            return None, None
        offset, sd = (
            self._view.offset_k if self._view is not None else (0.0, self._levels.sd_k[Place.MIX])
        )
        return self._by_curve(mix_c - offset, math.hypot(WANDER_K, sd))

    def _by_curve(self, mix_c: float, sd_k: float) -> tuple[float, float]:
        """Frozen share of a mix of `mix_c` [°C], known to `sd_k` [K], and its deviation [%]."""
        assert self._curve is not None  # noqa: S101 - asked by the callers
        if self._read_off[0] != (mix_c, sd_k):
            low, share, high = (self._curve.frozen_pct(mix_c + d) for d in (sd_k, 0.0, -sd_k))
            self._read_off = (mix_c, sd_k), (share, max(0.5 * (high - low), 0.1))
        return self._read_off[1]

    def _cooling(self, t: float) -> Watts | None:
        """Heat out of a weighed mix through the wall."""
        view = self._look(t)
        return None if view is None or self._mass_g is None else view.wall_w

    def p_over(self, t: float) -> float:
        """Probability that the first round's plateau is here; 0 outside a first round."""
        view = self._look(t)
        return view.p_over if view is not None and self._ripe(t) else 0.0

    def _ripe(self, t: float) -> bool:
        return t - (self._batch.poured_s or 0.0) >= WITHHOLD_S

    def forecast(self, t: float) -> tuple[Forecast, ...]:
        """Forecasts of what lies ahead: the first round's plateau, the bath's limit, its ice."""
        told = self._base_cold(t)
        known = self._curve is not None and self._in_first_round()
        if known and not self._told_round:
            told.append(Forecast(t, Event.PLATEAU, self._batch.round, *self.plateau_s(t)))
        if self._after is not None:
            told += self._after.forecasts(t, self._view)
        told += self._bath.ahead(t, self.bath_limit_c, self._wall_w(t), self._normal)
        return tuple(told)

    def plateau_s(self, t: float, levels: Sequence[float] = LEVELS) -> tuple[float | None, ...]:
        """Run times by which the first round's plateau comes, with these probabilities [s].

        None where it lies beyond the horizon; nothing while nothing can be forecast.
        """
        if not self._in_first_round() or not self._ripe(t):
            return ()
        expected = self._round.expected if self._look(t) and self._round else self._weighed()
        return () if expected is None else expected.times(t, levels)

    def freezing_off(self, t: float) -> FreezingOff | None:
        """Whether the mix freezes elsewhere than its recipe says; None outside a first round."""
        view = self._look(t)
        if view is None or self._curve is None:
            return None
        return freezing_off(view, self._curve, self._levels.sd_k[Place.MIX])

    def base(self, t: float) -> BaseState | None:
        """The cooked base; None before its first reading, and once there is ice."""
        return None if self._base is None else self._base.at(t)

    def _base_cold(self, t: float) -> list[Forecast]:
        base = self.base(t)
        if self._base is None or base is None or base.cold:
            return []
        times = self._base.cold_s()
        if times is None:
            return [Forecast(t, Event.BASE_COLD, 0)]
        reached = quantiles(np.maximum(times, t), t + BASE_S, self._base.weights())
        return [Forecast(t, Event.BASE_COLD, 0, *reached)]

    def p_melting(self, t: float) -> float:
        """Probability that what is beaten in a later round now only loses ice; 0 outside one."""
        by_heat = None if self._after is None else self._after.p_melting(t, self._view)
        return p_softens(t, by_heat, self._batch, self._levels)

    def p_rested(self, t: float) -> float:
        """Probability that the rest has done its work; 0 outside one."""
        mix = None if self._after is None else self._after.mix(t, self._view)
        return 0.0 if mix is None else mix.p_rested()

    def why(self, t: float) -> Slowdown | None:
        """What slows the stiffening; None before it has begun."""
        view = self._look(t)
        return view.slowdown if view is not None else None

    def ensemble(self, t: float, n: int) -> RigStates | None:
        """The first `n` members (at most `VIEWED`) of the belief; None outside a first round."""
        view = self._look(t)
        if view is None:
            return None
        members = view.members
        bath = self._bath.at(view.bath_c)
        left = np.full(min(n, VIEWED), np.nan)
        if bath.ice_left_g is not None and bath.ice_left_g_sd is not None:
            left = np.clip(bath.ice_left_g + bath.ice_left_g_sd * self._normal[:n, 1], 0.0, None)
        return RigStates(
            t=t,
            names=self._prior.names[:RIG_PARAMETERS],
            parameters=view.rig_parameters()[:n],
            mix_c=members.mix_c[:n],
            frozen_pct=members.frozen_pct[:n],
            ice_left_g=left,
        )

    def finish(self) -> RunFit | None:
        """What this run says of the rig; None if no first round was seen with a weighed mix."""
        rig = self._round.rig() if self._round is not None else None
        if rig is None or self._mass_g is None:
            return None
        prior = fresh(self._prior)
        mean, covariance = np.array(prior.mean), np.array(prior.covariance)
        mean[:RIG_PARAMETERS], covariance[:RIG_PARAMETERS, :RIG_PARAMETERS] = rig
        # A round that ended before its plateau does not say when that would have come.
        expected, announced_s = self._told
        if expected is not None:
            after = factor_after(prior, expected, announced_s)
            mean[FACTOR], covariance[FACTOR, FACTOR] = after
        return run_fit(prior, mean, covariance)
