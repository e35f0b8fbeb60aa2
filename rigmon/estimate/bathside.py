"""The bath followed through a run: what goes in, what heat reaches it, what will become of it."""

from __future__ import annotations

import math

from rigmon.estimate.amounts import amounts_of
from rigmon.estimate.batch import Batch
from rigmon.estimate.bath import Bath, BathEstimate, Watts
from rigmon.estimate.bathahead import crossing_s, gone_s
from rigmon.estimate.blocks import BLOCK_S
from rigmon.estimate.cloud import UA, Array
from rigmon.estimate.levels import Levels
from rigmon.estimate.times import HORIZON_S, quantiles
from rigmon.records import Event, Forecast, Mark, MarkWord, Place, RigPrior, RigSetup

WITHHOLD_S = 120.0
"""No forecast before a probe has been seen for this long (common practice, no source) [s]."""
_TREND_S, _TREND_GAPS = 300.0, 5.0
"""The trend is that of the last five minutes [s], of what went by since ice, salt or mix went in if
that is less, and where readings are sparse of this many of their usual distances."""
_ROOM_C, _ROOM_SD, _ROOM_SAID_SD, _ROOM_READ_SD = 21.0, 3.0, 1.0, 0.5
"""The room where nobody said [°C], and how surely it is known [K]: guessed, said, read."""
_FREEZER_C, _FREEZER_SD = -18.0, 4.0
"""The freezer's air where no probe reads it [°C], and how surely [K] (common practice, no
source)."""
_KEPT_BEATEN, _KEPT_STANDING, _KEPT_SD = 0.8, 0.3, 0.5
"""Share of the wall's usual conductance while no curve is fitted, beaten and standing, and how
surely as a share of it (own estimates)."""
_UNSEEN_W = {True: Watts(100.0, 60.0), False: Watts(40.0, 40.0)}
"""Heat from a mix, beaten or not, whose temperature is not known (own estimates)."""


class BathSide:
    """The bath of one run.

    Args:
        rig: the rig.
        prior: what is believed of it.
        levels: what the probes say.
        batch: where the mix is.
    """

    def __init__(self, rig: RigSetup, prior: RigPrior, levels: Levels, batch: Batch) -> None:
        self._rig = rig
        self._ua_w_k = math.exp(prior.mean[UA])
        self._ua_share_sd = math.sqrt(prior.covariance[UA][UA])
        self._levels = levels
        self._batch = batch
        self._room_sd = _ROOM_SD if rig.room_c is None else _ROOM_SAID_SD
        self._bath = Bath(rig.bath.ice_kind, _ROOM_C if rig.room_c is None else rig.room_c)
        self._since: float | None = None
        self._changed_s = -math.inf
        self._carried_to = 0.0

    @property
    def salt_g(self) -> float | None:
        """All salt put in, less what was poured off [g]; None where it is not known."""
        return self._bath.salt_g if self._bath.charged and self._bath.salt_known else None

    @property
    def ice_put_g(self) -> float | None:
        """All ice put in, less the water that clung to it [g]; None where it is not known."""
        return self._bath.ice_g if self._bath.charged and self._bath.ice_known else None

    def hear(self, mark: Mark) -> None:
        """Take in a mark; a bath that nobody spoke of by the pour is the usual one."""
        charged = mark.word in (MarkWord.ICE_IN, MarkWord.RECHARGE)
        poured = mark.word in (MarkWord.POUR, MarkWord.BEAT_START)
        if charged or poured:
            self._changed_s = mark.t
        if poured and not self._bath.charged:
            mark, charged = Mark(mark.t, MarkWord.ICE_IN), True
        if charged:
            self._bath.charge(amounts_of(mark, self._rig), self._levels.newest(Place.BATH))

    def read_room(self, room_c: float) -> None:
        """Take in what a probe says of the room [°C]."""
        self._bath.room_c, self._room_sd = room_c, _ROOM_READ_SD

    def carry_on(self, t: float, bath_c: float, wall_w: Watts | None) -> None:
        """Take the heat balance on to `t` [s], a block or more at a time.

        Args:
            t: run time [s].
            bath_c: the bath [°C].
            wall_w: heat out of the mix as the round's curve says; None without one.
        """
        if self._since is None:
            self._since = self._carried_to = t
        if t - self._carried_to >= BLOCK_S:
            mix_w = self._mix_w(t, bath_c, wall_w)
            self._bath.carry_on(t - self._carried_to, bath_c, *self._air(), mix_w)
            self._carried_to = t

    def at(self, bath_c: float) -> BathEstimate:
        """The bath at `bath_c` [°C]."""
        return self._bath.at(bath_c, self._levels.sd_k[Place.BATH])

    def _air(self) -> tuple[float, float]:
        """Air around the outer bowl [°C], and how surely [K]."""
        if not self._batch.in_freezer:
            return self._bath.room_c, self._room_sd
        freezer_c = self._levels.newest(Place.FREEZER)
        return (_FREEZER_C, _FREEZER_SD) if freezer_c is None else (freezer_c, _ROOM_READ_SD)

    def _mix_w(self, t: float, bath_c: float, wall_w: Watts | None) -> Watts:
        """Heat that the mix gives to the bath, however little is known of it."""
        if not self._batch.in_bath:
            return Watts()
        if wall_w is not None:
            return wall_w
        beating = self._batch.beating
        mix_c = self._levels.level(Place.MIX, t)
        if mix_c is None:
            return _UNSEEN_W[beating]
        kept = _KEPT_BEATEN if beating else _KEPT_STANDING
        mean = kept * self._ua_w_k * (mix_c - bath_c)
        return Watts(mean, abs(mean) * math.hypot(self._ua_share_sd, _KEPT_SD))

    def ahead(
        self, t: float, limit_c: float | None, wall_w: Watts | None, normal: Array
    ) -> list[Forecast]:
        """When the bath warms through its limit and when its ice is gone, as long as neither is.

        Args:
            t: run time [s].
            limit_c: the limit [°C], if known.
            wall_w: heat out of the mix as the round's curve says; None without one.
            normal: (K, 3) standard normal numbers.
        """
        bath_c = self._levels.level(Place.BATH, t)
        if bath_c is None or self._since is None or self._batch.packed:
            return []
        cold = limit_c is not None and bath_c < limit_c
        blocks = self._levels.blocks[Place.BATH]
        since_s = min(max(t - self._changed_s, WITHHOLD_S), _TREND_S)
        trend = blocks.trend(t, max(since_s, _TREND_GAPS * blocks.usual_gap_s()))
        if trend is None or t - self._since < WITHHOLD_S:
            return [Forecast(t, Event.BATH_LIMIT, self._batch.round)] if cold else []
        now = self.at(bath_c)
        load_w = self._bath.load_w(bath_c, self._air()[0], self._mix_w(t, bath_c, wall_w))
        times = {}
        if limit_c is not None and cold:
            times[Event.BATH_LIMIT] = crossing_s(
                self._bath, now, bath_c, trend[1], limit_c, load_w, normal
            )
        if now.ice_left_g is not None and now.ice_left_g > self._bath.spent_g:
            times[Event.ICE_GONE] = gone_s(self._bath, now, bath_c, load_w, normal)
        return [
            Forecast(t, event, self._batch.round, *quantiles(t + s, t + HORIZON_S))
            for event, s in times.items()
        ]
