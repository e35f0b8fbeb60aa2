"""What the ice and the salt do together: a first round from ice-in to its end, for many rigs.

This answers "what if": the same rigs with other ice, salt, mix or room, and how long it takes then,
how much ice that costs, and where it ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rigmon.physics import rig
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.mixside import ROOM_C
from rigmon.physics.numbers import Array
from rigmon.physics.rigparameters import Rigs
from rigmon.physics.salts import salt
from rigmon.records import IceKind, PlateauSetting, SaltKind, SaltName

_KEPT_S = 5.0
_FINE_S, _COARSER = 2400.0, 4.0
_READY_K_MIN = 1.0
_ONSET_PCT = 0.1
USUAL_ICE_C, USUAL_WET_PCT = -2.0, 3.0
"""Ice as it is taken where nobody says: its temperature [°C], and the water that clings to it [% of
its mass] (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Start:
    """What a batch starts from.

    The model also takes (n,) arrays for the figures, one a rig, so that several starts can be run
    at once; `rigmon.physics.several` does.

    Args:
        mix_g: mix [g].
        ice_g: ice, with the water that clings to it [g].
        salt_g: salt as weighed [g].
        mix_c: temperature of the mix [°C].
        water_g: water poured over the ice [g].
        ice_kind: form of the ice.
        salt_kind: grain of the salt.
        salt: what the salt is.
        ice_c: temperature of the ice [°C].
        wet_pct: water that clings to the ice [% of its mass].
        room_c: temperature of the room [°C].
        bowls_c: temperature of both bowls' metal beforehand [°C]; None for the room's.
        wait_s: time from ice and salt to the pour [s].
        wrapped: a towel or foam is round the outer bowl.
        sun_w: heat from direct sun [W].
    """

    mix_g: float
    ice_g: float
    salt_g: float
    mix_c: float = 4.0
    water_g: float = 0.0
    ice_kind: IceKind = IceKind.CRUSHED
    salt_kind: SaltKind = SaltKind.FINE
    salt: SaltName = SaltName.SODIUM_CHLORIDE
    ice_c: float = USUAL_ICE_C
    wet_pct: float = USUAL_WET_PCT
    room_c: float = ROOM_C
    bowls_c: float | None = None
    wait_s: float = 300.0
    wrapped: bool = False
    sun_w: float = 0.0


@dataclass(frozen=True, slots=True)
class Refill:
    """Ice and salt that go in while it is beaten.

    Args:
        at_s: time from the pour [s].
        ice_g: ice, with the water that clings to it [g].
        salt_g: salt as weighed [g].
        water_g: water [g].
        drained_g: brine poured off before [g].
        ice_kind: form of the ice.
        salt_kind: grain of the salt.
        ice_c: temperature of the ice [°C].
        wet_pct: water that clings to the ice [% of its mass].
    """

    at_s: float
    ice_g: float
    salt_g: float
    water_g: float = 0.0
    drained_g: float = 0.0
    ice_kind: IceKind = IceKind.CRUSHED
    salt_kind: SaltKind = SaltKind.FINE
    ice_c: float = USUAL_ICE_C
    wet_pct: float = USUAL_WET_PCT


@dataclass(frozen=True, slots=True)
class Beating:
    """How a round is beaten.

    Args:
        speed: of the beaters, 1 the usual.
        scrape_every_s: the wall is scraped so often from the pour on [s]; None if it is not.
    """

    speed: float = 1.0
    scrape_every_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """How a first round goes for n rigs, at m times.

    Args:
        t_s: (m,) time from the pour, negative before it [s].
        bath_c: (m, n) bath [°C].
        mix_c: (m, n) mix [°C]; not a number before the pour.
        frozen_pct: (m, n) frozen share of the water off the wall [%].
        ice_left_g: (m, n) ice left in the bath [g].
        brine_pct: (m, n) strength of the brine [% by mass].
        cooling_w: (m, n) heat through the wall out of the mix [W].
    """

    t_s: Array
    bath_c: Array
    mix_c: Array
    frozen_pct: Array
    ice_left_g: Array
    brine_pct: Array
    cooling_w: Array


def before_the_pour(curve: FreezingCurve, start: Start, rigs: Rigs, zones: int = 1) -> rig.RigState:
    """The rigs with ice and salt just put in.

    Args:
        curve: how the mix will freeze.
        start: what the batch starts from.
        rigs: the rigs.
        zones: 1, or 2 to tell the pool under the ice apart.
    """
    metal_c = start.room_c if start.bowls_c is None else start.bowls_c
    return _put_in(rig.made_up(curve, rigs, salt(start.salt), metal_c, zones), start, start.room_c)


def refilled(state: rig.RigState, refill: Refill, room_c: float) -> rig.RigState:
    """The rigs with brine poured off, and ice and salt added that stood in a room of `room_c`."""
    drained = rig.charged(state, *state.zones.drained(refill.drained_g))
    return _put_in(drained, refill, room_c)


def _put_in(state: rig.RigState, of: Start | Refill, salt_c: float) -> rig.RigState:
    return rig.charged(
        state,
        *state.zones.add(
            of.ice_g,
            of.ice_c,
            of.ice_kind,
            of.wet_pct,
            of.salt_g,
            of.salt_kind,
            salt_c,
            of.water_g,
        ),
    )


def course(
    curve: FreezingCurve,
    start: Start,
    rigs: Rigs,
    *,
    beat_s: float = 3600.0,
    step_s: float = 1.0,
    zones: int = 1,
    beating: Beating | None = None,
    refills: Sequence[Refill] = (),
) -> Course:
    """A first round as it may go: ice and salt in, the pour, beating without an end.

    Args:
        curve: how the mix freezes.
        start: what the batch starts from.
        rigs: the rigs.
        beat_s: how long it is beaten from the pour on [s].
        step_s: time step of the model, up to 2.5 [s]; four times that after 40 min.
        zones: 1, or 2 to tell the pool under the ice apart.
        beating: how it is beaten; None for the usual way.
        refills: what goes in after the first ice; what went in before the pour, at the pour.
    """
    how = beating or Beating()
    scrape_s = how.scrape_every_s or np.inf
    scraped_s = 0.0
    leak_share = rig.WRAPPED if start.wrapped else 1.0
    idle = rig.Drive(0.0, start.room_c, start.room_c, leak_share, start.sun_w)
    beaten = replace(idle, speed=how.speed)
    state = before_the_pour(curve, start, rigs, zones)
    t = -step_s * round(start.wait_s / step_s)
    kept = [(t, state)]
    to_come = sorted(refills, key=lambda refill: refill.at_s, reverse=True)
    while t < beat_s - 1e-6:
        dt = step_s if t < _FINE_S else _COARSER * step_s
        state = rig.advanced(state, dt, idle if t < 0.0 else beaten)
        t += dt
        if t >= scraped_s + scrape_s:
            scraped_s, state = t, rig.scraped(state)
        while to_come and t >= max(to_come[-1].at_s, 0.0):
            state = refilled(state, to_come.pop(), start.room_c)
        if abs(t) < 1e-6:
            t, state = 0.0, rig.poured(state, start.mix_g, start.mix_c)
        if t == 0.0 or t - kept[-1][0] > _KEPT_S - 1e-6:
            kept.append((t, state))
    mixes = [s.mix.seen() for _, s in kept]
    t_s = np.array([t for t, _ in kept])
    before = (t_s < 0.0)[:, None]
    return Course(
        t_s=t_s,
        bath_c=np.array([s.bath_c() for _, s in kept]),
        mix_c=np.where(before, np.nan, [mix_c for mix_c, _ in mixes]),
        frozen_pct=np.array([frozen_pct for _, frozen_pct in mixes]),
        ice_left_g=np.array([s.zones.ice_g.sum(axis=0) for _, s in kept]),
        brine_pct=np.array([s.zones.mean_pct() for _, s in kept]),
        cooling_w=np.array([s.wall_w for _, s in kept]),
    )


def plateau_s(of: Course, setting: PlateauSetting) -> Array:
    """(n,) time from the pour to the plateau [s]; infinite where it lies beyond the course.

    The plateau is there once the mix has begun to freeze and no later stretch of
    `setting.within_s` freezes `setting.gain_pct` of its water any more.
    """
    after = of.t_s >= 0.0
    t, frozen = of.t_s[after], of.frozen_pct[after]
    ahead = np.searchsorted(t, t + setting.within_s)
    whole = ahead < t.size
    gains = frozen[np.minimum(ahead, t.size - 1)] - frozen
    # Rows whose stretch runs beyond the end say nothing; the last whole one decides.
    still_gains = (gains >= setting.gain_pct) & whole[:, None]
    last = np.where(still_gains.any(axis=0), t.size - 1 - np.argmax(still_gains[::-1], axis=0), -1)
    begun = frozen > _ONSET_PCT
    onset = np.where(begun.any(axis=0), np.argmax(begun, axis=0), t.size)
    first = np.maximum(last + 1, onset)
    known = first < np.sum(whole)
    return np.where(known, t[np.minimum(first, t.size - 1)], np.inf)


def bath_limit_s(of: Course, limit_c: float) -> Array:
    """(n,) time from the pour until the bath rises above its limit [s].

    Infinite where it stays under it, 0 where it never was under it.
    """
    after = of.t_s >= 0.0
    t, over = of.t_s[after], of.bath_c[after] > limit_c
    has_been_under = np.logical_or.accumulate(of.bath_c <= limit_c, axis=0)[after]
    rises = over & has_been_under
    first = np.where(rises.any(axis=0), t[np.argmax(rises, axis=0)], np.inf)
    return np.where(has_been_under.any(axis=0), first, 0.0)


def reached_s(of: Course, frozen_pct: float) -> Array:
    """(n,) time from the pour until so much of the water is frozen [s]; infinite if never."""
    reached = (of.frozen_pct >= frozen_pct) & (of.t_s >= 0.0)[:, None]
    return np.where(reached.any(axis=0), of.t_s[np.argmax(reached, axis=0)], np.inf)


def ready_s(of: Course) -> Array:
    """(n,) time from ice-in until the bath is ready [s]; infinite if it never is.

    Ready is a bath that falls by less than 1 K a minute (common practice, no source: stand three to
    five minutes), once it has begun to fall.
    """
    t, bath_c = of.t_s, of.bath_c
    ahead = np.searchsorted(t, t + 60.0)
    falls = bath_c - bath_c[np.minimum(ahead, t.size - 1)]
    begun = np.logical_or.accumulate(bath_c < -1.0, axis=0)
    settled = begun & (falls < _READY_K_MIN) & (ahead < t.size)[:, None]
    return np.where(settled.any(axis=0), t[np.argmax(settled, axis=0)] - t[0], np.inf)
