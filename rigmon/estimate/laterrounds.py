"""After the first round: the mix at rest, and the rounds that follow.

The members of the first round's cloud go on as mixes in bowls of `rigmon.physics.mixside`, beside
the bath as it is measured. At rest the probe in the middle sees next to nothing, so that what they
do follows from heat alone; beaten again, those that the mix probe contradicts die out.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from rigmon.estimate.batch import Batch
from rigmon.estimate.bath import Watts
from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.cloud import BATH, BEATER, RISE, STIFFENING, SUPERCOOLING, UA
from rigmon.estimate.levels import Levels
from rigmon.estimate.round import RoundView
from rigmon.physics import mixside
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.mixside import ROOM_C, MixState
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import draw_rigs
from rigmon.records import Place, RigPrior

REST_OVER_PCT = 40.0
"""Mean frozen share at which a rest has done its work [%]."""

_SHELLS = 6
_REST_STEP_S, _BEAT_STEP_S = 5.0, 2.5
_AHEAD_REST_S, _REST_STEPS = 120.0, 60
_AHEAD_BEAT_S = (10.0,) * 30 + (60.0,) * 15
_LOOK_S, _LOOK_STEPS = 20.0, 4
_LATEST_BLOCK_S = 1.5 * BLOCK_S
_FREEZER_C, _FREEZER_SD = -18.0, 2.5
"""The freezer's air where no probe reads it [°C] (common practice, no source)."""
_UNSEEN_BATH_C, _UNSEEN_BATH_SD = -15.0, 3.0
"""The bath where no probe reads it [°C], and how surely [K] (common practice, no source)."""
_CONTACT_OUT = 0.1
"""Conductance of a wall in still air as a share of that in brine (own estimate)."""
_READ_SD_K = 0.35
"""Scatter of a block of the mix probe in a bowl of lumps [K] (own estimate)."""
_NU = 4.0
_BLOCK_COUNTS = 0.5
_KEPT = 0.97
"""What an earlier block still counts, block by block: the bowl is not quite any of the mixes, so
that what was read minutes ago says little of how it freezes now (own choice, on simulated rigs)."""
_START_SD_PCT = 4.0
"""What the frozen share off the wall may be off beyond what the cloud says, since wall and core are
one in it [%] (own choice, on simulated rigs)."""
_SETTLES_S = 30.0
"""Round 2 says nothing before its lining has begun to be stirred in [s]."""


