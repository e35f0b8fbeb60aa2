"""What becomes of the mix once the first round is over: rest, later rounds, and the freezer."""

from __future__ import annotations

import numpy as np

from rigmon.estimate.batch import Batch
from rigmon.estimate.hardening import HARDENED_C, Hardening
from rigmon.estimate.hardening import HORIZON_S as HARDENING_S
from rigmon.estimate.laterrounds import LaterRounds
from rigmon.estimate.levels import Levels
from rigmon.estimate.round import RoundView
from rigmon.estimate.times import HORIZON_S, quantiles
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.records import Event, Forecast, Mark, MarkWord, Place, RigPrior

_USUAL_PACKED_PCT = 45.0
"""Frozen share of a mix as packed, where nothing says it [%] (common practice, no source)."""


class Afterwards:
    """The mix of one run from the end of its first round on.

    Args:
        curve: how it freezes.
        prior: what is believed of the rig.
        seed: seed of all chance in it.
        levels: what the probes say.
        batch: where the mix is.
    """

    def __init__(
        self, curve: FreezingCurve, prior: RigPrior, seed: int, levels: Levels, batch: Batch
    ) -> None:
        self._curve = curve
        self._prior = prior
        self._seed = seed
        self._levels = levels
        self._batch = batch
        self._later: LaterRounds | None = None
        self._packed: Mark | None = None
        self._tubs: Hardening | None = None

    def hear(self, mark: Mark, mass_g: float | None) -> None:
        """Take in a mark, the mix's mass being what it is known to be [g]."""
        if mark.word is MarkWord.SCRAPE and self._later is not None:
            self._later.scraped()
        elif mark.word is MarkWord.PACK:
            self._packed = mark
        elif mark.word is MarkWord.HARDEN_START:
            start_c = self._packed_c(mark.t)
            self._tubs = Hardening(self._curve, mark.t, start_c, self._packed, mass_g, self._seed)

    def _packed_c(self, t: float) -> float:
        """Temperature of the mix as it goes into the freezer [°C]."""
        core_c = self._levels.level(Place.CORE, t)
        if core_c is not None:
            return core_c
        if self._later is not None:
            return float(self._later.weights() @ self._later.mixed_c())
        return self._curve.temperature_c(_USUAL_PACKED_PCT)

    def mix(self, t: float, view: RoundView | None) -> LaterRounds | None:
        """The mix at rest or in a later round at `t` [s]; None in the first one and once packed.

        Args:
            t: run time [s].
            view: the first round as it was last seen.
        """
        batch = self._batch
        if view is None or batch.packed or (batch.beating and batch.round == 1):
            return None
        if self._later is None:
            if not batch.beating and not batch.resting(t):
                return None
            self._later = LaterRounds(self._curve, view, self._prior, self._seed)
        self._later.follow(t, batch, self._levels)
        return self._later

    def wall_g(self, t: float, view: RoundView | None) -> tuple[float | None, float | None]:
        """Mix frozen to the wall while it is beaten [g], and its standard deviation.

        None until the mix itself freezes, while it rests, when wall and middle freeze into one
        another, and once packed.
        """
        mix = self.mix(t, view)
        if mix is not None:
            return mix.wall_g()
        if view is None or self._batch.packed or np.mean(view.members.nucleated) < 0.5:
            return None, None
        return view.wall_g()

    def forecasts(self, t: float, view: RoundView | None) -> list[Forecast]:
        """When rest or hardening have done their work, or when a later round begins to melt."""
        if self._tubs is not None:
            return self._of_tubs(t, self._tubs)
        mix = self.mix(t, view)
        if mix is None:
            return []
        bath_c = self._levels.level(Place.BATH, t)
        if self._batch.beating:
            event, times = Event.MELT_ONSET, mix.melt_onset_s(self._batch, bath_c)
        else:
            freezer_c = self._levels.newest(Place.FREEZER)
            event, times = Event.REST_OVER, mix.rest_over_s(self._batch, bath_c, freezer_c)
        return self._ahead(t, event, times, mix.weights(), t + HORIZON_S)

    def _of_tubs(self, t: float, packed: Hardening) -> list[Forecast]:
        core_c = self._levels.level(Place.CORE, t)
        if core_c is not None and core_c <= HARDENED_C:
            return []
        packed.follow(t, self._levels)
        times = packed.hardened_s(self._levels)
        return self._ahead(t, Event.HARDENED, times, packed.weights(), t + HARDENING_S)

    def _ahead(
        self, t: float, event: Event, times: Array | None, weights: Array, latest_s: float
    ) -> list[Forecast]:
        """The forecast of an event; none once it has surely come."""
        if times is None:
            return [Forecast(t, event, self._batch.round)]
        p10, p50, p90 = quantiles(np.maximum(times, t), latest_s, weights)
        if p90 is not None and p90 <= t:
            return []
        return [Forecast(t, event, self._batch.round, p10, p50, p90)]

    def p_melting(self, t: float, view: RoundView | None) -> float | None:
        """Probability by heat alone that what is beaten now only loses ice; None without a mix."""
        mix = self.mix(t, view)
        if mix is None:
            return None
        return mix.p_melting(self._batch, self._levels.level(Place.BATH, t))
