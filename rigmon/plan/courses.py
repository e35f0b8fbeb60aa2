"""Courses of several starts in one pass: a step for many rigs costs little more than for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from rigmon.physics import bath
from rigmon.physics.course import Course, Start, course
from rigmon.physics.mix import FreezingCurve
from rigmon.physics.numbers import Array
from rigmon.physics.rig import WRAPPED
from rigmon.physics.rigparameters import Rigs

HORIZON_S = 7200.0
"""Nothing is said of what happens later after the pour [s]."""
STEP_S = 2.5
"""Time step of the model [s]."""

_EACH = ("mix_g", "ice_g", "salt_g", "mix_c", "water_g", "room_c", "bowls_c", "sun_w")


def courses(curve: FreezingCurve, asked: Sequence[tuple[Start, Rigs]]) -> list[Course]:
    """How rounds go that share mix, salt and waiting time but differ in what else they start from.

    A start's figures become one value a rig. Grain, form of the ice and a towel are factors on
    parameters of the rigs, as in the model itself.

    Args:
        curve: how the mix freezes.
        asked: each start with the rigs that it is run on.
    """
    first = asked[0][0]
    sizes = [rigs.n for _, rigs in asked]
    each: dict[str, Any] = {
        name: np.concatenate(
            [np.full(n, _figure(start, name)) for (start, _), n in zip(asked, sizes, strict=True)]
        )
        for name in _EACH
    }
    together = replace(first, wrapped=False, **each)
    rigs = _joined([_as_in(first, start, rigs) for start, rigs in asked])
    ran = course(curve, together, rigs, beat_s=HORIZON_S, step_s=STEP_S)
    ends = np.cumsum(sizes)
    return [_part(ran, end - n, end) for end, n in zip(ends, sizes, strict=True)]


def _figure(start: Start, name: str) -> float:
    # Bowls of which nothing is said are as warm as the room.
    value = getattr(start, name)
    return float(start.room_c if value is None else value)


def _as_in(first: Start, start: Start, rigs: Rigs) -> Rigs:
    melts = bath.melting_w_k_kg(start.ice_kind)[1] / bath.melting_w_k_kg(first.ice_kind)[1]
    lasts = bath.dissolving_s(start.salt_kind)[1] / bath.dissolving_s(first.salt_kind)[1]
    return replace(
        rigs,
        ice_surface=rigs.ice_surface * melts,
        grain_time=rigs.grain_time * lasts,
        leak_w_k=rigs.leak_w_k * (WRAPPED if start.wrapped else 1.0),
    )


def _joined(parts: Sequence[Rigs]) -> Rigs:
    names = [field.name for field in fields(Rigs)]
    return Rigs(**{name: np.concatenate([getattr(rigs, name) for rigs in parts]) for name in names})


def _part(ran: Course, begin: int, end: int) -> Course:
    arrays = {field.name: getattr(ran, field.name) for field in fields(Course)}
    return Course(**{k: v if v.ndim == 1 else v[:, begin:end] for k, v in arrays.items()})


def at(ran: Course, what: Array, t_s: Array) -> Array:
    """A quantity of each rig at its own time `t_s` [s] from the pour."""
    row = np.clip(np.searchsorted(ran.t_s, t_s), 0, len(ran.t_s) - 1)
    return np.asarray(what[row, np.arange(what.shape[1])])


def reached_s(ran: Course, frozen_pct: float) -> float:
    """Time from the pour until the first rig has so much of its water frozen [s]; inf if never.

    Between the times of the course on a straight line, so that small differences can be told.
    """
    after = ran.t_s >= 0.0
    t, frozen = ran.t_s[after], ran.frozen_pct[after, 0]
    row = int(np.argmax(frozen >= frozen_pct))
    if frozen[row] < frozen_pct:
        return float("inf")
    if row == 0:
        return 0.0
    share = (frozen_pct - frozen[row - 1]) / (frozen[row] - frozen[row - 1])
    return float(t[row - 1] + share * (t[row] - t[row - 1]))