class LaterRounds:
    """An ensemble of mixes from the end of the first round on.

    Args:
        curve: how the mix freezes.
        view: the first round as it ended.
        prior: what is believed of the rig.
        seed: seed of all chance in it.
    """

    def __init__(self, curve: FreezingCurve, view: RoundView, prior: RigPrior, seed: int) -> None:
        members = view.members
        n = members.mass_g.size
        theta = members.theta
        self.t = view.t
        self._offset_k, self._offset_sd = view.offset_k
        self._bath_k = theta[:, BATH]
        normal = np.random.default_rng(seed).standard_normal((n, 3))
        self._off_k = self._offset_k + self._offset_sd * normal[:, 0]
        self._freezer_k = normal[:, 1]
        self._out = np.zeros(n, dtype=np.bool_)
        self._wall_w = np.zeros(n)
        rigs = replace(
            draw_rigs(n, seed, prior),
            ua_w_k=np.exp(theta[:, UA] + members.walk),
            stiffening=np.exp(theta[:, STIFFENING]),
            beater_w=np.exp(theta[:, BEATER]),
            beater_rise=np.exp(theta[:, RISE]),
            supercooling_k=theta[:, SUPERCOOLING],
        )
        lined = mixside.lined(
            mixside.poured(mixside.no_mix(curve, rigs), members.mass_g, 0.0),
            members.enthalpy_j_g - _START_SD_PCT * curve.latent_j_per_pct * normal[:, 2],
            np.maximum(members.wall_w(view.bath_c), 0.0),
            view.bath_c + self._bath_k,
        )
        self.mix: MixState = replace(lined, nucleated=members.nucleated)
        self._log_weight = np.zeros(n)
        self._beaten_s: float | None = None

    def scraped(self) -> None:
        """Take in that the wall was scraped."""
        if self.mix.still is None:
            self.mix = mixside.scraped(self.mix)

    def follow(self, t: float, batch: Batch, levels: Levels) -> None:
        """Carry the mixes on to `t` [s] as the maker has them, beside what the probes say."""
        if batch.beating and self.mix.still is not None:
            self.mix, self._beaten_s = mixside.taken_up(self.mix), self.t
            self._out[:] = not batch.in_bath
            if batch.perhaps_out:
                self._out[::2] = True
        elif not batch.beating and self.mix.still is None:
            self.mix, self._beaten_s = mixside.rested(self.mix, _SHELLS), None
        bath_s, bath_c, _ = levels.blocks[Place.BATH].since(self.t - 60.0)
        air_s, air_c, _ = levels.blocks[Place.FREEZER].since(self.t - 600.0)
        step_s = _BEAT_STEP_S if batch.beating else _REST_STEP_S
        to_s = t - _LATEST_BLOCK_S
        while self.t + step_s <= to_s:
            middle = self.t + 0.5 * step_s
            self.mix, self._wall_w = self._stepped(
                self.mix,
                step_s,
                batch,
                float(np.interp(middle, bath_s, bath_c)) if bath_s.size else None,
                float(np.interp(middle, air_s, air_c)) if air_s.size else None,
            )
            before, self.t = self.t, self.t + step_s
            if batch.beating:
                self._see(before, levels)

    def _stepped(
        self, mix: MixState, dt: float, batch: Batch, bath_c: float | None, freezer_c: float | None
    ) -> tuple[MixState, Array]:
        """The mixes `dt` [s] later, and the heat that each gives to the bath [W]."""
        unread_c = _UNSEEN_BATH_C + _UNSEEN_BATH_SD * self._freezer_k
        outside_c = self._bath_k + (unread_c if bath_c is None else bath_c)
        if mix.still is None:
            outside_c = np.where(self._out, ROOM_C, outside_c)
            contact = np.where(self._out, _CONTACT_OUT, 1.0)
            mix, wall_w, _ = mixside.beaten(mix, dt, outside_c, contact, ROOM_C)
            return mix, np.where(self._out, 0.0, wall_w)
        air_c = np.full(mix.rigs.n, ROOM_C)
        if batch.in_freezer or not batch.in_bath:
            unread = _FREEZER_C + _FREEZER_SD * self._freezer_k
            air_c = unread if freezer_c is None else np.full(mix.rigs.n, freezer_c)
        if batch.in_bath:
            film_w_k = mixside.film_in_bath_w_k(mix.rigs, 1.0)
        else:
            outside_c, film_w_k = air_c, mixside.film_in_air_w_k(mix.rigs)
        mix, wall_w, _ = mixside.at_rest(mix, mix.still, dt, outside_c, film_w_k, air_c)
        return mix, wall_w if batch.in_bath else np.zeros(mix.rigs.n)

    def _see(self, before: float, levels: Levels) -> None:
        """Weigh the mixes by the blocks of the mix probe that became whole in this step."""
        middles, means, weights = levels.blocks[Place.MIX].since(before - BLOCK_S)
        new = (middles > before) & (middles <= self.t)
        if not self._stirs() or not new.any():
            return
        read_c = float(np.average(means[new], weights=weights[new]))
        surprise = read_c - self.mix.seen()[0] - self._off_k
        likely = -0.5 * (_NU + 1.0) * np.log1p((surprise / _READ_SD_K) ** 2 / _NU)
        self._log_weight = _KEPT * self._log_weight + _BLOCK_COUNTS * likely

    def weights(self) -> Array:
        """(n,) weights, adding up to 1."""
        weights = np.exp(self._log_weight - self._log_weight.max())
        return np.asarray(weights / weights.sum())

    def frozen_pct(self) -> tuple[float, float]:
        """Frozen share [%], off the wall while beaten, and its standard deviation."""
        return self._moments(self.mix.seen()[1])

    def wall_w(self) -> Watts:
        """Heat that the mix gives to the bath."""
        return Watts(*self._moments(self._wall_w))

    def wall_g(self) -> tuple[float | None, float | None]:
        """Mix frozen to the wall [g], and its standard deviation; None while it rests."""
        return (None, None) if self.mix.still is not None else self._moments(self.mix.layer_g)

    def _moments(self, values: Array) -> tuple[float, float]:
        weights = self.weights()
        mean = float(weights @ values)
        return mean, math.sqrt(float(weights @ (values - mean) ** 2))

    def mixed_c(self) -> Array:
        """(n,) temperature of all of it once stirred together [°C]."""
        return self.mix.curve.temperature_c(self.mix.mixed_pct())

    def p_rested(self) -> float:
        """Probability that the rest has done its work; 0 while it is beaten."""
        if self.mix.still is None:
            return 0.0
        return float(self.weights() @ (self.mix.mixed_pct() >= REST_OVER_PCT))

    def rest_over_s(self, batch: Batch, bath_c: float | None, freezer_c: float | None) -> Array:
        """(n,) run times at which the rest has done its work [s]; infinite beyond two hours."""
        return _reached(*self._rest_ahead(batch, bath_c, freezer_c), REST_OVER_PCT)

    def _rest_ahead(
        self, batch: Batch, bath_c: float | None, freezer_c: float | None
    ) -> tuple[Array, Array]:
        mix, shares = self.mix, [self.mix.mixed_pct()]
        for _ in range(_REST_STEPS):
            mix, _ = self._stepped(mix, _AHEAD_REST_S, batch, bath_c, freezer_c)
            shares.append(mix.mixed_pct())
            if np.min(shares[-1]) >= REST_OVER_PCT:
                break
        return self.t + _AHEAD_REST_S * np.arange(float(len(shares))), np.array(shares)

    def melt_onset_s(self, batch: Batch, bath_c: float | None) -> Array | None:
        """(n,) run times from which on what is beaten only loses ice [s]; infinite past the look.

        That is the maximum of the share off the wall: the lining from the rest is stirred in and
        raises it until the beaters melt more than there is left to come. The share of wall and core
        taken together falls from the first second on in most rigs, and says nothing to a maker.
        None outside a later round, and until its lining is being stirred in.
        """
        if not self._stirs():
            return None
        mix, shares = self.mix, [self.mix.seen()[1]]
        for step_s in _AHEAD_BEAT_S:
            mix, _ = self._stepped(mix, step_s, batch, bath_c, None)
            shares.append(mix.seen()[1])
        edges = self.t + np.r_[0.0, np.cumsum(_AHEAD_BEAT_S)]
        at = np.argmax(np.array(shares), axis=0)
        return np.where(at == len(_AHEAD_BEAT_S), np.inf, edges[at])

    def p_melting(self, batch: Batch, bath_c: float | None) -> float:
        """Probability that what is beaten now only loses ice; 0 outside a later round."""
        if not self._stirs():
            return 0.0
        mix = self.mix
        for _ in range(_LOOK_STEPS):
            mix, _ = self._stepped(mix, _LOOK_S / _LOOK_STEPS, batch, bath_c, None)
        return float(self.weights() @ (mix.seen()[1] <= self.mix.seen()[1]))

    def _stirs(self) -> bool:
        return self._beaten_s is not None and self.t - self._beaten_s >= _SETTLES_S


def _reached(times: Array, shares: Array, level: float) -> Array:
    """(n,) first time at which each share (m, n) reaches a level, on straight lines."""
    reached = shares >= level
    first = np.argmax(reached, axis=0)
    columns = np.arange(shares.shape[1])
    before = np.maximum(first - 1, 0)
    low, high = shares[before, columns], shares[first, columns]
    part = np.where(first > 0, (level - low) / np.where(high > low, high - low, 1.0), 0.0)
    crossed = times[before] + part * (times[first] - times[before])
    return np.where(reached.any(axis=0), crossed, np.inf)
